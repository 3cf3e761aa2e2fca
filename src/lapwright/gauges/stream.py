"""A live source: one owner task that connects, listens, reconnects and tells of every gap.

The owner runs the link of a driver. What the link hears is put in order (`ordering`) and into a bounded ring; the
reader takes it from there. When the peer is gone a gap opens and the owner tries again after 0.1 s, 0.2 s … at most
5 s; the first reading after a reconnection starts that row anew.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Sequence
from types import TracebackType
from typing import Self

from lapwright.errors import GaugeError, LapwrightError, NotConnected
from lapwright.gauges.address import Options
from lapwright.gauges.clock import SYSTEM_CLOCK, Clock
from lapwright.gauges.frames import FrameResult
from lapwright.gauges.ordering import Ordering
from lapwright.gauges.readings import GaugeEvent, SourceState, SourceStatus
from lapwright.gauges.ring import Ring
from lapwright.gauges.roles import Link

FIRST_WAIT = 0.1  # s before the first new attempt
LONGEST_WAIT = 5.0  # s between attempts when the peer stays away
CLOSING = 2.0  # s that a link gets to let go of its device


class GaugeStream:
    """A length gauge behind a link. Made by `open_source`; use it with ``async with`` and ``async for``."""

    def __init__(self, address: str, link: Link, *, options: Options, clock: Clock = SYSTEM_CLOCK) -> None:
        self._address, self._link, self._clock = address, link, clock
        self._ring = Ring(options["buffer"])
        self._order = Ordering(gap=options["gap_s"], clock=clock, has_own_time=link.has_own_time)
        self._state: SourceState = "closed"
        self._sentence = "Not listening."
        self._failure: LapwrightError | None = None
        self._changed = asyncio.Event()
        self._tasks: list[asyncio.Task[None]] = []

    async def __aenter__(self) -> Self:
        self._set("connecting", "Connecting.")
        self._order.open()
        self._tasks = [asyncio.create_task(self._own(), name=f"gauge {self._address}")]
        if not self._link.has_own_time:
            self._tasks.append(asyncio.create_task(self._watch_silence()))
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for task in self._tasks:
            task.cancel()
        await asyncio.wait(self._tasks, timeout=CLOSING)
        self._ring.close()
        if self._state != "failed":
            self._set("closed", "Not listening.")

    def __aiter__(self) -> AsyncIterator[GaugeEvent]:
        return self

    async def __anext__(self) -> GaugeEvent:
        event = await self._ring.take()
        if event is not None:
            return event
        if self._failure is not None:
            raise self._failure
        raise StopAsyncIteration

    async def connected(self, within: float) -> None:
        """Wait until the source is connected, or has been. Raises `NotConnected` with the reason after `within` s."""
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(within):
                while self._state in ("connecting", "lost"):
                    self._changed.clear()
                    await self._changed.wait()
        if self._failure is not None:
            raise self._failure
        if self._state not in ("connected", "ended"):
            raise NotConnected(f"{self._address} is not connected after {within:g} s. {self._sentence}")

    @property
    def status(self) -> SourceStatus:
        """How the source stands."""
        counts = self._order.counts
        return SourceStatus(
            address=self._address,
            state=self._state,
            sentence=self._sentence,
            readings=counts.readings,
            bad_frames=counts.bad_frames,
            duplicates=counts.duplicates,
            late=counts.late,
            gaps=counts.gaps,
            dropped=self._ring.dropped,
            last=self._order.last,
            clock_offset=self._order.clock_offset,
        )

    # ------------------------------------------------------------------------------------------------------------------

    def _set(self, state: SourceState, sentence: str) -> None:
        self._state, self._sentence = state, sentence
        self._changed.set()

    async def _own(self) -> None:
        """Run the link again and again until its end."""
        wait = FIRST_WAIT
        while True:
            before = self._order.counts.readings
            try:
                await self._link.run(_StreamSink(self))
            except NotConnected as error:
                lost: LapwrightError = error
            except LapwrightError as error:
                self._fail(error)
                return
            except Exception as error:  # noqa: BLE001  a fault of ours must not look like silence
                self._fail(GaugeError(f"{self._address} failed: {error!r}. Please report this."))
                return
            else:
                self._put(self._order.finish())
                self._set("ended", "At its end.")
                self._ring.close()
                return
            if self._order.counts.readings > before:
                wait = FIRST_WAIT
            self._set("lost", lost.sentence)
            self._put(self._order.interrupt(lost.sentence))
            await asyncio.sleep(wait)
            wait = min(2.0 * wait, LONGEST_WAIT)

    def _fail(self, error: LapwrightError) -> None:
        self._failure = error
        self._put(self._order.interrupt(error.sentence))
        self._set("failed", error.sentence)
        self._ring.close()

    async def _watch_silence(self) -> None:
        while True:
            await asyncio.sleep(self._order.gap / 4.0)
            self._put(self._order.silence())

    def _put(self, events: Sequence[GaugeEvent]) -> None:
        for event in events:
            self._ring.put(event)


class _StreamSink:
    """The stream as its link sees it."""

    def __init__(self, stream: GaugeStream) -> None:
        self._stream = stream

    def now(self) -> float:
        return self._stream._clock.monotonic()  # noqa: SLF001

    def connected(self) -> None:
        self._stream._set("connected", "Connected.")  # noqa: SLF001  the other half of the same thing

    def frames(self, frames: Sequence[FrameResult], at: float | None = None) -> None:
        self._stream._put(self._stream._order.take(frames, at))  # noqa: SLF001

    async def room(self) -> int:
        return await self._stream._ring.room()  # noqa: SLF001
