"""From the recorder's memory to the records: one thread does all work on the database.

What came in is committed ten times a second, all stations in one transaction. While the database is locked or the disk
is full, readings wait in memory, up to a limit; `trouble` says so, and the runs are stopped meanwhile.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from types import TracebackType
from typing import Self, TypeVar

import numpy as np

from lapwright.errors import LapwrightError, RecordError
from lapwright.gauges.clock import Clock
from lapwright.model.live import StreamEvent
from lapwright.records.stream_blocks import Portion

Answer = TypeVar("Answer")

EVERY = 0.1  # s between commits
AGAIN = 0.5  # s before a commit that failed is tried again
OLDEST = 2.0  # s that a reading may wait before the runs are stopped
LIMIT = 400_000  # readings kept in memory: four stations at 100 a second for more than a quarter of an hour


@dataclass(slots=True)
class _Waiting:
    """What has come in for one stream and is not committed."""

    times: list[float] = field(default_factory=list)
    lengths: list[float] = field(default_factory=list)
    events: list[StreamEvent] = field(default_factory=list)


class Store:
    """Takes readings at once and commits them soon.

    Parameters
    ----------
    commit : writes portions in one transaction; raises `RecordError` when it cannot
    clock : for the age of what waits
    limit : readings kept in memory
    """

    def __init__(
        self,
        commit: Callable[[list[Portion]], None],
        *,
        clock: Clock,
        limit: int = LIMIT,
        leave: Callable[[], None] = lambda: None,
    ) -> None:
        self._commit, self._clock, self._limit, self._leave = commit, clock, limit, leave
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="records")
        self._waiting: dict[int, _Waiting] = {}
        self._count = 0
        self._oldest: float | None = None
        self._failure: LapwrightError | None = None
        self._task: asyncio.Task[None] | None = None
        self._leaving = False
        self.stored: dict[int, int] = {}
        self.lost = 0

    async def __aenter__(self) -> Self:
        self._task = asyncio.create_task(self._commit_again_and_again(), name="commits")
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        assert self._task is not None
        self._leaving = True
        await asyncio.wait([self._task])
        with contextlib.suppress(LapwrightError):
            await self.flush()
        await self.call(self._leave)
        self._thread.shutdown(wait=False)

    def add(self, stream_id: int, time: float, length: float) -> None:
        """Take a reading; beyond the limit it is lost, counted and told."""
        if self._count >= self._limit:
            if not self.lost:
                sentence = f"The database takes nothing and {self._limit} readings wait; further ones are lost."
                self.tell(stream_id, StreamEvent(kind="gap", time=time, code="record.lost", sentence=sentence))
            self.lost += 1
            return
        waiting = self._of(stream_id)
        waiting.times.append(time)
        waiting.lengths.append(length)
        self._count += 1

    def tell(self, stream_id: int, event: StreamEvent) -> None:
        """Take an event."""
        self._of(stream_id).events.append(event)

    @property
    def waiting(self) -> int:
        """Readings in memory."""
        return self._count

    @property
    def trouble(self) -> str | None:
        """Why the runs must stop: what the database said, or how long it has been silent; None when all is well."""
        if self._failure is not None:
            return self._failure.sentence
        if self._oldest is not None and self._clock.monotonic() - self._oldest > OLDEST:
            return f"Readings wait more than {OLDEST:g} s for the database. Look at the disk and at what holds it."
        return None

    async def call(self, work: Callable[[], Answer]) -> Answer:
        """Do something else on the database, in its turn."""
        return await asyncio.get_running_loop().run_in_executor(self._thread, work)

    async def flush(self) -> None:
        """Commit what waits. Raises `RecordError` when the database cannot take it; it then waits on."""
        waiting, self._waiting = self._waiting, {}
        count, self._count = self._count, 0
        oldest, self._oldest = self._oldest, None
        if not waiting:
            return
        portions = [_portion(stream_id, one) for stream_id, one in waiting.items()]
        self._oldest = oldest
        self._count += count
        try:
            await self.call(lambda: self._commit(portions))
        except LapwrightError as error:
            self._failure = error
            self._put_back(waiting)
            raise
        self._failure = None
        self._count -= count
        self._oldest = self._clock.monotonic() if self._waiting else None
        for portion in portions:
            self.stored[portion.stream_id] = self.stored.get(portion.stream_id, 0) + len(portion.times)

    # ------------------------------------------------------------------------------------------------------------------

    def _of(self, stream_id: int) -> _Waiting:
        if self._oldest is None:
            self._oldest = self._clock.monotonic()
        return self._waiting.setdefault(stream_id, _Waiting())

    def _put_back(self, waiting: dict[int, _Waiting]) -> None:
        for stream_id, late in waiting.items():
            newer = self._waiting.get(stream_id, _Waiting())
            late.times += newer.times
            late.lengths += newer.lengths
            late.events += newer.events
            self._waiting[stream_id] = late

    async def _commit_again_and_again(self) -> None:
        while not self._leaving:
            await asyncio.sleep(EVERY)
            try:
                await self.flush()
            except LapwrightError:
                await asyncio.sleep(AGAIN)
            except Exception as error:  # noqa: BLE001  whatever it is, the runs must stop and the readings wait
                self._failure = RecordError(f"The records cannot be written: {type(error).__name__}: {error}.")


def _portion(stream_id: int, waiting: _Waiting) -> Portion:
    return Portion(
        stream_id=stream_id,
        times=np.array(waiting.times),
        lengths=np.array(waiting.lengths),
        events=tuple(waiting.events),
    )
