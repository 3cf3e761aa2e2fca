"""Workers as processes on this machine, one chunk after the other each."""

from __future__ import annotations

import multiprocessing
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from types import TracebackType
from typing import Any, Self

from lapwright.app.workers.port import MOST_TRIES, Chunk
from lapwright.errors import WorkersLost


class Processes:
    """As many processes as asked for. Each has a pool of its own: one that dies takes nobody's work but its own."""

    def __init__(self, count: int) -> None:
        self.count = count
        self._pools: list[ProcessPoolExecutor] = []

    def __enter__(self) -> Self:
        self._pools = [_pool() for _ in range(self.count)]
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for pool in self._pools:
            if kind is not None:
                for process in list((pool._processes or {}).values()):  # noqa: SLF001  no other way to end it at once
                    process.terminate()
            pool.shutdown(wait=True, cancel_futures=True)

    def each(self, do: Callable[[Any], Any], chunks: Iterator[Chunk]) -> Iterator[Chunk]:
        """As `Workers.each`."""
        again: deque[tuple[Chunk, int]] = deque()
        going: dict[Future[Any], tuple[int, Chunk, int]] = {}
        for place in range(self.count):
            self._give(place, do, chunks, again, going)
        while going:
            ready, _ = wait(going, return_when=FIRST_COMPLETED)
            for future in ready:
                place, chunk, tries = going.pop(future)
                try:
                    result = future.result()
                except BrokenProcessPool as error:
                    if tries >= MOST_TRIES:
                        raise WorkersLost(_given_up(chunk[0], tries)) from error
                    self._pools[place].shutdown(wait=False)
                    self._pools[place] = _pool()
                    again.append((chunk, tries + 1))
                    self._give(place, do, chunks, again, going)
                    continue
                self._give(place, do, chunks, again, going)
                yield chunk[0], result

    # ------------------------------------------------------------------------------------------------------------------

    def _give(
        self,
        place: int,
        do: Callable[[Any], Any],
        chunks: Iterator[Chunk],
        again: deque[tuple[Chunk, int]],
        going: dict[Future[Any], tuple[int, Chunk, int]],
    ) -> None:
        """Give a worker the chunk that another lost, else the next one, if there is any."""
        chunk, tries = again.popleft() if again else (next(chunks, None), 1)
        if chunk is not None:
            going[self._pools[place].submit(do, chunk[1])] = (place, chunk, tries)


def _pool() -> ProcessPoolExecutor:
    spawn = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(1, mp_context=spawn)


def _given_up(number: int, tries: int) -> str:
    return (
        f"The worker died {tries} times over part {number + 1} of the work, as a process does that is short of memory."
        " Use fewer workers, or look into the machine's log."
    )
