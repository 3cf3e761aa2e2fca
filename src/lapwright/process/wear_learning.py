"""What a plate's checks say of its wear: how fast it wears, where its ring is neutral, how far the law is off.

The wear law gives how the dome grows with the place of the ring. What is left open is learned from the changes between
checks: the speed of wear, the shift of the neutral place, whether the rate grows faster outward than inward (pressure
and ring are never quite as the law has them), and by how much and how long a moved ring works faster until it has
settled into its new track. Until there are checks wide priors stand in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.process.plate_course import DomeAt
from lapwright.process.plate_wear import Footprint, Land, wear_profile

Floats = NDArray[np.float64]

WEAR_PRIOR = 5e-6 / 3600.0  # m/s, median mean wear of a plate while it runs (own judgement, x/÷ 3)
_WEAR_SPREAD = math.log(3.0)
_SHIFT_PRIOR = 2e-3  # m, by how much the true neutral place differs from the computed one
_LEAN_PRIOR = 25.0  # 1/m, how much faster the rate grows outward than inward (25 % a centimetre, own judgement)
_HASTE_PRIOR = 0.25  # 1, by how much faster the dome moves at first after a move of the ring (own judgement)
_SETTLED_BY = 4e-6  # m, mean wear after which a moved ring has settled into its track (own judgement, x/÷ 2.5)
_SETTLED_SPREAD = math.log(2.5)
LAW_DOUBT = 0.05  # of a change of the dome: what the wear law leaves out
_NEWEST = 24  # changes that are learned from; what was long ago is no witness
_HALF_SETTLED = 0.5  # of the trend of the first place on record that the plate had settled to before (own judgement)
_NEGLIGIBLE = 1e-5  # of the likeliest law, below which a law is left out
_LOG_WEAR = math.log(WEAR_PRIOR)
_FOLLOWED = np.linspace(-2.4, 2.4, 7)  # deviations about the likeliest speed of wear
_GRID = 56  # places over the land at which the wear law is worked out; in between it is taken straight


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
    """What the checks of a plate say of its wear: cells of speed and of law with their chances.

    Each of n laws has its `neutral_shift` [m] (the true neutral place lies that much farther out than computed), its
    `outward_lean` [1/m] (how much faster the rate grows outward than inward), and its `haste` [1] and `settling_time`
    [s]: how much faster the dome moves at first after a move of the ring, and how long until that is over; `track` [1]
    is the trend that the plate has settled to by the last check. `wear_speed` [m/s] and `cell_chances`, which sum to
    one, have the shape (k, n). `dome_changes` counts the changes of the dome it rests on; `seen_offsets` [m] are the
    places of the ring they were seen at.
    """

    wear_speed: Floats
    neutral_shift: Floats
    outward_lean: Floats
    haste: Floats
    settling_time: Floats
    track: Floats
    cell_chances: Floats
    dome_changes: int
    seen_offsets: tuple[float, ...]


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
    The change over an interval with its legs at :math:`e_i` is

    .. math:: K \sum_i \{g'(e_i)\,t_i + \alpha\,\tau\,[s_i - s_{i-1}]\}, \quad
        s_i = g'(e_i) + [s_{i-1} - g'(e_i)]\,e^{-t_i/\tau}, \quad
        g'(e) = g(e - \delta)\,e^{\lambda (e - \delta - e_0)}

    with g the trend of the wear law, neutral at e_0, K the speed of wear, delta the shift, lambda the lean, alpha the
    haste and tau the settling time; s is what the plate has settled to, at first half of the trend of its first place,
    because nobody knows how long it has run there, and nothing after dressing. Priors: K log-normal about 5 µm/h,
    factor of 3; delta normal, 2 mm; lambda normal, 25 % a centimetre; alpha half-normal, 25 %; K tau log-normal about
    4 µm, factor of 2.5. The newest 24 changes count. The likelihood takes the uncertainties of both checks, shared
    between neighbours, and 5 % of each change for what the law leaves out. The laws stand on a grid; the speed of wear
    of each is followed at seven places about its likeliest.

    Examples
    --------
    >>> from lapwright.process.plate_course import Leg
    >>> setup = RingSetup(land=Land(inner_radius=0.04, outer_radius=0.15),
    ...                   footprints=(Footprint(outer_radius=0.065, inner_radius=0.05),),
    ...                   least_offset=0.085, most_offset=0.11, offset=0.103)
    >>> leg = Leg(offset=0.103, duration=7200.0)
    >>> course = [DomeAt(dome=h * 1e-6, dome_uncertainty=3e-7, legs=(leg,)) for h in (0.0, 6.0, 12.0)]
    >>> found = learned_wear(course, setup)
    >>> found.dome_changes, round(float(expected_rate(found, setup, 0.103)[0]) * 3600e6, 1)
    (2, 3.0)
    """
    laws = _laws()
    used = [i for i in range(1, len(course)) if not course[i].dressed and course[i].ran > 0.0][-_NEWEST:]
    driven, track = _followed(setup, course, used, laws)
    speed, log_chance = _speeds(laws, course, used, driven)
    log_chance = log_chance - 0.5 * (laws.shift / _SHIFT_PRIOR) ** 2 - 0.5 * (laws.lean / _LEAN_PRIOR) ** 2
    log_chance = log_chance - 0.5 * (laws.haste / _HASTE_PRIOR) ** 2
    cell_chances = np.exp(log_chance - log_chance.max())
    kept = cell_chances.sum(axis=0) > _NEGLIGIBLE * cell_chances.sum(axis=0).max()
    cell_chances = cell_chances[:, kept]
    return LearnedWear(
        wear_speed=speed[:, kept],
        neutral_shift=laws.shift[kept],
        outward_lean=laws.lean[kept],
        haste=laws.haste[kept],
        settling_time=laws.time[kept],
        track=track[kept],
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
    trends = wear_trends(setup, ratio, offset, learned.neutral_shift, learned.outward_lean)
    rates = learned.wear_speed * trends
    mean = float(np.sum(learned.cell_chances * rates))
    square = float(np.sum(learned.cell_chances * rates**2))
    return mean, math.sqrt(max(square - mean**2, 0.0))


def wear_trends(setup: RingSetup, speed_ratio: float, offset: float, shift: Floats, lean: Floats) -> Floats:
    """How the dome grows per speed of wear with the ring at a place, for each shift and lean.

    Parameters
    ----------
    setup : RingSetup
        Land and ring.
    speed_ratio : float [1]
        Speed of the jig over the plate's.
    offset : float [m]
        Place of the ring.
    shift : float array, shape (n,) [m]
        How much farther out than computed the neutral place lies.
    lean : float array, shape (n,) [1/m]
        How much faster the rate grows outward than inward.

    Returns
    -------
    float array, shape (n,) [1]
    """
    places, trends = _table(setup.land, setup.footprints, round(speed_ratio, 4))
    neutral = float(np.interp(0.0, trends, places)) if trends[0] < 0.0 < trends[-1] else float(np.mean(places))
    away = offset - shift
    return np.asarray(np.interp(away, places, trends) * np.exp(lean * (away - neutral)), dtype=np.float64)


@lru_cache(maxsize=512)
def trend_at(land: Land, footprints: tuple[Footprint, ...], offset: float, speed_ratio: float) -> float | None:
    """Trend of the wear law at a place; None where the ring does not lie on the land.

    Parameters
    ----------
    land : Land
        The plate's working ring.
    footprints : tuple of Footprint
        What rubs on it.
    offset : float [m]
        Place of the ring.
    speed_ratio : float [1]
        Speed of the jig over the plate's.

    Returns
    -------
    float or None [1]
    """
    try:
        return wear_profile(land, footprints, offset=offset, speed_ratio=speed_ratio).dome_trend
    except OutOfValidRange:
        return None


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Laws:
    """Shift, lean, haste and settling time of every law: about three deviations to either side."""

    shift: Floats
    lean: Floats
    haste: Floats
    time: Floats


@lru_cache(maxsize=1)
def _laws() -> _Laws:
    axes = np.meshgrid(
        np.linspace(-3.5, 3.5, 43) * _SHIFT_PRIOR,
        np.linspace(-2.5, 2.5, 9) * _LEAN_PRIOR,
        np.array([0.0, 0.6, 1.2, 1.8, 2.4]) * _HASTE_PRIOR,
        np.array([0.1, 0.3, 0.8, 2.0, 5.0]) * 3600.0,
    )
    return _Laws(*(np.asarray(axis, dtype=np.float64).ravel() for axis in axes))


def _followed(setup: RingSetup, course: Sequence[DomeAt], used: list[int], laws: _Laws) -> tuple[Floats, Floats]:
    """Change of the dome per speed of wear over each interval used (rows) for each law [s]; the track at the end."""
    trends: dict[tuple[float, float], Floats] = {}
    times, of_law = np.unique(laws.time, return_inverse=True)
    track, begun = np.zeros_like(laws.shift), False
    # what the plate had settled to before it was dressed does not count for what came after
    until = used[0] if used else len(course)
    first = max((number for number in range(until) if course[number].dressed), default=0)
    found, wanted = [], frozenset(used)
    for number, check in enumerate(course[first:], start=first):
        if check.dressed:
            track, begun = np.zeros_like(track), True
        change = np.zeros_like(track)
        for leg in check.legs:
            where = (leg.offset, leg.speed_ratio)
            if where not in trends:
                trends[where] = wear_trends(setup, leg.speed_ratio, leg.offset, laws.shift, laws.lean)
            trend = trends[where]
            track = track if begun else _HALF_SETTLED * trend
            begun = True
            settled = trend + (track - trend) * np.exp(-leg.duration / times)[of_law]
            if number in wanted:
                change += trend * leg.duration + laws.haste * laws.time * (settled - track)
            track = settled
        if number in wanted:
            found.append(change)
    return np.array(found).reshape(len(used), laws.shift.size), track


def _speeds(laws: _Laws, course: Sequence[DomeAt], used: list[int], driven: Floats) -> tuple[Floats, Floats]:
    """Speeds of wear that are followed for each law, about its likeliest one, and the logarithms of their chances."""
    count = laws.shift.size
    own, cross = np.zeros(count), np.zeros(count)
    least = 0.0
    if used:
        change = np.array([course[i].dome - course[i - 1].dome for i in used])
        inverse = np.linalg.inv(_spread(course, used, change))
        weighed = inverse @ driven
        own, cross = np.sum(driven * weighed, axis=0), change @ weighed
        least = float(change @ inverse @ change)

    def log_chance(log_speed: Floats) -> Floats:
        speed = np.exp(log_speed)
        fit = least - 2.0 * speed * cross + speed**2 * own
        worn = (log_speed + np.log(laws.time / _SETTLED_BY)) / _SETTLED_SPREAD
        return np.asarray(-0.5 * (fit + ((log_speed - _LOG_WEAR) / _WEAR_SPREAD) ** 2 + worn**2), dtype=np.float64)

    coarse = _LOG_WEAR + np.linspace(-3.0, 3.0, 31)[:, None] * _WEAR_SPREAD
    best = coarse[np.argmax(log_chance(coarse), axis=0), 0]
    for _ in range(4):  # Newton's steps on the logarithm of the speed
        speed = np.exp(best)
        slope = speed * cross - speed**2 * own - (best - _LOG_WEAR) / _WEAR_SPREAD**2
        slope -= (best + np.log(laws.time / _SETTLED_BY)) / _SETTLED_SPREAD**2
        bend = np.maximum(2.0 * speed**2 * own - speed * cross, 0.0) + 1.0 / _WEAR_SPREAD**2 + 1.0 / _SETTLED_SPREAD**2
        best = best + np.clip(slope / bend, -0.3, 0.3)
    deviation = 1.0 / np.sqrt(bend)
    followed = best + _FOLLOWED[:, None] * deviation
    return np.exp(followed), log_chance(followed) + np.log(deviation)


def _spread(course: Sequence[DomeAt], used: list[int], change: Floats) -> Floats:
    """Covariance of the changes: neighbours share the check between them, with opposite signs."""
    squares = [check.dome_uncertainty**2 for check in course]
    spread = np.diag([squares[i] + squares[i - 1] for i in used]) + np.diag((LAW_DOUBT * change) ** 2)
    for row, i in enumerate(used):
        for column, j in enumerate(used):
            if j == i - 1:
                spread[row, column] = spread[column, row] = -squares[j]
    return spread


@lru_cache(maxsize=64)
def _table(land: Land, footprints: tuple[Footprint, ...], speed_ratio: float) -> tuple[Floats, Floats]:
    everywhere = np.linspace(land.inner_radius, land.outer_radius, _GRID)[:-1]
    found = [(float(place), trend_at(land, footprints, float(place), speed_ratio)) for place in everywhere]
    places = [place for place, trend in found if trend is not None]
    trends = [trend for _, trend in found if trend is not None]
    if len(places) < 2:
        raise OutOfValidRange("footprints", len(places), "a ring that lies on the land at two places at least")
    return np.array(places), np.array(trends)
