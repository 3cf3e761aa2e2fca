"""Workers behind a Dask scheduler, on as many hosts as it has."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator
from types import TracebackType
from typing import Any, Self

from lapwright import __version__
from lapwright.app.workers.port import Chunk
from lapwright.errors import WorkersLost

ANSWERS_WITHIN = "10s"
AHEAD = 2  # chunks a worker holds: one it does, one that waits, so that the network costs no time


class Cluster:
    """All workers that the scheduler at an address has. A chunk whose worker died goes to another one."""

    def __init__(self, address: str) -> None:
        self._address = address
        self._client: Any = None
        self.count = 0

    def __enter__(self) -> Self:
        distributed = _library()
        try:
            self._client = distributed.Client(self._address, timeout=ANSWERS_WITHIN, set_as_default=False)
            versions = self._client.run(worker_version)
        except (OSError, ValueError, ImportError, TimeoutError) as error:
            raise WorkersLost(
                f"The scheduler at {self._address} does not answer as expected: {error}. Start it with 'dask scheduler'"
                " and give its address, for example tcp://10.0.0.5:8786."
            ) from error
        self._check(versions)
        self.count = sum(self._client.nthreads().values())
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._client.close()

    def each(self, do: Callable[[Any], Any], chunks: Iterator[Chunk]) -> Iterator[Chunk]:
        """As `Workers.each`. A scheduler that has lost all its workers is waited for."""
        distributed = _library()
        going = distributed.as_completed([], loop=self._client.loop)
        numbers: dict[str, int] = {}

        def give() -> None:
            for number, load in chunks:
                future = self._client.submit(do, load, pure=False, retries=0)
                numbers[future.key] = number
                going.add(future)
                return

        for _ in range(AHEAD * self.count):
            give()
        for future in going:
            number = numbers.pop(future.key)
            try:
                result = future.result()
            except distributed.KilledWorker as error:
                raise WorkersLost(
                    f"Workers died over part {number + 1} of the work, each time it was tried. Give them more memory,"
                    " or look into their logs."
                ) from error
            except (OSError, distributed.client.FutureCancelledError) as error:
                raise WorkersLost(
                    f"The scheduler at {self._address} was lost. What was finished is kept where --resume says; give"
                    " the command again when the scheduler is back."
                ) from error
            future.release()
            give()
            yield number, result

    # ------------------------------------------------------------------------------------------------------------------

    def _check(self, versions: dict[str, str]) -> None:
        others = {worker: found for worker, found in versions.items() if found != __version__}
        if not versions:
            raise WorkersLost(f"The scheduler at {self._address} has no workers. Start some with 'dask worker'.")
        if others:
            worker, found = next(iter(others.items()))
            raise WorkersLost(
                f"{len(others)} of {len(versions)} workers run another version, {worker} has {found}; expected "
                f"{__version__}. Install the same version everywhere: another one may give other numbers."
            )


def worker_version() -> str:
    """The version that a worker runs."""
    return __version__


# ----------------------------------------------------------------------------------------------------------------------


def _library() -> Any:
    try:
        return importlib.import_module("distributed")
    except ImportError as error:
        raise WorkersLost("A scheduler needs the extra 'cluster'. Install lapwright[cluster].") from error
