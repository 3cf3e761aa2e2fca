"""Control charts: limits from the data or given, points, and signals that say what they detect.

The factors d2, d3 and c4 are computed, not typed. Points are numbered from 0. A rule is named by what it detects.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.run_rules import Rule, Signal, rule_signals

Array = NDArray[np.float64]
_NODES = 160


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """Plotted points, centre line, limits at each point (None = no limit there), signals, in the unit of the values.

    `sigma` is the standard deviation of the plotted value that the limits rest on.
    """

    kind: str
    points: Array
    centre: float
    lower: Array | None
    upper: Array | None
    sigma: float
    signals: tuple[Signal, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeFactors:
    """Mean d2 and standard deviation d3 of the range, and mean c4 of the standard deviation, of n normal values."""

    d2: float
    d3: float
    c4: float


@cache
def range_factors(count: int) -> RangeFactors:
    """Factors d2, d3 and c4 of a subgroup of `count` normal values.

    Parameters
    ----------
    count : int
        Size of the subgroup, from 2.

    Returns
    -------
    RangeFactors

    Notes
    -----
    P(R > w) = 1 − n ∫ φ(x) [Φ(x + w) − Φ(x)]ⁿ⁻¹ dx; d2 = ∫ P dw, d2² + d3² = ∫ 2 w P dw;
    c4 = sqrt(2/(n − 1)) Γ(n/2)/Γ((n − 1)/2) [1]_.

    References
    ----------
    .. [1] ASTM MNL 7, Manual on Presentation of Data and Control Chart Analysis, table of factors (values). Key
       ``astm_mnl7``.

    Examples
    --------
    >>> round(range_factors(5).d2, 3)
    2.326
    """
    if count < 2:
        raise OutOfValidRange("count", count, "at least 2")
    places, weights = np.polynomial.legendre.leggauss(_NODES)
    x, width = 9.0 * places, 8.0 * (places + 1.0)  # of the smallest value, and of the range
    inside = _normal(x[:, None] + width[None, :]) - _normal(x)[:, None]
    density = 9.0 * weights * np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)
    above = 1.0 - count * density @ inside ** (count - 1)
    d2 = float(8.0 * weights @ above)
    square = float(8.0 * weights @ (2.0 * width * above))
    c4 = math.sqrt(2.0 / (count - 1)) * math.exp(math.lgamma(count / 2) - math.lgamma((count - 1) / 2))
    return RangeFactors(d2=d2, d3=math.sqrt(square - d2 * d2), c4=c4)


def individuals_chart(
    value: Array,
    *,
    centre: float | None = None,
    sigma: float | None = None,
    rules: tuple[Rule, ...] = ("beyond_limit",),
) -> Chart:
    """Chart of single values; without given numbers, sigma is the mean moving range over d2(2).

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        Values in the order taken, at least two.
    centre : float or None [unit of the values]
        Centre line; the mean when None.
    sigma : float or None [unit of the values]
        Standard deviation; from moving ranges when None.
    rules : tuple of rule names
        What to look for.

    Returns
    -------
    Chart

    Raises
    ------
    OutOfValidRange
        Too few points, one that is not finite, or a parameter out of its range.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods (key ``nist_handbook``), 6.3.2.2.

    Examples
    --------
    >>> chart = individuals_chart(np.array([10.0, 10.2, 9.9, 10.1, 12.0]), centre=10.0, sigma=0.2)
    >>> chart.signals
    (Signal(index=4, rule='beyond_limit'),)
    """
    _need_points(value, 2)
    if sigma is not None:
        _need_positive("sigma", sigma)
    middle = float(value.mean()) if centre is None else centre
    spread = float(np.abs(np.diff(value)).mean()) / range_factors(2).d2 if sigma is None else sigma
    return _level_chart("individuals", value, middle, spread, rules)


def moving_range_chart(value: Array) -> Chart:
    """Chart of the differences between neighbours, without their sign.

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        Values in the order taken, at least two.

    Returns
    -------
    Chart
        One point fewer than values.

    Raises
    ------
    OutOfValidRange
        Too few points, one that is not finite, or a parameter out of its range.

    Examples
    --------
    >>> round(float(moving_range_chart(np.array([1.0, 2.0, 1.0, 2.0])).upper[0]), 3)
    3.267
    """
    _need_points(value, 2)
    ranges = np.abs(np.diff(value))
    return _spread_chart("moving range", ranges, float(ranges.mean()), range_factors(2))


def mean_chart(
    subgroups: Array, *, by: Literal["range", "deviation"] = "range", rules: tuple[Rule, ...] = ("beyond_limit",)
) -> tuple[Chart, Chart]:
    """Charts of subgroup means and of their ranges or standard deviations.

    Parameters
    ----------
    subgroups : float array, shape (k, n) [unit of the values]
        k subgroups of n values.
    by : {"range", "deviation"}
        What the spread is taken from.
    rules : tuple of rule names
        What to look for among the means.

    Returns
    -------
    (Chart, Chart)
        Means; ranges or standard deviations.

    Raises
    ------
    OutOfValidRange
        Too few points, one that is not finite, or a parameter out of its range.

    Examples
    --------
    >>> means, ranges = mean_chart(np.array([[1.0, 3.0], [2.0, 4.0], [1.0, 3.0]]))
    >>> round(ranges.centre, 3)
    2.0
    """
    _need_points(subgroups, 2)
    count = subgroups.shape[1]
    if count < 2:
        raise OutOfValidRange("values in a subgroup", count, "at least 2")
    factors = range_factors(count)
    means = subgroups.mean(axis=1)
    if by == "range":
        spreads = np.ptp(subgroups, axis=1)
        sigma = float(spreads.mean()) / factors.d2
        second = _spread_chart("range", spreads, float(spreads.mean()), factors)
    else:
        spreads = subgroups.std(axis=1, ddof=1)
        sigma = float(spreads.mean()) / factors.c4
        second = _deviation_chart(spreads, float(spreads.mean()), factors)
    return _level_chart("mean", means, float(means.mean()), sigma / math.sqrt(count), rules), second


def ewma_chart(
    value: Array, *, weight: float, target: float, sigma: float, limit: float = 3.0, steady: bool = True
) -> Chart:
    """Exponentially weighted moving average: z = λ x + (1 − λ) z, from the target.

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        Values in the order taken.
    weight : float [1]
        λ, more than 0 and at most 1.
    target : float [unit of the values]
        Start and centre line.
    sigma : float [unit of the values]
        Standard deviation of the values.
    limit : float [1]
        L; limits at ± L σ sqrt(λ/(2 − λ)).
    steady : bool
        True for steady limits; False for the narrower ones of the first points.

    Returns
    -------
    Chart
        The first point is the target itself.

    Raises
    ------
    OutOfValidRange
        Too few points, one that is not finite, or a parameter out of its range.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods (key ``nist_handbook``), 6.3.2.4.

    Examples
    --------
    >>> chart = ewma_chart(np.array([52.0, 47.0]), weight=0.3, target=50.0, sigma=2.0539)
    >>> [round(float(point), 2) for point in chart.points]
    [50.0, 50.6, 49.52]
    """
    if not 0.0 < weight <= 1.0:
        raise OutOfValidRange("weight", weight, "more than 0 and at most 1")
    _need_points(value, 1)
    _need_positive("sigma", sigma)
    _need_positive("limit", limit)
    points = _smoothed(value, weight, target)
    index = np.arange(points.size)
    reach = np.full(points.size, math.sqrt(weight / (2.0 - weight)))
    if not steady:
        reach *= np.sqrt(1.0 - (1.0 - weight) ** (2 * np.maximum(index, 1)))
    upper, lower = target + limit * sigma * reach, target - limit * sigma * reach
    out = np.flatnonzero((points > upper) | (points < lower))
    return Chart(
        kind="ewma",
        points=points,
        centre=target,
        lower=lower,
        upper=upper,
        sigma=sigma * math.sqrt(weight / (2.0 - weight)),
        signals=tuple(Signal(index=int(i), rule="beyond_limit") for i in out),
    )


def cusum_chart(
    value: Array, *, target: float, sigma: float, reference: float = 0.5, decision: float = 5.0, headstart: float = 0.0
) -> tuple[Chart, Chart]:
    """Upper and lower cumulative sums of the deviations from the target beyond a slack of k standard deviations.

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        Values in the order taken.
    target : float [unit of the values]
        Value aimed at.
    sigma : float [unit of the values]
        Standard deviation of the values.
    reference : float [1]
        k, the slack.
    decision : float [1]
        h, the sum that signals.
    headstart : float [1]
        Sum at the start.

    Returns
    -------
    (Chart, Chart)
        Upper and lower sums, in standard deviations, one point per value.

    Raises
    ------
    OutOfValidRange
        Too few points, one that is not finite, or a parameter out of its range.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods (key ``nist_handbook``), 6.3.2.3.

    Examples
    --------
    >>> upper, _ = cusum_chart(np.array([11.0, 12.0]), target=10.0, sigma=1.0)
    >>> [round(float(point), 2) for point in upper.points]
    [0.5, 2.0]
    """
    _need_points(value, 1)
    _need_positive("sigma", sigma)
    _need_positive("decision", decision)
    if not 0.0 <= headstart < decision:
        raise OutOfValidRange("headstart", headstart, f"from 0 to below the decision interval, {decision:g}")
    if not reference >= 0.0:
        raise OutOfValidRange("reference", reference, "zero or more")
    standard = (value - target) / sigma
    charts = []
    for side, name in ((1.0, "cusum upper"), (-1.0, "cusum lower")):
        points = _summed(side * standard - reference, headstart)
        out = np.flatnonzero(points > decision)
        charts.append(
            Chart(
                kind=name,
                points=points,
                centre=0.0,
                lower=None,
                upper=np.full(points.size, decision),
                sigma=1.0,
                signals=tuple(Signal(index=int(i), rule="beyond_limit") for i in out),
            )
        )
    return charts[0], charts[1]


def count_chart(counts: Array) -> Chart:
    """Chart of counts per inspected unit (c chart): limits at the mean ± 3 sqrt(mean), never below zero.

    Parameters
    ----------
    counts : float array, shape (n,) [1]
        Counts, zero or more.

    Returns
    -------
    Chart

    Raises
    ------
    OutOfValidRange
        Too few points, one that is not finite, or a parameter out of its range.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods (key ``nist_handbook``), 6.3.3.1.

    Examples
    --------
    >>> float(count_chart(np.array([16.0, 16.0, 16.0])).upper[0])
    28.0
    """
    _need_counts(counts)
    mean = float(counts.mean())
    return _bounded_chart("count", counts, mean, np.full(counts.size, math.sqrt(mean)))


def share_chart(counts: Array, sizes: Array) -> Chart:
    """Chart of the share of nonconforming items (p chart) in samples that may differ in size.

    Parameters
    ----------
    counts : float array, shape (n,) [1]
        Nonconforming items in each sample.
    sizes : float array, shape (n,) [1]
        Items in each sample.

    Returns
    -------
    Chart

    Raises
    ------
    OutOfValidRange
        Too few points, one that is not finite, or a parameter out of its range.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods (key ``nist_handbook``), 6.3.3.2.

    Examples
    --------
    >>> round(share_chart(np.array([5.0, 10.0]), np.array([50.0, 50.0])).centre, 3)
    0.15
    """
    _need_counts(counts)
    if counts.shape != sizes.shape:
        raise ShapeMismatch(counts=counts.shape, sizes=sizes.shape)
    if not np.all((sizes > 0.0) & (counts <= sizes)):
        worst = int(np.argmin((sizes > 0.0) & (counts <= sizes)))
        raise OutOfValidRange("nonconforming items in a sample", float(counts[worst]), "at most the size of the sample")
    share = float(counts.sum() / sizes.sum())
    return _bounded_chart("share", counts / sizes, share, np.sqrt(share * (1.0 - share) / sizes))


# ----------------------------------------------------------------------------------------------------------------------


def _normal(z: Array) -> Array:
    flat = [0.5 * math.erfc(-value / math.sqrt(2.0)) for value in z.ravel().tolist()]
    return np.array(flat).reshape(z.shape)


def _level_chart(kind: str, points: Array, centre: float, sigma: float, rules: tuple[Rule, ...]) -> Chart:
    reach = np.full(points.size, 3.0 * sigma)
    return Chart(
        kind=kind,
        points=points,
        centre=centre,
        lower=centre - reach,
        upper=centre + reach,
        sigma=sigma,
        signals=rule_signals(points, centre=centre, sigma=sigma, rules=rules),
    )


def _spread_chart(kind: str, ranges: Array, centre: float, factors: RangeFactors) -> Chart:
    return _bounded_chart(kind, ranges, centre, np.full(ranges.size, centre * factors.d3 / factors.d2))


def _deviation_chart(deviations: Array, centre: float, factors: RangeFactors) -> Chart:
    share = math.sqrt(1.0 - factors.c4**2) / factors.c4
    return _bounded_chart("deviation", deviations, centre, np.full(deviations.size, centre * share))


def _bounded_chart(kind: str, points: Array, centre: float, sigma: Array) -> Chart:
    upper, lower = centre + 3.0 * sigma, np.maximum(centre - 3.0 * sigma, 0.0)
    out = np.flatnonzero((points > upper) | (points < lower))
    return Chart(
        kind=kind,
        points=points,
        centre=centre,
        lower=lower,
        upper=upper,
        sigma=float(sigma.mean()),
        signals=tuple(Signal(index=int(i), rule="beyond_limit") for i in out),
    )


def _smoothed(value: Array, weight: float, start: float) -> Array:
    from scipy.signal import lfilter

    rest = lfilter([weight], [1.0, weight - 1.0], value, zi=[(1.0 - weight) * start])[0]
    return np.concatenate(([start], np.asarray(rest, dtype=np.float64)))


def _summed(steps: Array, start: float) -> Array:
    """Sums that never fall below zero: the running sum less its lowest value so far."""
    total = start + np.cumsum(steps)
    lowest = np.minimum.accumulate(np.minimum(total, 0.0))
    return np.asarray(total - lowest)


def _need_points(value: Array, needed: int) -> None:
    if value.shape[0] < needed:
        raise OutOfValidRange("number of points", value.shape[0], f"at least {needed}")
    if not np.all(np.isfinite(value)):
        raise OutOfValidRange("a point", math.nan, "a finite number", "Leave out points that were not measured.")


def _need_counts(counts: Array) -> None:
    _need_points(counts, 1)
    if counts.min() < 0.0:
        raise OutOfValidRange("a count", float(counts.min()), "zero or more")


def _need_positive(name: str, value: float) -> None:
    if not value > 0.0:
        raise OutOfValidRange(name, value, "more than zero")
