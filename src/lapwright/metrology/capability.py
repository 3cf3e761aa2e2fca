"""How well a process fits its limits: capability indices with intervals, a normality check, and percentiles.

An index from few wafers is a guess; its interval says how much of one. The scatter of the gauge is in the values; when
it is known, the indices of the parts alone are given beside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import normal_cdf
from lapwright.metrology.normality import LEAST_VALUES, Normality, normality

Array = NDArray[np.float64]
Interval = tuple[float, float]

LEAST_FOR_PERCENTILES = 1000  # 0.135 % of fewer values is less than one or two of them
_ROUNDING = 1e-13  # scatter below this share of the values is that of their last binary digits
_FAR = 100.0  # Cpk beyond which its interval is that of sigma alone, to 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class CapabilityIndices:
    """Indices of a process with known mean and standard deviation; None where the limit they need is not given.

    `outside` is the share of normal values beyond the limits.
    """

    cp: float | None
    cpu: float | None
    cpl: float | None
    cpk: float
    cpm: float | None
    outside: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CapabilityStudy:
    """Indices from measured values, with intervals.

    `parts_alone` are the indices without the gauge's scatter, None when that is not known or not less than the whole.
    `percentile` are (Cp, Cpk) by percentiles, None with too few values.
    """

    count: int
    mean: float
    sigma: float
    indices: CapabilityIndices
    cp_interval: Interval | None
    cpk_interval: Interval
    probability: float
    normality: Normality | None
    percentile: tuple[float | None, float] | None
    parts_alone: CapabilityIndices | None
    notes: tuple[str, ...]


def capability_indices(
    mean: float, sigma: float, *, lower: float | None = None, upper: float | None = None, target: float | None = None
) -> CapabilityIndices:
    r"""Capability indices of a process with this mean and standard deviation.

    Parameters
    ----------
    mean : float [unit of the values]
        Mean of the process.
    sigma : float [unit of the values]
        Its standard deviation, above zero.
    lower, upper : float, optional [unit of the values]
        Limits; at least one.
    target : float, optional [unit of the values]
        Value aimed at, for Cpm.

    Returns
    -------
    CapabilityIndices

    Raises
    ------
    OutOfValidRange
        No limit, limits the wrong way round, or a standard deviation not above zero.

    Notes
    -----
    .. math:: C_p = \frac{U - L}{6\sigma}, \quad C_{pk} = \min\Bigl(\frac{U - \mu}{3\sigma}, \frac{\mu - L}{3\sigma}
              \Bigr), \quad C_{pm} = \frac{U - L}{6\sqrt{\sigma^2 + (\mu - T)^2}}

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6. Key ``nist_handbook``.

    Examples
    --------
    >>> found = capability_indices(16.0, 2.0, lower=8.0, upper=20.0, target=14.0)
    >>> found.cp, round(found.cpk, 4), round(found.cpm, 4)
    (1.0, 0.6667, 0.7071)
    """
    _need_limits(lower, upper)
    if not sigma > 0.0:
        raise OutOfValidRange(
            "sigma", sigma, "more than zero", "Take values that scatter; equal ones come from too coarse a gauge."
        )
    above = None if upper is None else (upper - mean) / (3.0 * sigma)
    below = None if lower is None else (mean - lower) / (3.0 * sigma)
    both = None if lower is None or upper is None else (upper - lower) / (6.0 * sigma)
    about = None if both is None or target is None else both / math.hypot(1.0, (mean - target) / sigma)
    sides = [side for side in (above, below) if side is not None]
    return CapabilityIndices(
        cp=both,
        cpu=above,
        cpl=below,
        cpk=min(sides),
        cpm=about,
        outside=math.fsum(normal_cdf(-3.0 * side) for side in sides),
    )


def capability_study(
    value: Array, *, lower: float | None = None, upper: float | None = None, target: float | None = None,
    gauge_deviation: float | None = None, probability: float = 0.95,
) -> CapabilityStudy:  # fmt: skip
    r"""Capability indices of measured values, with intervals.

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        Values of different pieces, at least two.
    lower, upper : float, optional [unit of the values]
        Limits; at least one.
    target : float, optional [unit of the values]
        Value aimed at, for Cpm.
    gauge_deviation : float, optional [unit of the values]
        Standard deviation that gauge and operators add.
    probability : float [1]
        Of the intervals.

    Returns
    -------
    CapabilityStudy

    Raises
    ------
    OutOfValidRange
        Fewer than two values, one that is not finite, all equal, or as for `capability_indices`.

    Notes
    -----
    Cp: chi-square, exact for normal values. Cpk: non-central t for the nearer limit, exact with one limit and on the
    safe side at its lower end with two. Percentiles (from 1000 values): distances of the limits from the median over
    those of the 0.135 % and 99.865 % points.

    References
    ----------
    .. [1] S. Kotz, N. L. Johnson, Process Capability Indices, 1993, chapter 2 (from memory). Key ``kotz1993``.
    .. [2] ISO 22514-2:2017, percentile method (from memory). Key ``iso22514``.

    Examples
    --------
    >>> six = np.array([1.2, 1.5, 1.1, 1.4, 1.3, 1.6])
    >>> found = capability_study(six, upper=2.0)
    >>> round(found.indices.cpk, 2), [round(end, 2) for end in found.cpk_interval]
    (1.16, [0.41, 1.9])
    """
    if value.size < 2:
        raise OutOfValidRange("number of values", value.size, "at least 2")
    if not np.all(np.isfinite(value)):
        raise OutOfValidRange("a value", math.nan, "a finite number", "Leave out pieces that were not measured.")
    mean, sigma = float(value.mean()), float(value.std(ddof=1))
    if sigma <= _ROUNDING * float(np.abs(value).max()):
        sigma = 0.0  # equal values whose mean was rounded
    indices = capability_indices(mean, sigma, lower=lower, upper=upper, target=target)
    shape = normality(value) if value.size >= LEAST_VALUES else None
    alone, notes = _without_gauge(mean, sigma, gauge_deviation, lower=lower, upper=upper, target=target)
    return CapabilityStudy(
        count=value.size,
        mean=mean,
        sigma=sigma,
        indices=indices,
        cp_interval=None if indices.cp is None else _cp_interval(indices.cp, value.size, probability),
        cpk_interval=_cpk_interval(indices.cpk, value.size, probability),
        probability=probability,
        normality=shape,
        percentile=_by_percentiles(value, lower, upper) if value.size >= LEAST_FOR_PERCENTILES else None,
        parts_alone=alone,
        notes=(*_shape_notes(shape, value.size), *notes),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _need_limits(lower: float | None, upper: float | None) -> None:
    if lower is None and upper is None:
        raise OutOfValidRange("number of limits", 0, "at least one")
    if lower is not None and upper is not None and not lower < upper:
        raise OutOfValidRange("lower limit", lower, f"less than the upper, {upper:g}")


def _cp_interval(cp: float, count: int, probability: float) -> Interval:
    from scipy.special import gammaincinv

    degrees = count - 1
    tail = (1.0 - probability) / 2.0
    low, high = gammaincinv(degrees / 2.0, [tail, 1.0 - tail])
    return cp * math.sqrt(2.0 * float(low) / degrees), cp * math.sqrt(2.0 * float(high) / degrees)


def _cpk_interval(cpk: float, count: int, probability: float) -> Interval:
    from scipy.optimize import brentq
    from scipy.special import nctdtr

    root, degrees = 3.0 * math.sqrt(count), count - 1
    tail = (1.0 - probability) / 2.0
    seen = root * cpk
    if abs(cpk) > _FAR:  # the doubt of the mean is nothing beside that of sigma, and the distribution has no value
        low, high = sorted(_cp_interval(cpk, count, probability))
        return low, high

    def excess(centre: float, chance: float) -> float:
        return float(nctdtr(degrees, centre, seen)) - chance

    def end(chance: float, side: float) -> float:
        reach = 0.5 * (1.0 + abs(seen) / math.sqrt(degrees))
        while (
            excess(seen + side * reach, chance) * side > 0.0
        ):  # walk out just as far as needed: far out it has no value
            reach *= 1.4
        low, high = sorted((seen, seen + side * reach))
        return float(brentq(excess, low, high, args=(chance,))) / root

    return end(1.0 - tail, -1.0), end(tail, 1.0)


def _by_percentiles(value: Array, lower: float | None, upper: float | None) -> tuple[float | None, float]:
    low, middle, high = (float(one) for one in np.quantile(value, (0.00135, 0.5, 0.99865), method="median_unbiased"))
    sides = []
    if upper is not None:
        sides.append((upper - middle) / (high - middle))
    if lower is not None:
        sides.append((middle - lower) / (middle - low))
    both = None if lower is None or upper is None else (upper - lower) / (high - low)
    return both, min(sides)


def _shape_notes(shape: Normality | None, count: int) -> tuple[str, ...]:
    if shape is None:
        return (f"{count} values are too few to check normality; indices and intervals presume it.",)
    if shape.looks_normal:
        return ()
    tail = "use the percentile method." if count >= LEAST_FOR_PERCENTILES else "do not rest a promise on the indices."
    return (f"The values do not look normal (chance {shape.p:.2g}); {tail}",)


def _without_gauge(
    mean: float, sigma: float, gauge_deviation: float | None, *, lower: float | None, upper: float | None,
    target: float | None,
) -> tuple[CapabilityIndices | None, tuple[str, ...]]:  # fmt: skip
    if gauge_deviation is None:
        return None, ()
    if not gauge_deviation >= 0.0:
        raise OutOfValidRange("gauge_deviation", gauge_deviation, "zero or more")
    if not gauge_deviation < sigma:
        return None, ("The gauge alone scatters as much as the values do; nothing can be said of the parts.",)
    alone = math.sqrt(sigma**2 - gauge_deviation**2)
    return capability_indices(mean, alone, lower=lower, upper=upper, target=target), ()
