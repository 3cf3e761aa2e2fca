"""Is the gauge right: bias, linearity, drift on a check standard, resolution, a second gauge on the same piece.

Findings are values: a bias that is there is bad news, not an error. Repeats and random order: `study_plan`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.distributions import student_t_cdf, student_t_quantile
from lapwright.metrology.regression import linear_fit

Array = NDArray[np.float64]
Interval = tuple[float, float]

TENTH = 0.1  # of the tolerance: coarsest useful step (automotive MSA reference manual, 4th ed. 2010, from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class BiasStudy:
    """Mean deviation from a reference with its interval; `p` is the chance of one as large without any bias."""

    bias: float
    deviation: float
    standard_uncertainty: float
    degrees_of_freedom: float
    t: float | None
    p: float | None
    interval: Interval
    is_seen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendStudy:
    """A line through deviations: `slope` per unit of what runs along, its standard deviation, chance and interval.

    Along reference values it is linearity, along time it is drift. `residual` is the scatter about the line.
    """

    slope: float
    slope_deviation: float
    intercept: float
    residual: float
    degrees_of_freedom: int
    t: float | None
    p: float | None
    interval: Interval
    is_seen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ResolutionCheck:
    """Whether a gauge's step is fine enough, and why not. `step` is the one stated or the smallest one seen."""

    step: float
    fits_tolerance: bool | None
    shows_scatter: bool | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeComparison:
    """Two gauges on the same pieces or sites: mean difference, limits of agreement, and whether budgets explain it.

    `ratio` is the mean difference over its expanded uncertainty from the two budgets, None without them; up to 1 the
    two agree. `trend` tells whether the difference changes with the value.
    """

    difference: float
    deviation: float
    interval: Interval
    agreement: Interval
    ratio: float | None
    agree: bool | None
    trend: TrendStudy | None
    reason: str


def bias_study(
    readings: Array, *, reference: float, reference_uncertainty: float = 0.0, probability: float = 0.95
) -> BiasStudy:
    r"""Mean deviation of repeats from a reference value.

    Parameters
    ----------
    readings : float array, shape (n,) [unit of the values]
        Repeats on the reference; differences from it when `reference` is nought.
    reference : float [unit of the values]
        Its certified value.
    reference_uncertainty : float [unit of the values]
        Standard uncertainty of that.
    probability : float [1]
        Of the interval, and one less the chance at which a bias counts as seen.

    Returns
    -------
    BiasStudy
        Without a t and a chance when nothing scatters.

    Raises
    ------
    OutOfValidRange
        Fewer than two readings, one that is not finite, or a negative uncertainty.

    Notes
    -----
    .. math:: t = \bar d \big/ \sqrt{s^2/n + u_r^2}

    with Welch-Satterthwaite degrees of freedom.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 2.6.3 (test of a difference). Key ``nist_handbook``.

    Examples
    --------
    >>> found = bias_study(np.array([10.1, 10.2, 10.0, 10.1]), reference=10.0)
    >>> round(found.bias, 3), found.is_seen
    (0.1, False)
    """
    _need_values(readings, 2)
    if not reference_uncertainty >= 0.0:
        raise OutOfValidRange("reference_uncertainty", reference_uncertainty, "zero or more")
    steps = readings - reference
    bias, spread = float(steps.mean()), float(steps.std(ddof=1))
    scatter = spread / math.sqrt(readings.size)
    standard = math.hypot(scatter, reference_uncertainty)
    degrees = (readings.size - 1) * (standard / scatter) ** 4 if scatter > 0.0 else math.inf
    t, chance, reach = _tested(bias, standard, degrees, probability)
    return BiasStudy(
        bias=bias,
        deviation=spread,
        standard_uncertainty=standard,
        degrees_of_freedom=degrees,
        t=t,
        p=chance,
        interval=(bias - reach, bias + reach),
        is_seen=abs(bias) > reach,
    )


def trend_study(along: Array, deviation: Array, *, probability: float = 0.95) -> TrendStudy:
    """Whether deviations change along something: reference values (linearity) or time (drift of a check standard).

    Parameters
    ----------
    along : float array, shape (n,) [its unit]
        Reference values, or moments.
    deviation : float array, shape (n,) [unit of the values]
        Reading less reference at each.
    probability : float [1]
        Of the interval of the slope.

    Returns
    -------
    TrendStudy

    Raises
    ------
    ShapeMismatch
        The two differ in length.
    OutOfValidRange
        Fewer than three points, one that is not finite, or all at one place.

    References
    ----------
    .. [1] Automotive MSA reference manual, 4th ed. 2010, chapter III, linearity (from memory). Key ``msa2010``.

    Examples
    --------
    >>> found = trend_study(np.array([2.0, 4.0, 6.0, 8.0]), np.array([0.49, 0.13, -0.03, -0.32]))
    >>> round(found.slope, 4), found.is_seen
    (-0.1295, True)
    """
    if along.shape != deviation.shape:
        raise ShapeMismatch(along=along.shape, deviation=deviation.shape)
    _need_values(deviation, 3)
    fit = linear_fit(along[:, None], deviation)
    slope, spread = float(fit.coefficients[1]), float(fit.deviations[1])
    t, chance, reach = _tested(slope, spread, fit.degrees_of_freedom, probability)
    return TrendStudy(
        slope=slope,
        slope_deviation=spread,
        intercept=float(fit.coefficients[0]),
        residual=fit.residual_deviation,
        degrees_of_freedom=fit.degrees_of_freedom,
        t=t,
        p=chance,
        interval=(slope - reach, slope + reach),
        is_seen=abs(slope) > reach,
    )


