"""How time and memory grow with size: each point measured in a process of its own, two decades apart at the ends.

A file ``growth_*.py`` holds a function ``curves()`` that returns a list of `Curve`. What a curve measures is a function
of that file: it takes a size, prepares, and returns what is to be timed.
"""

from __future__ import annotations

import importlib.util
import math
import multiprocessing
import resource
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

BEST_OF = 3
LONG = 5.0  # s; what takes longer is measured once


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """What grows: its name, what the sizes count, the sizes, and the function of the file that prepares a size."""

    name: str
    counts: str
    sizes: Sequence[int]
    prepare: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One size: seconds, and memory beyond what was there after preparing [bytes]."""

    size: int
    seconds: float
    memory: int


def collect(folder: Path, *, only: tuple[str, ...] = ()) -> list[tuple[Curve, list[Point]]]:
    """The points of every curve in a folder, in file order."""
    found = []
    for path in sorted(folder.glob("growth_*.py")):
        if only and path.stem.removeprefix("growth_") not in only:
            continue
        for curve in _module(path).curves():
            sys.stderr.write(f"{path.stem}: {curve.name} ...\n")
            found.append((curve, [_measured(path, curve.prepare, size) for size in curve.sizes]))
    return found


def exponent(points: Sequence[Point]) -> float:
    """The slope of log time against log size between the ends: 1 for time in proportion to size."""
    first, last = points[0], points[-1]
    return math.log(last.seconds / first.seconds) / math.log(last.size / first.size)


def table(found: Sequence[tuple[Curve, list[Point]]]) -> str:
    """The curves as a Markdown table."""
    lines = [
        "| what grows | sizes | time, s | memory, MB | time grows as size to the |",
        "| --- | --- | --- | --- | --- |",
    ]
    for curve, points in found:
        sizes = ", ".join(f"{point.size:,}".replace(",", "\u2009") for point in points)
        seconds = ", ".join(f"{point.seconds:.3g}" for point in points)
        memory = ", ".join(f"{point.memory / 1e6:.0f}" for point in points)
        lines.append(f"| {curve.name} | {sizes} {curve.counts} | {seconds} | {memory} | {exponent(points):.2f} |")
    return "\n".join(lines)


# ----------------------------------------------------------------------------------------------------------------------


def _module(path: Path) -> Any:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _measured(path: Path, prepare: str, size: int) -> Point:
    ours, theirs = multiprocessing.Pipe()
    process = multiprocessing.get_context("spawn").Process(target=_measure, args=(theirs, path, prepare, size))
    process.start()
    theirs.close()
    try:
        seconds, memory = ours.recv()
    finally:
        process.join()
    return Point(size=size, seconds=seconds, memory=memory)


def _measure(pipe: Any, path: Path, prepare: str, size: int) -> None:
    work: Callable[[], object] = getattr(_module(path), prepare)(size)
    before = _peak()
    seconds = math.inf
    for _ in range(BEST_OF):
        start = time.perf_counter()
        work()
        seconds = min(seconds, time.perf_counter() - start)
        if seconds > LONG:
            break
    pipe.send((seconds, max(0, _peak() - before)))


def _peak() -> int:
    """The most memory this process has used so far [bytes]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
