"""Stops by the clock, for runs that remove too little for a length gauge; the check by weighing; the two-step stop."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.distributions import normal_quantile

FIRST_STEP = 0.9  # share of the stock at which a two-step stop stops first: 85 to 95 %, common practice, no source
_NINETY = 1.6448536269514722  # quantile of the normal distribution at 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedStop:
    """How long to run by the clock. SI.

    `time` is the advice, `low` and `high` the 90 % interval of the time that the removal really takes; at `time` the
    removal is `expected`, and more than `removal` with the chance `chance_over`.
    """

    time: float
    low: float
    high: float
    expected: float
    chance_over: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoStepStop:
    """The first stop of two: when, at what removal, and what is then left. SI."""

    first: TimedStop
    removal_first: float
    left: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedStep:
    """A stretch of a run in which the same pieces carry the load: their numbers, the removal, the area and the time."""

    pieces: tuple[int, ...]
    removal: float
    area: float
    time: float


def timed_stop(
    removal: float, *, rate_low: float, rate: float, rate_high: float, over_to_under: float = 1.0
) -> TimedStop:
    """How long to run when only the clock stops the run.

    Parameters
    ----------
    removal : float [m]
        Removal wanted, above zero.
    rate_low, rate, rate_high : float [m/s]
        The rate and its 90 % interval.
    over_to_under : float [1]
        Cost of one metre too much against one metre too little.

    Returns
    -------
    TimedStop

    Raises
    ------
    OutOfValidRange
        The rates are not above zero and in order, or the removal is not above zero.

    Notes
    -----
    The logarithm of the rate is taken as normal. The time of least expected cost leaves a chance of 1/(1 + c) of
    removing too much: time = removal / rate · exp(−z σ), z the quantile at c/(1 + c).

    Examples
    --------
    >>> stop = timed_stop(1e-6, rate_low=0.8e-9, rate=1e-9, rate_high=1.25e-9, over_to_under=19.0)
    >>> round(stop.time), round(stop.chance_over, 3)
    (800, 0.05)
    """
    if not removal > 0.0:
        raise OutOfValidRange("removal", removal, "more than zero")
    if not 0.0 < rate_low <= rate <= rate_high:
        raise OutOfValidRange("rate", rate, f"above zero, between {rate_low:g} and {rate_high:g}")
    if not over_to_under > 0.0:
        raise OutOfValidRange("over_to_under", over_to_under, "more than zero")
    spread = math.log(rate_high / rate_low) / (2.0 * _NINETY)
    chance = 1.0 / (1.0 + over_to_under)
    time = removal / rate * math.exp(normal_quantile(chance) * spread)
    return TimedStop(
        time=time, low=removal / rate_high, high=removal / rate_low, expected=rate * time, chance_over=chance
    )


def two_step_stop(
    removal: float,
    *,
    rate_low: float,
    rate: float,
    rate_high: float,
    share: float = FIRST_STEP,
    over_to_under: float = 1.0,
) -> TwoStepStop:
    """The first of two stops: short of the removal even if the rate is at the top of its interval.

    Parameters
    ----------
    removal : float [m]
        Removal wanted, above zero.
    rate_low, rate, rate_high : float [m/s]
        The rate and its 90 % interval.
    share : float [1]
        Largest share of the removal to be expected at the first stop, above zero and below one.
    over_to_under : float [1]
        Cost of one metre too much against one metre too little.

    Returns
    -------
    TwoStepStop
        Then rinse, measure, and finish by `corrected_rate`. Its time is never longer than that of `timed_stop` with the
        same costs: a first step that took more than doing it in one go would defeat its purpose.

    Raises
    ------
    OutOfValidRange
        A share that is none, or what `timed_stop` refuses.

    Examples
    --------
    >>> stop = two_step_stop(10e-6, rate_low=0.9e-8, rate=1e-8, rate_high=1.05e-8)
    >>> round(stop.first.time), round(stop.left * 1e6, 1)
    (900, 1.0)
    """
    if not 0.0 < share < 1.0:
        raise OutOfValidRange("share", share, "more than 0 and less than 1")
    rates = {"rate_low": rate_low, "rate": rate, "rate_high": rate_high}
    in_one_go = timed_stop(removal, **rates, over_to_under=over_to_under)
    careful = min(share, rate / rate_high, in_one_go.expected / removal)
    first = timed_stop(careful * removal, **rates)
    return TwoStepStop(first=first, removal_first=careful * removal, left=(1.0 - careful) * removal)


def corrected_rate(removed: float, uncertainty: float, *, time: float, run_spread: float = 0.05) -> tuple[float, ...]:
    """The rate of a run so far with its 90 % interval, for the step that finishes it.

    Parameters
    ----------
    removed : float [m]
        Removal measured after the first step, above zero.
    uncertainty : float [m]
        Its standard uncertainty.
    time : float [s]
        Time the first step took, above zero.
    run_spread : float [1]
        Relative standard deviation by which the rate of a second step differs from the first; common practice, no
        source.

    Returns
    -------
    (float, float, float) [m/s]
        Low, middle, high.

    Raises
    ------
    OutOfValidRange
        Removal or time not above zero.

    Examples
    --------
    >>> low, middle, high = corrected_rate(9e-6, 0.1e-6, time=900.0)
    >>> round(middle * 1e9, 2)
    10.0
    """
    for name, value in (("removed", removed), ("time", time)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero")
    spread = math.exp(_NINETY * math.hypot(uncertainty / removed, run_spread))
    rate = removed / time
    return rate / spread, rate, rate * spread


def removal_by_weighing(mass_lost: float, mass_uncertainty: float, *, density: float, area: float) -> tuple[float, ...]:
    """Removal from the mass that is gone, and its standard uncertainty.

    Parameters
    ----------
    mass_lost : float [kg]
        Mass before less mass after, dry and clean.
    mass_uncertainty : float [kg]
        Standard uncertainty of one weighing.
    density : float [kg/m³]
        Density of the piece, above zero.
    area : float [m²]
        Area that was worked, above zero.

    Returns
    -------
    (float, float) [m]
        Δm / (ρ A), the mean over the area, and √2 u(m) / (ρ A).

    Raises
    ------
    OutOfValidRange
        Density or area not above zero.

    Examples
    --------
    >>> removal, doubt = removal_by_weighing(9.4e-6, 1e-7, density=7450.0, area=2.027e-3)
    >>> round(removal * 1e6, 2), round(doubt * 1e9)
    (0.62, 9)
    """
    for name, value in (("density", density), ("area", area)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero")
    per_metre = density * area
    return mass_lost / per_metre, math.sqrt(2.0) * mass_uncertainty / per_metre


def loaded_steps(
    heights: Sequence[float], areas: Sequence[float], *, final: float, rate: float
) -> tuple[LoadedStep, ...]:
    """How several pieces on one carrier come to share the load: the thickest first, all of them at the end.

    Parameters
    ----------
    heights : float sequence, length n [m]
        Height of each piece above the carrier's plane.
    areas : float sequence, length n [m²]
        Worked area of each.
    final : float [m]
        Height at which all are to end, not above the lowest piece: the thinnest decides.
    rate : float [m/s]
        Rate when all pieces carry the load, above zero.

    Returns
    -------
    tuple of LoadedStep
        In order; a step in which fewer pieces carry the same load goes faster by the ratio of the areas.

    Raises
    ------
    ShapeMismatch
        Heights and areas differ in number, or there is none.
    OutOfValidRange
        `final` above the lowest piece (that one would not be touched), or a rate not above zero.

    Examples
    --------
    >>> steps = loaded_steps([110e-6, 100e-6], [1e-4, 1e-4], final=90e-6, rate=1e-8)
    >>> [(step.pieces, round(step.removal * 1e6), round(step.time)) for step in steps]
    [((0,), 10, 500), ((0, 1), 10, 1000)]
    """
    if len(heights) != len(areas) or not heights:
        raise ShapeMismatch(heights=(len(heights),), areas=(len(areas),))
    if final > min(heights):
        raise OutOfValidRange("final", final, f"at most {min(heights):g}, the thinnest piece")
    if not rate > 0.0:
        raise OutOfValidRange("rate", rate, "more than zero")
    order = sorted(range(len(heights)), key=lambda piece: -heights[piece])
    whole = math.fsum(areas)
    steps = []
    for count, piece in enumerate(order, 1):
        below = heights[order[count]] if count < len(order) else final
        removal = heights[piece] - below
        if removal <= 0.0:
            continue
        area = math.fsum(areas[one] for one in order[:count])
        steps.append(
            LoadedStep(
                pieces=tuple(sorted(order[:count])), removal=removal, area=area, time=removal / rate * area / whole
            )
        )
    return tuple(steps)
