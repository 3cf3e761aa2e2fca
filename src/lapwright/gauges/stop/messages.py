"""The two messages on the wire, and what the far side makes of them. Pure.

``RUN <sequence> <limit_ms>`` is one permission: it holds until the next one or until `limit_ms` have passed. The
sequence climbs; an old or repeated message is no permission. ``STOP 0 <reason>`` ends all of them. Both end in LF.
An OPC UA variable carries the sequence alone, with 0 for stop.
"""

from __future__ import annotations

from dataclasses import dataclass

STOP_SEQUENCE = 0
_SHOWN = 120  # characters of a reason on the wire


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """One message: permission number (0: stop), how long it holds [s], reason of a stop."""

    sequence: int
    limit: float = 0.0
    reason: str = ""


def run_message(sequence: int, limit: float) -> bytes:
    r"""One permission, holding for `limit` s.

    >>> run_message(7, 2.0)
    b'RUN 7 2000\n'
    """
    return f"RUN {sequence} {round(limit * 1000.0)}\n".encode("ascii")


def stop_message(reason: str) -> bytes:
    r"""The end of all permissions.

    >>> stop_message("the target is reached")
    b'STOP 0 the target is reached\n'
    """
    words = " ".join(reason.split())[:_SHOWN]
    return f"STOP {STOP_SEQUENCE} {words}\n".encode("ascii", errors="replace")


def read_message(data: bytes) -> Message | None:
    """The message in one line; None for anything else.

    >>> read_message(b"RUN 7 2000").limit
    2.0
    """
    word, _, rest = data.decode("ascii", errors="replace").strip().partition(" ")
    number, _, tail = rest.partition(" ")
    if word == "STOP":
        return Message(sequence=STOP_SEQUENCE, reason=tail)
    if word == "RUN" and number.isdecimal() and tail.isdecimal() and int(number) > 0:
        return Message(sequence=int(number), limit=int(tail) / 1000.0)
    return None


class FarSide:
    """What a machine owes: it may run only while permissions keep coming, and once stopped stays so until reset.

    A model for the program at the machine, and the peer in tests. `limit` is its own longest silence [s]; a shorter
    one in a message counts.
    """

    def __init__(self, limit: float = 2.0) -> None:
        self._limit, self._until = limit, float("-inf")
        self._latest = 0
        self.stopped: str | None = None

    def hear(self, sequence: int, at: float, *, limit: float | None = None, reason: str = "") -> None:
        """Take a message that arrived at a time [s]."""
        self.may_run(at)
        if sequence == STOP_SEQUENCE:
            self.stopped = self.stopped or reason or "stop asked for"
        elif sequence > self._latest:
            self._latest = sequence
            self._until = at + min(self._limit, self._limit if limit is None else limit)

    def may_run(self, now: float) -> bool:
        """Whether the machine may run at a time [s]; silence latches the stop."""
        if self._latest and now > self._until and self.stopped is None:
            self.stopped = "no permission in time"
        return self._latest > 0 and self.stopped is None

    def reset(self) -> None:
        """A person at the machine allows a new start; old permissions do not count."""
        self.stopped, self._latest, self._until = None, 0, float("-inf")
