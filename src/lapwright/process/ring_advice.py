"""Where to set the ring, and for how long, so that a plate comes back true.

The wear law gives how the dome grows with the place of the ring; how fast the plate wears, and by how much its true
neutral place differs from the computed one, is learned from the plate's own checks. Until there are any, a wide prior
stands in, and the advice says how little it knows. Advice is for one go: run, look again, and the next advice knows
more. Never chase below what the check can see.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.process.plate_course import DomeAt, Leg
from lapwright.process.plate_wear import Footprint, Land, wear_profile

Floats = NDArray[np.float64]
AdviceKind = Literal["leave", "condition", "dress"]

WEAR_PRIOR = 5e-6 / 3600.0  # m/s, median mean wear of a plate while it runs (own judgement, x/÷ 3)
_WEAR_SPREAD = math.log(3.0)
_SHIFT_PRIOR = 2e-3  # m, by how much the true neutral place differs from the computed one
_LAW_DOUBT = 0.1  # of a change of the dome: what the wear law leaves out
_FAR_DOUBT = 30.0  # 1/m, the same for each metre from the nearest place the ring has been seen at (3 % a millimetre)
_CAUTION = 0.3  # of the variance of the learned rate, how much of it shortens a go (own judgement)
_TIME_WORTH = 1e-6 / 3600.0  # m/s: an hour of conditioning is worth a micrometre of doubt (own judgement)
_GRID = 56  # places over the land at which the wear law is worked out; in between it is taken straight
_LEAST_TIME, _LONGEST_TIME = 600.0, 4.0 * 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RingSetup:
    """A plate's land, what rubs on it, the places that the ring can be set to [m], and its present place."""

    land: Land
    footprints: tuple[Footprint, ...]
    least_offset: float
    most_offset: float
    offset: float
    speed_ratio: float = 1.0

    def __post_init__(self) -> None:
        if not 0.0 <= self.least_offset < self.most_offset:
            raise OutOfValidRange("most_offset", self.most_offset, "more than the least offset [m]")


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedWear:
    """What the checks of a plate say of its wear: equally fine cells of speed and shift with their chances.

    `wear_speed` [m/s] and `neutral_shift` [m] (the true neutral place lies that much farther out than computed), each
    of shape (n,), with `cell_chances` that sum to one. `dome_changes` counts the changes of the dome it rests on;
    `seen_offsets` [m] are the places of the ring they were seen at.
    """

    wear_speed: Floats
    neutral_shift: Floats
    cell_chances: Floats
    dome_changes: int
    seen_offsets: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RingAdvice:
    """What to do about a plate's shape.

    `leave`: true enough. `condition`: set the ring to `offset` [m], which is `move` from where it is (outward
    positive), run for `duration` [s], then set it to `offset_after` and look again; the dome is then expected at
    `expected_dome` with a standard uncertainty. `dress`: no place of the ring brings it back in four hours.
    `neutral_ratio` is the speed ratio at which the ring could stay where it is, None when there is none up to 2.
    """

    kind: AdviceKind
    offset: float
    move: float
    duration: float
    offset_after: float
    expected_dome: float
    expected_uncertainty: float
    neutral_ratio: float | None
    sentences: tuple[str, ...]


