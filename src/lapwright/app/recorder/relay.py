"""Batches passed on through the database, to servers and pages on other machines; on PostgreSQL.

The recorder never waits for it: a thread sends what there is, and what it cannot send in time is left out. In a process
that shows pages one thread listens for all of them.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
import time
from collections import deque
from collections.abc import AsyncGenerator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from types import TracebackType
from typing import Self

from lapwright.app.recorder.broadcast import AWAY, KEPT, SILENCE, from_line, to_line
from lapwright.errors import RecordError
from lapwright.model.live import LiveBatch

AGAIN = 1.0  # s before a server that was away is asked again
LOOK = 1.0  # s between looks whether anybody still listens, or a station has fallen silent


class Relay:
    """The recorder's end."""

    def __init__(self) -> None:
        self._waiting: deque[LiveBatch] = deque(maxlen=KEPT)
        self._filled, self._leave = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._send, name="relay", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._leave.set()
        self._filled.set()
        self._thread.join(timeout=AGAIN)

    def tell(self, batch: LiveBatch) -> None:
        """A batch to every process that listens; never waits."""
        self._waiting.append(batch)
        self._filled.set()

    # ------------------------------------------------------------------------------------------------------------------

    def _send(self) -> None:
        from lapwright.records.notices import Notices

        notices = Notices()
        while not self._leave.is_set():
            self._filled.wait()
            self._filled.clear()
            words = []
            with contextlib.suppress(IndexError):
                while True:
                    words.append(fitting_line(self._waiting.popleft()))
            try:
                notices.send(words)
            except RecordError:
                self._leave.wait(AGAIN)
        notices.close()


def fitting_line(batch: LiveBatch) -> str:
    """A batch as a line that the database passes on: with fewer of its points where all would be too long."""
    from lapwright.records.notices import MOST_BYTES

    line = to_line(batch).decode("ascii")
    while len(line) > MOST_BYTES and batch.points:
        batch = replace(batch, points=batch.points[len(batch.points) // 2 + 1 :])
        line = to_line(batch).decode("ascii")
    return line


async def batches_heard(station_id: str | None) -> AsyncGenerator[LiveBatch, None]:
    """Batches of one station or of all, from whichever recorder, until all are silent.

    Of several stations one that has fallen silent is told as away each second, for its recorder is.
    """
    ear = _Ear(loop=asyncio.get_running_loop())
    last: dict[str, float] = {}
    heard = time.monotonic()
    _HEARING.add(ear)
    try:
        while time.monotonic() - heard < SILENCE:
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(LOOK):
                    await ear.filled.wait()
            ear.filled.clear()
            while ear.lines:
                batch = from_line(ear.lines.popleft())
                if station_id in (None, batch.station_id):
                    heard = last[batch.station_id] = time.monotonic()
                    yield batch
            for station in [name for name, at in last.items() if time.monotonic() - at > SILENCE]:
                last[station] = time.monotonic() - SILENCE + LOOK
                yield LiveBatch(station_id=station, word="recorder_away", at=datetime.now(UTC), sentence=AWAY)
    finally:
        _HEARING.discard(ear)


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(slots=True, eq=False)
class _Ear:
    """One that listens, on its own event loop."""

    loop: asyncio.AbstractEventLoop
    lines: deque[bytes] = field(default_factory=lambda: deque(maxlen=10 * KEPT))
    filled: asyncio.Event = field(default_factory=asyncio.Event)

    def take(self, words: list[str]) -> None:
        """What was told, from another thread."""
        self.lines.extend(word.encode() for word in words)
        with contextlib.suppress(RuntimeError):  # the loop has ended
            self.loop.call_soon_threadsafe(self.filled.set)


class _Hearing:
    """One connection that listens for the whole process, as long as anybody does."""

    def __init__(self) -> None:
        self._ears: set[_Ear] = set()
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None

    def add(self, ear: _Ear) -> None:
        with self._lock:
            self._ears.add(ear)
            if self._thread is None:
                self._thread = threading.Thread(target=self._hear, name="hearing", daemon=True)
                self._thread.start()

    def discard(self, ear: _Ear) -> None:
        with self._lock:
            self._ears.discard(ear)

    def _hear(self) -> None:
        from lapwright.records.notices import Notices

        notices = Notices()
        while self._is_wanted():
            try:
                words = notices.hear(LOOK)
            except RecordError:
                time.sleep(AGAIN)
                continue
            with self._lock:
                ears = tuple(self._ears)
            for ear in ears:
                ear.take(words)
        notices.close()

    def _is_wanted(self) -> bool:
        with self._lock:
            if not self._ears:
                self._thread = None
            return bool(self._ears)


_HEARING = _Hearing()
