"""A bounded row of events between one source and one reader.

When the reader is too slow the OLDEST events go, they are counted, and the reader is told by a gap in their place. A
source that can wait asks for `room` first, and then nothing goes.
"""

from __future__ import annotations

import asyncio
from collections import deque

from lapwright.gauges.readings import BadFrames, Gap, GaugeEvent, GaugeReading

EVENTS_A_FRAME = 4  # at most: bad frames told, two gaps, a reading


class Ring:
    """At most `size` events, first in first out."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._events: deque[GaugeEvent] = deque()
        self._filled, self._emptied = asyncio.Event(), asyncio.Event()
        self._closed = False
        self._lost: list[GaugeEvent] = []
        self._lost_readings = 0
        self.dropped = 0

    def __len__(self) -> int:
        return len(self._events)

    def put(self, event: GaugeEvent) -> None:
        """Add an event; the oldest one goes when there is no room."""
        if len(self._events) >= self._size:
            self._drop(self._events.popleft())
        self._events.append(event)
        self._filled.set()

    async def take(self) -> GaugeEvent | None:
        """The next event; None when the ring is closed and empty."""
        while not self._events:
            if self._closed:
                return None
            self._filled.clear()
            await self._filled.wait()
        if self._lost:
            return self._told()
        self._emptied.set()
        return self._events.popleft()

    async def room(self) -> int:
        """Wait until the ring is at most half full; how many frames may come now, each with what it may tell."""
        while len(self._events) > self._size // 2 and not self._closed:
            self._emptied.clear()
            await self._emptied.wait()
        return max(1, (self._size - len(self._events)) // EVENTS_A_FRAME)

    def close(self) -> None:
        """No more events will come; what is there can still be taken."""
        self._closed = True
        self._filled.set()
        self._emptied.set()

    # ------------------------------------------------------------------------------------------------------------------

    def _drop(self, event: GaugeEvent) -> None:
        self._lost = [self._lost[0] if self._lost else event, event]
        if isinstance(event, GaugeReading):
            self._lost_readings += 1
            self.dropped += 1

    def _told(self) -> Gap:
        """The gap in place of what went."""
        first, last = self._lost[0], self._lost[-1]
        gap = Gap(
            started=_time(first),
            ended=_time(last),
            reason=f"The reader was too slow: {self._lost_readings} readings went from the buffer of {self._size}.",
            lost=self._lost_readings,
        )
        self._lost, self._lost_readings = [], 0
        return gap


def _time(event: GaugeEvent) -> float:
    return event.time if isinstance(event, GaugeReading | BadFrames) else event.started
