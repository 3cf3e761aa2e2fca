"""Settling a chart before use (phase I): its centre and spread from past points, and whether neighbours hang together.

Points that lie outside are set aside one round at a time, each with its value, and never changed or hidden.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import normal_quantile

Array = NDArray[np.float64]
Handling = Literal["keep", "set_aside", "robust"]

D2_TWO = 2.0 / math.sqrt(math.pi)  # mean range of two normal values
MEDIAN_RANGE_TWO = math.sqrt(2.0) * normal_quantile(0.75)  # median range of two normal values, 0.9539
MOST_SET_ASIDE = 0.1  # share of points; beyond it the process is not settled (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartSetup:
    """Centre and standard deviation for a chart, and how they were found.

    `set_aside` are indices left out of both; `is_settled` is False when more than a tenth of the points had to be.
    """

    centre: float
    sigma: float
    handling: Handling
    set_aside: tuple[int, ...]
    is_settled: bool
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Autocorrelation:
    """How far each point follows the one before: coefficient, its bound by chance, and a warning when beyond it."""

    lag: int
    coefficient: float
    bound: float
    warning: str | None


def chart_setup(value: Array, *, handling: Handling = "keep") -> ChartSetup:
    """Centre and standard deviation of single values in the order taken.

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        Past values, at least two.
    handling : "keep", "set_aside" or "robust"
        keep: mean, and mean moving range over d2. set_aside: the same, leaving out points beyond three standard
        deviations and beginning again until none is. robust: median, and median moving range over 0.954; nothing is
        left out.

    Returns
    -------
    ChartSetup

    Raises
    ------
    OutOfValidRange
        Fewer than two values, or one that is not finite.

    Notes
    -----
    A moving range that spans a point set aside is left out, too. Setting aside presumes a cause that was found: the
    points are named so that somebody can look.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2. Key ``nist_handbook``.

    Examples
    --------
    >>> past = np.array([1.0, 1.2, 0.9, 1.1, 9.0, 1.0, 1.1, 0.9, 1.2, 1.0])
    >>> chart_setup(past, handling="set_aside").set_aside
    (4,)
    """
    if value.size < 2:
        raise OutOfValidRange("number of points", value.size, "at least 2")
    if not np.all(np.isfinite(value)):
        raise OutOfValidRange("a point", math.nan, "a finite number", "Leave out points that were not measured.")
    if handling == "robust":
        sigma = float(np.median(np.abs(np.diff(value)))) / MEDIAN_RANGE_TWO
        return _setup(float(np.median(value)), sigma, handling, (), value.size, "median; median moving range / 0.954")
    kept = np.ones(value.size, dtype=np.bool_)
    while True:
        centre, sigma = _mean_and_sigma(value, kept)
        outside = kept & (np.abs(value - centre) > 3.0 * sigma)
        if handling == "keep" or not outside.any() or kept.sum() - outside.sum() < 2:
            break
        kept &= ~outside
    method = "mean; mean moving range / 1.128"
    return _setup(centre, sigma, handling, tuple(np.flatnonzero(~kept).tolist()), value.size, method)


def autocorrelation(value: Array, *, lag: int = 1) -> Autocorrelation:
    r"""Correlation of a series with itself, some points later.

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        Values in the order taken.
    lag : int [1]
        How many points later, from 1 to n − 2.

    Returns
    -------
    Autocorrelation

    Raises
    ------
    OutOfValidRange
        A lag outside 1 to n − 2, a value that is not finite, or a series that never changes.

    Notes
    -----
    .. math:: r_k = \sum_{i=1}^{n-k} (x_i - \bar x)(x_{i+k} - \bar x) \Big/ \sum (x_i - \bar x)^2

    By chance alone it stays within ± 1.96/√n 19 times in 20. Limits and run lengths of charts presume independent
    points: with a positive coefficient false alarms come more often than stated.

    References
    ----------
    .. [1] NIST Statistical Reference Datasets, univariate: definition of r(1). Key ``nist_strd``.

    Examples
    --------
    >>> autocorrelation(np.array([10000001.0, 10000003.0, 10000002.0])).coefficient
    -0.5
    """
    if not 1 <= lag <= value.size - 2:
        raise OutOfValidRange("lag", lag, f"from 1 to {value.size - 2}, two less than the number of points")
    if not np.all(np.isfinite(value)):
        raise OutOfValidRange("a point", math.nan, "a finite number", "Leave out points that were not measured.")
    steps = value - value.mean()
    total = float(steps @ steps)
    if not total > 0.0:
        raise OutOfValidRange("spread of the points", total, "above zero", "A constant has no correlation.")
    coefficient = float(steps[:-lag] @ steps[lag:]) / total
    bound = normal_quantile(0.975) / math.sqrt(value.size)
    warning = None
    if abs(coefficient) > bound:
        kind = "follow each other" if coefficient > 0 else "swing against each other"
        warning = (
            f"Points {lag} apart {kind} (correlation {coefficient:.2f}, by chance within ±{bound:.2f}): limits and run "
            "lengths, which presume independent points, do not hold as stated."
        )
    return Autocorrelation(lag=lag, coefficient=coefficient, bound=bound, warning=warning)


# ----------------------------------------------------------------------------------------------------------------------


def _mean_and_sigma(value: Array, kept: NDArray[np.bool_]) -> tuple[float, float]:
    both = kept[1:] & kept[:-1]
    ranges = np.abs(np.diff(value))[both]
    if not ranges.size:
        raise OutOfValidRange("number of neighbouring points left", 0, "at least 2", "The process is not settled.")
    return float(value[kept].mean()), float(ranges.mean()) / D2_TWO


def _setup(
    centre: float, sigma: float, handling: Handling, set_aside: tuple[int, ...], count: int, method: str
) -> ChartSetup:
    return ChartSetup(
        centre=centre,
        sigma=sigma,
        handling=handling,
        set_aside=set_aside,
        is_settled=len(set_aside) <= MOST_SET_ASIDE * count,
        method=method,
    )
