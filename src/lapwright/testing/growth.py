"""How time and memory grow with size: each point measured in a process of its own, two decades apart at the ends.

A file ``growth_*.py`` holds a function ``curves()`` that returns a list of `Growth`. What is measured is a function of
that file: it takes a size, prepares, and returns what is to be timed, one piece of work for each name.
"""

from __future__ import annotations

import importlib.util
import math
import multiprocessing
import resource
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

BEST_OF = 3
LONG = 5.0  # s; what takes longer is measured once
LEAST_MEMORY = 1_000_000  # bytes; below it the allocator's steps are all that is seen
_STATUS, _FORGET = Path("/proc/self/status"), Path("/proc/self/clear_refs")


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """What grows: names of what is timed, what the sizes count, the sizes, and the function that prepares a size."""

    names: tuple[str, ...]
    counts: str
    sizes: Sequence[int]
    prepare: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One size: seconds, and memory beyond what was held after preparing [bytes]."""

    size: int
    seconds: float
    memory: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """The points of one name, the smallest size first; `fault` says where and why it broke off, empty when whole."""

    name: str
    counts: str
    points: tuple[Point, ...]
    fault: str = ""


def listed(folder: Path) -> dict[str, tuple[Path, Growth]]:
    """Every growth of a folder, by ``growth_`` and the name of its function."""
    return {
        f"growth_{one.prepare}": (path, one)
        for path in sorted(folder.glob("growth_*.py"))
        for one in _module(path).curves()
    }


def measured(path: Path, growth: Growth) -> list[Curve]:
    """The curves of one growth; they end before the first size that cannot be measured."""
    rows: list[list[Point]] = []
    fault = ""
    for size in growth.sizes:
        found = _measured(path, growth, size)
        if isinstance(found, str):
            fault = f"broke off at {size} {growth.counts}: {found}"
            break
        rows.append(found)
    return [
        Curve(name=name, counts=growth.counts, points=tuple(row[place] for row in rows), fault=fault)
        for place, name in enumerate(growth.names)
    ]


def exponent(sizes: Sequence[float], values: Sequence[float]) -> float:
    """The slope of log value against log size by least squares over all points: 1 for growth in proportion.

    NaN where there are fewer than two points or a value is not above zero.

    >>> exponent([10, 100, 1000], [2.0, 20.0, 200.0])
    1.0
    """
    if len(sizes) < 2 or min(values) <= 0.0:
        return math.nan
    across, along = ([math.log(one) for one in values_] for values_ in (sizes, values))
    middle_x, middle_y = math.fsum(across) / len(across), math.fsum(along) / len(along)
    moment = math.fsum((x - middle_x) * (y - middle_y) for x, y in zip(across, along, strict=True))
    return moment / math.fsum((x - middle_x) ** 2 for x in across)


def memory_exponent(points: Sequence[Point]) -> float:
    """The same of memory over the points that need more than a megabyte; NaN where these are fewer than two."""
    counted = [point for point in points if point.memory > LEAST_MEMORY]
    return exponent([point.size for point in counted], [point.memory for point in counted])


# ----------------------------------------------------------------------------------------------------------------------


def _module(path: Path) -> Any:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _measured(path: Path, growth: Growth, size: int) -> list[Point] | str:
    """One point for each name, or what went wrong."""
    ours, theirs = multiprocessing.Pipe()
    process = multiprocessing.get_context("spawn").Process(target=_measure, args=(theirs, path, growth.prepare, size))
    process.start()
    theirs.close()
    try:
        found = ours.recv()
    except EOFError:
        found = "its process ended without an answer"
    process.join()
    if isinstance(found, str):
        return found
    return [Point(size=size, seconds=seconds, memory=memory) for seconds, memory in found]


def _measure(pipe: Any, path: Path, prepare: str, size: int) -> None:
    try:
        works: Sequence[Callable[[], object]] = getattr(_module(path), prepare)(size)
        pipe.send([_timed(work) for work in works])
    except Exception as error:
        pipe.send(f"{type(error).__name__}: {error}")
        raise


def _timed(work: Callable[[], object]) -> tuple[float, int]:
    before = _held_now()
    seconds = math.inf
    for _ in range(BEST_OF):
        start = time.perf_counter()
        work()
        seconds = min(seconds, time.perf_counter() - start)
        if seconds > LONG:
            break
    return seconds, max(0, _peak() - before)


def _held_now() -> int:
    """Memory held [bytes]; from now on the peak counts anew, where the system can do that."""
    try:
        _FORGET.write_text("5", encoding="ascii")
        return _status("VmRSS")
    except OSError:
        return _peak()


def _peak() -> int:
    """The most memory held since it was last counted anew [bytes]."""
    try:
        return _status("VmHWM")
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def _status(name: str) -> int:
    lines = _STATUS.read_text(encoding="ascii").splitlines()
    return next(1024 * int(line.split()[1]) for line in lines if line.startswith(f"{name}:"))