def learned_wear(course: Sequence[DomeAt], setup: RingSetup) -> LearnedWear:
    r"""Speed of wear and shift of the neutral place, from the changes of the dome between checks.

    Parameters
    ----------
    course : sequence of DomeAt
        Checks in their order; none is allowed.
    setup : RingSetup
        Land and ring.

    Returns
    -------
    LearnedWear

    Notes
    -----
    The change over an interval is :math:`K \sum_i g(e_i - \delta)\,t_i`, g the trend of the wear law at a place, K the
    speed of wear, delta the shift. Priors: K log-normal about 5 µm/h, factor of 3; delta normal, 2 mm. The likelihood
    takes the uncertainties of both checks, shared between neighbours, and 10 % of each change for what the law leaves
    out. Worked out on a grid: 65 speeds by 33 shifts.

    Examples
    --------
    >>> setup = RingSetup(land=Land(inner_radius=0.04, outer_radius=0.15),
    ...                   footprints=(Footprint(outer_radius=0.065, inner_radius=0.05),),
    ...                   least_offset=0.085, most_offset=0.11, offset=0.103)
    >>> leg = Leg(offset=0.103, duration=7200.0)
    >>> course = [DomeAt(dome=h * 1e-6, dome_uncertainty=3e-7, legs=(leg,)) for h in (0.0, 6.0, 12.0)]
    >>> found = learned_wear(course, setup)
    >>> found.dome_changes, round(float(expected_rate(found, setup, 0.103)[0]) * 3600e6, 1)
    (2, 3.0)
    """
    grid = np.meshgrid(
        WEAR_PRIOR * np.exp(np.linspace(-3.0, 3.0, 65) * _WEAR_SPREAD), np.linspace(-8e-3, 8e-3, 33), indexing="ij"
    )
    speed, shift = (np.asarray(axis, dtype=np.float64).ravel() for axis in grid)
    log_chance = -0.5 * (np.log(speed / WEAR_PRIOR) / _WEAR_SPREAD) ** 2 - 0.5 * (shift / _SHIFT_PRIOR) ** 2
    used = [i for i in range(1, len(course)) if not course[i].dressed and course[i].ran > 0.0]
    if used:
        change = np.array([course[i].dome - course[i - 1].dome for i in used])
        wanted = np.stack([speed * _driven(setup, course[i].legs, shift) for i in used])
        spread = np.linalg.inv(_spread(course, used, change))
        off = change[:, None] - wanted
        log_chance = log_chance - 0.5 * np.einsum("in,ij,jn->n", off, spread, off)
    cell_chances = np.exp(log_chance - log_chance.max())
    return LearnedWear(
        wear_speed=speed,
        neutral_shift=shift,
        cell_chances=cell_chances / cell_chances.sum(),
        dome_changes=len(used),
        seen_offsets=tuple(sorted({leg.offset for i in used for leg in course[i].legs})),
    )


def expected_rate(
    learned: LearnedWear, setup: RingSetup, offset: float, *, speed_ratio: float | None = None
) -> tuple[float, float]:
    """How fast the dome grows with the ring at a place, with its standard uncertainty.

    Parameters
    ----------
    learned : LearnedWear
        What the checks say.
    setup : RingSetup
        Land and ring.
    offset : float [m]
        Place of the ring.
    speed_ratio : float, optional [1]
        The setup's own when not given.

    Returns
    -------
    tuple of float [m/s]

    Examples
    --------
    >>> setup = RingSetup(land=Land(inner_radius=0.04, outer_radius=0.15), least_offset=0.085, most_offset=0.11,
    ...                   footprints=(Footprint(outer_radius=0.065, inner_radius=0.05),), offset=0.1)
    >>> expected_rate(learned_wear([], setup), setup, 0.11)[0] > 0.0
    True
    """
    ratio = setup.speed_ratio if speed_ratio is None else speed_ratio
    rates = learned.wear_speed * _trends(setup, ratio, offset - learned.neutral_shift)
    mean = float(np.sum(learned.cell_chances * rates))
    return mean, math.sqrt(max(float(np.sum(learned.cell_chances * (rates - mean) ** 2)), 0.0))


