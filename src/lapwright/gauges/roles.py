"""Roles that a device plays. Small, so that a driver shows at a glance what it owes."""

from __future__ import annotations

from collections.abc import AsyncIterator, Sequence
from types import TracebackType
from typing import Protocol, Self

from lapwright.gauges.frames import FrameResult
from lapwright.gauges.readings import GaugeEvent, SourceStatus


class LengthGauge(Protocol):
    """A stream of lengths. Iterating gives every event in order and ends only when the source is at its end."""

    async def __aenter__(self) -> Self:
        """Start listening; return at once, connected or not."""

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop listening and let go of the device."""

    def __aiter__(self) -> AsyncIterator[GaugeEvent]:
        """Every event in order."""

    async def connected(self, within: float) -> None:
        """Wait until the source is connected. Raises `NotConnected` with the reason after `within` seconds."""

    @property
    def status(self) -> SourceStatus:
        """How the source stands."""


class Sink(Protocol):
    """Where a link hands on what it hears."""

    def now(self) -> float:
        """The present moment on the monotonic clock [s]; may be asked from any thread."""

    def connected(self) -> None:
        """Say that the peer answers."""

    def frames(self, frames: Sequence[FrameResult], at: float | None = None) -> None:
        """Hand on decoded frames that arrived at a time of the monotonic clock (now, unless told) [s]."""

    async def room(self) -> int:
        """Wait until there is room for more frames, and for how many; for a source that can wait."""


class Link(Protocol):
    """One way to a gauge.

    `run` connects, hands on what it hears and returns at the end of the data. It raises `NotConnected` when the peer
    is gone, and is then called again; any other error of ours ends the source. Cancelling it closes everything.
    `has_own_time` says that frames carry the time to go by, so that silence on our clock means nothing.
    """

    has_own_time: bool

    async def run(self, sink: Sink) -> None:
        """Connect and hand on until the end."""


class StopOutput(Protocol):
    """A way to tell the machine that it may run. Each message is one permission; no message means stop.

    Not a safety function: the machine's own interlocks stay in charge.
    """

    async def __aenter__(self) -> Self:
        """Reach the machine. Raises `NotConnected`."""

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Let go; whatever happens, no further permission is sent."""

    async def send(self, message: bytes, *, sequence: int) -> None:
        """Hand one message to the machine. `sequence` is its number, 0 for stop. Raises `NotConnected`."""
