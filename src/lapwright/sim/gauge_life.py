"""How a gauge ages between its calibrations: it drifts evenly, wanders a little, and is adjusted once a year.

Deviations are reading less truth. Lengths in m, time in years.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class Ageing:
    """Drift [m a year], wander on top of it in a year, how well nought is hit and how well a laboratory sees [m]."""

    drift: float
    wander: float
    adjusted_to: float
    seen_to: float


def yearly_calibrations(
    ageing: Ageing, *, years: int, last_left: float, rng: np.random.Generator
) -> tuple[tuple[float, float], ...]:
    """What a laboratory saw each year: deviations as found and as left after adjusting; the last left is given."""
    seen = []
    true_left = ageing.adjusted_to * float(rng.standard_normal())
    for year in range(years):
        true_found = true_left + ageing.drift + ageing.wander * float(rng.standard_normal())
        true_left = ageing.adjusted_to * float(rng.standard_normal())
        found, left = (true + ageing.seen_to * float(rng.standard_normal()) for true in (true_found, true_left))
        seen.append((found, last_left if year == years - 1 else left))
    return tuple(seen)


def deviation_now(ageing: Ageing, *, last: float, ago: float) -> float:
    """The deviation so many years before the moment at which it is `last`, by the drift alone."""
    return last - ageing.drift * ago
