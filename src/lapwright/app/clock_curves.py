"""What a run by the clock is expected to remove, as recorded with it: points of removal against time."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from lapwright.model.job import RecordedRun

if TYPE_CHECKING:
    from lapwright.process.timed_stop import LoadedStep

Curve = tuple[tuple[float, float], ...]


def removal_expected(run: RecordedRun) -> float | None:
    """What the rate lets expect of a run by the clock after the time it ran [m]; None for a run by the gauge."""
    if run.time is None or len(run.expected) < 2:
        return None
    points = run.expected
    low, high = points[-2], points[-1]
    for first, second in pairwise(points):
        if run.time <= second[0]:
            low, high = first, second
            break
    slope = (high[1] - low[1]) / (high[0] - low[0])
    return low[1] + slope * (run.time - low[0])


def expected_curves(steps: Sequence[LoadedStep], count: int) -> tuple[Curve, ...]:
    """Removal against time of each of `count` pieces that share the load in these steps."""
    curves: list[list[tuple[float, float]]] = [[(0.0, 0.0)] for _ in range(count)]
    time = 0.0
    for step in steps:
        time += step.time
        for piece, curve in enumerate(curves):
            curve.append((time, curve[-1][1] + (step.removal if piece in step.pieces else 0.0)))
    return tuple(tuple(curve) for curve in curves)
