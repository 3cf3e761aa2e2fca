"""What a plate's checks say of its wear: how fast it wears, where its ring is neutral, how far the law is off.

The wear law gives how the dome grows with the place of the ring. Four things are left open and learned from the changes
between checks: the speed of wear, the shift of the neutral place, whether the rate grows faster outward than inward
(pressure and ring are never quite as the law has them), and how much a moved ring changes at once before it has settled
into its new track. Until there are checks wide priors stand in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.process.plate_course import DomeAt, Leg
from lapwright.process.plate_wear import Footprint, Land, wear_profile

Floats = NDArray[np.float64]

WEAR_PRIOR = 5e-6 / 3600.0  # m/s, median mean wear of a plate while it runs (own judgement, x/÷ 3)
_WEAR_SPREAD = math.log(3.0)
_SHIFT_PRIOR = 2e-3  # m, by how much the true neutral place differs from the computed one
_LEAN_PRIOR = 25.0  # 1/m, how much faster the rate grows outward than inward (25 % a centimetre, own judgement)
_SETTLING_PRIOR = 0.4e-6  # m, what a move changes at once, for a change of the trend by one (own judgement)
LAW_DOUBT = 0.07  # of a change of the dome: what the wear law leaves out
_NEWEST = 24  # changes that are learned from; what was long ago is no witness
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

    `wear_speed` [m/s] of shape (k,); of shape (n,) `neutral_shift` [m] (the true neutral place lies that much farther
    out than computed), `outward_lean` [1/m] (how much faster the rate grows outward than inward) and `settling` [m]
    (what a move of the ring changes at once, for a change of the trend by one); `cell_chances` of shape (k, n) sum to
    one. `dome_changes` counts the changes of the dome it rests on; `seen_offsets` [m] are the places of the ring they
    were seen at.
    """

    wear_speed: Floats
    neutral_shift: Floats
    outward_lean: Floats
    settling: Floats
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

    .. math:: K \sum_i g'(e_i)\,t_i + w\,[g'(e) - g'(e_\mathrm{before})], \quad
        g'(e) = g(e - \delta)\,e^{\lambda (e - \delta - e_0)}

    with g the trend of the wear law, neutral at e_0, K the speed of wear, delta the shift, lambda the lean and w the
    settling. Priors: K log-normal about 5 µm/h, factor of 3; delta normal, 2 mm; lambda normal, 25 % a centimetre;
    w half-normal, 0.4 µm. The newest 24 changes count. The likelihood takes the uncertainties of both checks, shared
    between neighbours, and 7 % of each change for what the law leaves out. Worked out on a grid.

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
    speed, shift, lean, settling = _cells()
    speed = speed[:, None]
    log_chance = -0.5 * (np.log(speed / WEAR_PRIOR) / _WEAR_SPREAD) ** 2
    log_chance = log_chance - 0.5 * (shift / _SHIFT_PRIOR) ** 2 - 0.5 * (lean / _LEAN_PRIOR) ** 2
    log_chance = log_chance - 0.5 * (settling / _SETTLING_PRIOR) ** 2
    used = [i for i in range(1, len(course)) if not course[i].dressed and course[i].ran > 0.0][-_NEWEST:]
    if used:
        change = np.array([course[i].dome - course[i - 1].dome for i in used])
        wanted = np.stack([
            speed * _driven(setup, course[i].legs, shift, lean) + settling * _moved(setup, course, i, shift, lean)
            for i in used
        ])  # fmt: skip
        off = change[:, None, None] - wanted
        inverse = np.linalg.inv(_spread(course, used, change))
        log_chance = log_chance - 0.5 * np.sum(off * np.tensordot(inverse, off, 1), axis=0)
    cell_chances = np.exp(log_chance - log_chance.max())
    return LearnedWear(
        wear_speed=speed[:, 0],
        neutral_shift=shift,
        outward_lean=lean,
        settling=settling,
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
    mean = float(learned.wear_speed @ learned.cell_chances @ trends)
    square = float(learned.wear_speed**2 @ learned.cell_chances @ trends**2)
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


@lru_cache(maxsize=1)
def _cells() -> tuple[Floats, Floats, Floats, Floats]:
    """Speeds; shift, lean and settling of every law: about three deviations to either side."""
    laws = np.meshgrid(
        np.linspace(-3.5, 3.5, 29) * _SHIFT_PRIOR,
        np.linspace(-2.5, 2.5, 9) * _LEAN_PRIOR,
        np.linspace(0.0, 2.5, 6) * _SETTLING_PRIOR,
    )
    shift, lean, settling = (np.asarray(axis, dtype=np.float64).ravel() for axis in laws)
    return WEAR_PRIOR * np.exp(np.linspace(-3.0, 3.0, 49) * _WEAR_SPREAD), shift, lean, settling


def _driven(setup: RingSetup, legs: tuple[Leg, ...], shift: Floats, lean: Floats) -> Floats:
    """Change of the dome per speed of wear over some legs, for each shift and lean [s]."""
    parts = [wear_trends(setup, leg.speed_ratio, leg.offset, shift, lean) * leg.duration for leg in legs]
    return np.asarray(np.sum(parts, axis=0), dtype=np.float64)


def _moved(setup: RingSetup, course: Sequence[DomeAt], number: int, shift: Floats, lean: Floats) -> Floats:
    """By how much the trend changed from the end of the interval before to the end of this one."""
    before = [leg for check in course[:number] for leg in check.legs][-1:]
    if not before or course[number].dressed:
        return np.zeros_like(shift)
    ends = (before[0], course[number].legs[-1])
    first, last = (wear_trends(setup, leg.speed_ratio, leg.offset, shift, lean) for leg in ends)
    return last - first


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