def ring_advice(
    dome: float, dome_uncertainty: float, learned: LearnedWear, setup: RingSetup, *, dome_limit: float
) -> RingAdvice:
    r"""Place and time of the ring that bring a plate back to flat, or that it is true enough, or must be dressed.

    Parameters
    ----------
    dome : float [m]
        Of the plate now, domed positive.
    dome_uncertainty : float [m]
        Its standard uncertainty, more than zero.
    learned : LearnedWear
        What its checks say of its wear.
    setup : RingSetup
        Land, ring, and where it can be set.
    dome_limit : float [m]
        Largest dome allowed, more than zero.

    Returns
    -------
    RingAdvice

    Raises
    ------
    OutOfValidRange
        A measure that is not above zero.

    Notes
    -----
    True enough is a dome below half the limit, or below twice the uncertainty of the check. At each place the time is

    .. math:: t = -S \frac{E[\dot S]}{E[\dot S]^2 (1 + q^2) + 0.3 \operatorname{Var}[\dot S]}

    with q the doubt of the law, 10 % and 3 % more for each millimetre from the nearest place that the ring has been
    seen at: the less is known the shorter, so that the next check comes before the plate has gone too far. Of the
    places for which that is 10 min to 4 h the one with the least left and the least doubt is taken, an hour counting as
    much as a micrometre.

    Examples
    --------
    >>> setup = RingSetup(land=Land(inner_radius=0.04, outer_radius=0.15), least_offset=0.085, most_offset=0.11,
    ...                   footprints=(Footprint(outer_radius=0.065, inner_radius=0.05),), offset=0.103)
    >>> leg = Leg(offset=0.103, duration=7200.0)
    >>> course = [DomeAt(dome=h * 1e-6, dome_uncertainty=3e-7, legs=(leg,)) for h in (0.0, 6.0, 12.0)]
    >>> advice = ring_advice(12e-6, 3e-7, learned_wear(course, setup), setup, dome_limit=5e-6)
    >>> advice.kind, advice.move < 0.0
    ('condition', True)
    """
    for name, value in (("dome_uncertainty", dome_uncertainty), ("dome_limit", dome_limit)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero")
    places = np.linspace(setup.least_offset, setup.most_offset, 61).round(4)
    rates = np.array([expected_rate(learned, setup, float(place)) for place in places])
    after = float(places[np.argmin(np.abs(rates[:, 0]))])
    ratio = _neutral_ratio(learned, setup)
    told = {"offset_after": after, "neutral_ratio": ratio}
    if abs(dome) <= max(0.5 * dome_limit, 2.0 * dome_uncertainty):
        return _leave(dome, dome_uncertainty, setup, told)
    mean, spread = rates[:, 0], rates[:, 1]
    law = _LAW_DOUBT + _FAR_DOUBT * _from_seen(places, learned)
    square = mean**2 * (1.0 + law**2) + _CAUTION * spread**2
    times = -dome * np.divide(mean, square, out=np.zeros_like(mean), where=square > 0.0)
    fit = np.flatnonzero((times >= _LEAST_TIME) & (times <= _LONGEST_TIME))
    if not fit.size:
        return _dress(dome, dome_uncertainty, setup, told)
    left = dome + mean * times
    doubts = np.sqrt(dome_uncertainty**2 + (spread * times) ** 2 + (law * mean * times) ** 2)
    best = int(fit[np.argmin((np.hypot(doubts, left) + _TIME_WORTH * times)[fit])])
    doubt = float(doubts[best])
    told["expected_dome"] = float(left[best])
    return _condition(dome, float(places[best]), float(times[best]), doubt, setup, told)


# ----------------------------------------------------------------------------------------------------------------------


def _from_seen(places: Floats, learned: LearnedWear) -> Floats:
    """Distance of each place from the nearest that the ring has been seen at; zero while there is none [m]."""
    if not learned.seen_offsets:
        return np.zeros_like(places)
    return np.asarray(np.min(np.abs(places[:, None] - np.array(learned.seen_offsets)), axis=1), dtype=np.float64)


def _driven(setup: RingSetup, legs: tuple[Leg, ...], shift: Floats) -> Floats:
    """Change of the dome per speed of wear over some legs, for each shift [s]."""
    parts = [_trends(setup, leg.speed_ratio, leg.offset - shift) * leg.duration for leg in legs]
    return np.asarray(np.sum(parts, axis=0), dtype=np.float64)


def _spread(course: Sequence[DomeAt], used: list[int], change: Floats) -> Floats:
    """Covariance of the changes: neighbours share the check between them, with opposite signs."""
    squares = [check.dome_uncertainty**2 for check in course]
    spread = np.diag([squares[i] + squares[i - 1] for i in used]) + np.diag((_LAW_DOUBT * change) ** 2)
    for row, i in enumerate(used):
        for column, j in enumerate(used):
            if j == i - 1:
                spread[row, column] = spread[column, row] = -squares[j]
    return spread


def _trends(setup: RingSetup, speed_ratio: float, offsets: Floats) -> Floats:
    """Trend of the wear law at places, from a table."""
    places, trends = _table(setup.land, setup.footprints, round(speed_ratio, 4))
    return np.interp(offsets, places, trends)


@lru_cache(maxsize=64)
def _table(land: Land, footprints: tuple[Footprint, ...], speed_ratio: float) -> tuple[Floats, Floats]:
    everywhere = np.linspace(land.inner_radius, land.outer_radius, _GRID)[:-1]
    found = [(float(place), _trend_at(land, footprints, float(place), speed_ratio)) for place in everywhere]
    places = [place for place, trend in found if trend is not None]
    trends = [trend for _, trend in found if trend is not None]
    if len(places) < 2:
        raise OutOfValidRange("footprints", len(places), "a ring that lies on the land at two places at least")
    return np.array(places), np.array(trends)


def _neutral_ratio(learned: LearnedWear, setup: RingSetup) -> float | None:
    """The speed ratio at which the dome stays with the ring where it is; None when none from 0.2 to 2."""
    shift = float(np.sum(learned.cell_chances * learned.neutral_shift))
    ratios = np.arange(0.2, 2.01, 0.2).round(2)
    place = round(setup.offset - shift, 3)
    trends = [_trend_at(setup.land, setup.footprints, place, float(ratio)) for ratio in ratios]
    for i, (below, above) in enumerate(pairwise(trends)):
        if below is not None and above is not None and (below > 0.0) != (above > 0.0):
            return float(ratios[i] + 0.2 * below / (below - above))
    return None


@lru_cache(maxsize=512)
def _trend_at(land: Land, footprints: tuple[Footprint, ...], offset: float, speed_ratio: float) -> float | None:
    """Trend of the wear law at a place; None where the ring does not lie on the land."""
    try:
        return wear_profile(land, footprints, offset=offset, speed_ratio=speed_ratio).dome_trend
    except OutOfValidRange:
        return None


def _way(dome: float) -> str:
    return "domed" if dome > 0.0 else "dished"


def _leave(dome: float, doubt: float, setup: RingSetup, told: dict[str, float | None]) -> RingAdvice:
    return RingAdvice(
        kind="leave", offset=setup.offset, move=0.0, duration=0.0, expected_dome=dome, expected_uncertainty=doubt,
        sentences=(f"The plate is {_way(dome)} by {abs(dome) * 1e6:.1f} µm: true enough. Leave the shape alone.",),
        **told,  # type: ignore[arg-type]
    )  # fmt: skip


def _condition(
    dome: float, offset: float, duration: float, doubt: float, setup: RingSetup, told: dict[str, float | None]
) -> RingAdvice:
    move = offset - setup.offset
    place = f"{offset * 1e3:.1f} mm"
    after, left = told["offset_after"] or 0.0, told["expected_dome"] or 0.0
    step = (
        f"Leave the ring at {place}" if abs(move) < 2.5e-4
        else f"Move the ring {abs(move) * 1e3:.1f} mm {'outward' if move > 0.0 else 'inward'}, to {place}"
    )  # fmt: skip
    return RingAdvice(
        kind="condition", offset=offset, move=move, duration=duration, expected_uncertainty=doubt,
        sentences=(
            f"The plate is {_way(dome)} by {abs(dome) * 1e6:.1f} µm.",
            f"{step}, and run it for {duration / 60.0:.0f} min; then set it to {after * 1e3:.1f} mm and look again.",
            f"Expected then: {left * 1e6:+.1f} ± {2.0 * doubt * 1e6:.1f} µm.".replace("-", "\u2212"),
        ),
        **told,  # type: ignore[arg-type]
    )  # fmt: skip


def _dress(dome: float, doubt: float, setup: RingSetup, told: dict[str, float | None]) -> RingAdvice:
    return RingAdvice(
        kind="dress", offset=setup.offset, move=0.0, duration=0.0, expected_dome=dome, expected_uncertainty=doubt,
        sentences=(
            f"The plate is {_way(dome)} by {abs(dome) * 1e6:.1f} µm.",
            "No place of the ring brings it back within 4 h: face or dress it, then check it anew.",
        ),
        **told,  # type: ignore[arg-type]
    )  # fmt: skip
