"""The port that every kind of workers fills, and the loop that keeps them busy."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any, Protocol

from lapwright.app.workers.finished import Finished

#: A chunk that was given out so often, and whose worker died each time, is given up.
MOST_TRIES = 3
Chunk = tuple[int, Any]
#: Called with the chunks finished and all of them.
Progress = Callable[[int, int], None]


class Workers(Protocol):
    """Something that does chunks of work, not in order; the next chunk is taken when a worker has room for it."""

    @property
    def count(self) -> int:
        """Chunks done at the same time."""

    def each(self, do: Callable[[Any], Any], chunks: Iterator[Chunk]) -> Iterator[Chunk]:
        """The number and result of every chunk, as they come.

        Raises `WorkersLost` when workers cannot be had, or died `MOST_TRIES` times over one chunk; what `do` raises
        comes through.
        """


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Something to be done in chunks.

    `do` is a function at the top of a module, called by a worker with what `load` made of a key; `load` is called
    here, one chunk after the other and only when a worker has room, so that memory does not grow with their number.
    Results are plain values that JSON can hold. `told` names the work: a file of finished chunks belongs to it alone.
    """

    do: Callable[[Any], Any]
    keys: Sequence[Hashable]
    load: Callable[[Any], Any]
    told: dict[str, Any]


def worked(
    work: Work,
    workers: AbstractContextManager[Workers],
    *,
    finished: Finished | None = None,
    progress: Progress | None = None,
) -> list[Any]:
    """The results of all chunks in the order of their keys.

    Raises what `Workers.each` and `Finished` raise; chunks done by then are kept in `finished`.
    """
    results: dict[int, Any] = dict(finished.begin(work.told)) if finished is not None else {}
    missing = [number for number in range(len(work.keys)) if number not in results]
    if progress is not None:
        progress(len(results), len(work.keys))
    if missing:
        with workers as there:
            for number, result in there.each(work.do, ((number, work.load(work.keys[number])) for number in missing)):
                results[number] = result
                if finished is not None:
                    finished.add(number, result)
                if progress is not None:
                    progress(len(results), len(work.keys))
    return [results[number] for number in range(len(work.keys))]