def resolution_check(
    *, readings: Array | None = None, resolution: float | None = None, tolerance: float | None = None,
    repeatability: float | None = None,
) -> ResolutionCheck:  # fmt: skip
    """Whether the step of a gauge is fine enough for its tolerance and shows its own scatter.

    Parameters
    ----------
    readings : float array, shape (n,), optional [unit of the values]
        Readings from which the step is found when it is not stated: the smallest difference between two values.
    resolution : float, optional [unit of the values]
        Step as stated.
    tolerance : float, optional [unit of the values]
        Width of the tolerance; the step should be at most a tenth of it.
    repeatability : float, optional [unit of the values]
        Standard deviation of repeats; a step more than twice as large hides the scatter, and repeats do not help.

    Returns
    -------
    ResolutionCheck

    Raises
    ------
    OutOfValidRange
        Neither a step nor readings of at least two different values; a number that is not above zero.

    Examples
    --------
    >>> resolution_check(resolution=1e-6, tolerance=4e-6).fits_tolerance
    False
    """
    step = _smallest_step(readings) if resolution is None else resolution
    for name, number in (("resolution", step), ("tolerance", tolerance)):
        if number is not None and not number > 0.0:
            raise OutOfValidRange(name, number, "more than zero")
    fits = None if tolerance is None else step <= TENTH * tolerance * (1.0 + 1e-9)
    shows = None if repeatability is None else step <= 2.0 * repeatability * (1.0 + 1e-9)
    reasons = []
    if fits is False and tolerance:
        reasons.append(f"The step is {step / tolerance:.0%} of the tolerance; at most 10 % is useful.")
    if shows is False:
        reasons.append("The step is more than twice the repeatability: repeats show the same number, not the scatter.")
    return ResolutionCheck(
        step=step, fits_tolerance=fits, shows_scatter=shows, reason=" ".join(reasons) or "Nothing speaks against it."
    )


def gauge_comparison(
    first: Array, second: Array, *, uncertainties: tuple[float, float] | None = None, probability: float = 0.95
) -> GaugeComparison:
    r"""Two gauges on the same sites: their difference, how far single readings agree, and whether budgets explain it.

    Parameters
    ----------
    first, second : float arrays, shape (n,) [unit of the values]
        Readings of the two at the same sites, in the same order.
    uncertainties : two floats, optional [unit of the values]
        Expanded uncertainty of each gauge for what is common to all sites.
    probability : float [1]
        Of the interval of the mean difference.

    Returns
    -------
    GaugeComparison
        The difference is first less second.

    Raises
    ------
    ShapeMismatch
        The two differ in length.
    OutOfValidRange
        Fewer than three sites, a reading that is not finite, or a negative uncertainty.

    Notes
    -----
    Limits of agreement :math:`\bar d \pm 1.96 s` [1]_. The two agree when
    :math:`|\bar d| \le \sqrt{U_1^2 + U_2^2 + U_d^2}` with :math:`U_d` the half-width of the interval of the mean [2]_.

    References
    ----------
    .. [1] J. M. Bland, D. G. Altman, Lancet 327 (1986) 307. Key ``bland1986``.
    .. [2] ISO 13528:2022, E_n score (from memory). Key ``iso13528``.

    Examples
    --------
    >>> found = gauge_comparison(np.array([5.1, 6.1, 7.2]), np.array([5.0, 6.0, 7.0]), uncertainties=(0.1, 0.1))
    >>> round(found.difference, 3), found.agree
    (0.133, True)
    """
    if first.shape != second.shape:
        raise ShapeMismatch(first=first.shape, second=second.shape)
    steps = first - second
    _need_values(steps, 3)
    bias = bias_study(steps, reference=0.0, probability=probability)
    reach = bias.interval[1] - bias.bias
    means = 0.5 * (first + second)
    ratio = agree = None
    if uncertainties is not None:
        if min(uncertainties) < 0.0:
            raise OutOfValidRange("uncertainties", min(uncertainties), "zero or more")
        whole = math.hypot(*uncertainties, reach)
        ratio = abs(bias.bias) / whole if whole > 0.0 else (0.0 if bias.bias == 0.0 else math.inf)
        agree = ratio <= 1.0
    reason = {
        None: "Whether they agree cannot be said without their uncertainties.",
        True: "The difference is within what the two uncertainties allow.",
        False: "The difference is larger than the two uncertainties allow: one of them is off. Check both zeros.",
    }[agree]
    return GaugeComparison(
        difference=bias.bias,
        deviation=bias.deviation,
        interval=bias.interval,
        agreement=(bias.bias - 1.96 * bias.deviation, bias.bias + 1.96 * bias.deviation),
        ratio=ratio,
        agree=agree,
        trend=trend_study(means, steps, probability=probability) if np.ptp(means) > 0.0 else None,
        reason=reason,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _need_values(values: Array, needed: int) -> None:
    if values.size < needed:
        raise OutOfValidRange("number of readings", values.size, f"at least {needed}")
    if not np.all(np.isfinite(values)):
        raise OutOfValidRange("a reading", math.nan, "a finite number", "Leave out readings that were not taken.")


def _tested(
    estimate: float, standard: float, degrees: float, probability: float
) -> tuple[float | None, float | None, float]:
    """Student t, its two-sided chance, and the half-width of the interval."""
    reach = student_t_quantile(0.5 + 0.5 * probability, degrees) * standard
    if not standard > 0.0:
        return None, None, reach
    t = estimate / standard
    return t, 2.0 * student_t_cdf(-abs(t), degrees), reach


def _smallest_step(readings: Array | None) -> float:
    values = np.unique(readings) if readings is not None else np.empty(0)
    if values.size < 2:
        raise OutOfValidRange("number of different readings", values.size, "at least 2", "State the resolution.")
    steps = np.diff(values)
    return float(steps[steps > 1e-9 * np.ptp(values)].min())
