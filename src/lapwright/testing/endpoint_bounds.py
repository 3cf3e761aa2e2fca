"""How soon a fault of a stream can be known at best, whoever looks: the bounds beside which the campaign stands."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

NOISE, RESOLUTION, INTERVAL = 0.5, 1.0, 0.2  # µm, µm, s
FALSE_STOPS = 0.005  # of runs without a fault
LONGEST = 1200.0  # s
LEARNT = 300.0  # s
DRY_TIME, DRY_LEFT = 40.0, 0.3  # the rate falls to this share in this time [s]


def missing_removal(time: NDArray[np.float64], rate: float) -> NDArray[np.float64]:
    """Removal missing a time [s] after the slurry ran dry, at a rate in µm/min [µm]."""
    lost = (1.0 - DRY_LEFT) * rate / 60.0
    falling = np.clip(time, 0.0, DRY_TIME)
    return lost * (falling * falling / (2.0 * DRY_TIME) + np.maximum(0.0, time - DRY_TIME))


def best_collapse(rate: float, share: float) -> tuple[float, float]:
    """When a detector that is told rate, moment and course beforehand names a share of the collapses.

    Returns the time since the drip stopped [s] and the removal missing by then [µm]. Neyman and Pearson: the readings
    differ from the expected ones by m(t) under white noise, so the power is Φ(d − z) with d² = Σ m² / σ²; a run holds
    as many stretches of that length as go into it, and their chances of a false stop add up.
    """
    variance = NOISE**2 + RESOLUTION**2 / 12.0
    for after in np.arange(1.0, 400.0, 0.25):
        missing = missing_removal(np.arange(INTERVAL, after, INTERVAL), rate)
        z = norm.isf(FALSE_STOPS * after / LONGEST)
        if norm.cdf(math.sqrt(float(missing @ missing) / variance) - z) >= share:
            return float(after), float(missing_removal(np.array([after]), rate)[0])
    raise ValueError(f"{rate} µm/min is too slow for this bound")


def best_collapse_learnt(rate: float, share: float, *, wander: float = 0.025) -> tuple[float, float]:
    """The same for a detector that knows moment and course and learns the rate from five minutes before.

    Meanwhile the rate wanders as a random walk, by `wander` in a minute, and no one can tell that from a fault.
    """
    for after, missing, deviations in _told_learning(rate, wander):
        if norm.cdf(deviations - norm.isf(FALSE_STOPS * after / LONGEST)) >= share:
            return after, missing
    raise ValueError(f"{rate} µm/min is too slow for this bound")


def missing_at(rate: float, deviations: float, *, wander: float = 0.025) -> float:
    """Removal missing [µm] when half are named by that detector where it counts a fall from so many deviations."""
    for _after, missing, reached in _told_learning(rate, wander):
        if reached >= deviations:
            return missing
    raise ValueError(f"{rate} µm/min is too slow for this bound")


def false_frozen(rate: float, *, within: float = 5.0, lasting: float = 690.0) -> float:
    """False stops in a run by whoever names every gauge frozen for `within` seconds, at a rate in µm/min.

    All that is seen of a frozen gauge is that it repeats its value, so every run of equal readings that long has to be
    named. Their number in `lasting` seconds: over all places u of the gauge against the value it shows, the chance of
    showing it, of not having shown it before, and of going on to show it at each later reading.
    """
    step = rate / 60.0 * INTERVAL
    repeats = int(within / INTERVAL + 0.5) - 1
    place = np.linspace(-2.5 * RESOLUTION, 2.5 * RESOLUTION, 4001)
    chance = np.prod([_shown(place + step * number) for number in range(1, repeats + 1)], axis=0)
    density = _shown(place) * (1.0 - _shown(place - step)) * chance
    return float(np.trapezoid(density, place)) / RESOLUTION * lasting / INTERVAL


# ----------------------------------------------------------------------------------------------------------------------


def _told_learning(rate: float, wander: float) -> Iterator[tuple[float, float, float]]:
    """Time since the drip stopped [s], removal missing [µm], and by how many deviations the best linear test sees it.

    The readings, one mean a second, have covariance C = σ² I + that of the walk, and d² = mᵀ C⁻¹ m less what a line of
    unknown level and slope takes up.
    """
    time = np.arange(-LEARNT, 0.0) + 1.0
    since = time - time[0]
    early, late = np.minimum.outer(since, since), np.maximum.outer(since, since)
    walk = (wander * rate / 60.0) ** 2 / 60.0 * early * early * (3.0 * late - early) / 6.0
    weight = np.linalg.inv((NOISE**2 + RESOLUTION**2 / 12.0) * INTERVAL * np.eye(time.size) + walk)
    line = np.column_stack([np.ones(time.size), time])
    weight -= weight @ line @ np.linalg.solve(line.T @ weight @ line, line.T @ weight)
    for after in np.arange(5.0, 0.7 * LEARNT, 0.25):
        missing = missing_removal(time + after, rate)
        told = math.sqrt(float(missing @ weight @ missing))
        yield float(after), float(missing_removal(np.array([after]), rate)[0]), told


def _shown(place: NDArray[np.float64]) -> NDArray[np.float64]:
    """Chance that a reading rounds to a value that lies `place` below the gauge [µm]."""
    half = 0.5 * RESOLUTION
    return np.asarray(norm.cdf((place + half) / NOISE) - norm.cdf((place - half) / NOISE), dtype=np.float64)
