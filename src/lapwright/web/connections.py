"""Connections that do not get on: a client that dribbles its request, or will not take its answer, is let go.

A browser sends the head of a request in one go and reads as fast as its line carries. Whoever takes longer than
`HEAD_WITHIN` for a head, or moves fewer than `LEAST` bytes a second for `STRIKES` looks in a row while it is its turn,
is cut off. A connection costs no thread, but a place among `MOST`; the one that has been without a request for longest
makes room for the next. Sockets of live pages are outside this, they answer a ping every twenty seconds.
"""

from __future__ import annotations

import asyncio
import logging
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

LOG = logging.getLogger("lapwright.web.connections")

HEAD_WITHIN = 10.0  # s for the head of a request, of whatever size
LOOK = 5.0  # s between looks at a connection
LEAST = 500.0  # bytes a second, a tenth of the slowest modem line; common practice, no source
STRIKES = 3  # looks in a row with less
MOST = 500  # connections of a process; below the 1024 open files that systems usually grant


class BoundedHttp(H11Protocol):
    """HTTP as uvicorn speaks it, with an end to patience."""

    head_within, look, least, strikes, most = HEAD_WITHIN, LOOK, LEAST, STRIKES, MOST

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as uvicorn does
        """Watch over the connection from its first moment, making room for it where there is none."""
        self._counted = _Counted(transport)
        super().connection_made(self._counted)  # type: ignore[arg-type]  # it is one in all that is used
        self.head_since: float | None = self.loop.time()
        self._received = self._slow = 0
        self._unsent = 0
        self._body_awaited = False
        self._next_look = self.loop.call_later(self.look, self.look_after)
        if len(self.connections) > self.most:
            self._make_room()

    def connection_lost(self, exc: Exception | None) -> None:
        """Look no more."""
        self._next_look.cancel()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take bytes in; the first ones after an answer begin a new head."""
        self._received += len(data)
        if self.head_since is None and self.is_between_requests:
            self.head_since = self.loop.time()
        before = self.cycle
        super().data_received(data)
        if self.cycle is not before:
            self.head_since = None

    def handle_websocket_upgrade(self, event: Any) -> None:
        """The socket of a live page has its own patience."""
        self._next_look.cancel()
        self.transport = self._counted.inner
        super().handle_websocket_upgrade(event)

    @property
    def is_between_requests(self) -> bool:
        """Whether no request is whole that waits for its answer."""
        return self.cycle is None or self.cycle.response_complete

    def let_go(self, why: str) -> None:
        """End the connection at once, whatever is still to be sent."""
        LOG.warning("A connection was cut off: %s.", why)
        self._next_look.cancel()
        self._counted.abort()

    def look_after(self) -> None:
        """Look how the connection gets on, and when to look again."""
        if self._is_head_late():
            self.let_go("the head of its request did not come")
            return
        received, self._received = self._received, 0
        unsent, written = self._counted.get_write_buffer_size(), self._counted.take_written()
        taken, was_unsent = self._unsent + written - unsent, self._unsent
        awaited, was_awaited = self._awaits_body(), self._body_awaited
        self._unsent, self._body_awaited = unsent, awaited
        little = self.least * self.look
        slow_body = awaited and was_awaited and received < little
        slow_answer = unsent > 0 and was_unsent > 0 and taken < little
        self._slow = self._slow + 1 if slow_body or slow_answer else 0
        if self._slow >= self.strikes:
            self.let_go("its request dribbles in" if slow_body else "it does not take its answer")
            return
        self._next_look = self.loop.call_later(self.look, self.look_after)

    # ------------------------------------------------------------------------------------------------------------------

    def _is_head_late(self) -> bool:
        return self.head_since is not None and self.loop.time() - self.head_since >= self.head_within

    def _awaits_body(self) -> bool:
        return bool(
            self.cycle is not None
            and not self.cycle.response_complete
            and self.cycle.more_body
            and not self.flow.read_paused
        )

    def _make_room(self) -> None:
        """Cut off the connection that has been without a whole request for longest; the new one if there is none."""
        waiting = [one for one in self.connections if isinstance(one, BoundedHttp) and one.head_since is not None]
        longest = min(waiting, key=lambda one: one.head_since or 0.0, default=self)
        longest.let_go(f"there are more than {self.most}")


class _Counted:
    """A transport that counts what is written to it; all else is the transport's own."""

    def __init__(self, inner: asyncio.Transport) -> None:
        self.inner = inner
        self._written = 0

    def __getattr__(self, name: str) -> Any:
        return getattr(self.inner, name)

    def write(self, data: bytes) -> None:
        self._written += len(data)
        self.inner.write(data)

    def take_written(self) -> int:
        """Bytes written since the last time."""
        written, self._written = self._written, 0
        return written
