"""Cuts a stream of bytes into lines, with a bounded memory."""

from __future__ import annotations

LONGEST = 512  # bytes of one line; what is longer is no reading


class LineCutter:
    """Lines out of bytes that arrive cut anywhere.

    Parameters
    ----------
    terminator : what ends a line; None for CR, LF or both
    joined : the stream was joined in its middle, so that the beginning of the first line is missing
    """

    def __init__(self, terminator: bytes | None = None, *, joined: bool = False) -> None:
        self._terminator = terminator
        self._rest = b""
        self._skipping = joined

    def cut(self, data: bytes) -> list[bytes | None]:
        """Lines that are complete now; None stands for one that was too long or had no beginning."""
        if self._terminator is None:
            data, end = data.replace(b"\r", b"\n"), b"\n"
        else:
            end = self._terminator
        *lines, rest = (self._rest + data).split(end)
        found: list[bytes | None] = []
        for line in lines:
            if self._skipping or len(line) > LONGEST:
                found.append(None)
            elif line or self._terminator is not None:
                found.append(line)
            self._skipping = False
        if len(rest) > LONGEST:
            self._skipping = True
            rest = rest[len(rest) - len(end) + 1 :]
        self._rest = rest
        return found

    def finish(self) -> bytes | None:
        """What is left without an end; None when nothing is."""
        rest, self._rest = self._rest, b""
        return rest or None
