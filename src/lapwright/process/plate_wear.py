"""Where a ring or a jig wears the plate: share of the circle covered and wear over the plate's radius.

Wear is taken as pressure times sliding speed times a coefficient. What lies on the plate is rigid and free to tilt:
its pressure is linear in the place along the line of centres, such that the load stays over its middle. Where it
overhangs the working land it loses contact and the rest carries more, which is why a ring moved outward wears the rim
more. Left out: slurry starvation, hydrodynamic lift, a plate that yields. Trust the sign and the neutral place to 3 mm,
the amount to a factor of 2: the amount is learned from the plate's own checks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lapwright.errors import OutOfValidRange

Floats = NDArray[np.float64]

_CIRCLES, _ANGLES = 120, 720
_LIFTS = 40  # rounds in which the part that lifts off grows
_STROKE_PLACES = 9  # places of a sweep, spaced as it dwells at them


@dataclass(frozen=True, slots=True, kw_only=True)
class Land:
    """The working ring of a plate: inner and outer radius [m]."""

    inner_radius: float
    outer_radius: float

    def __post_init__(self) -> None:
        if not self.inner_radius >= 0.0:
            raise OutOfValidRange("inner_radius", self.inner_radius, "zero or more [m]")
        if not self.outer_radius > self.inner_radius:
            raise OutOfValidRange("outer_radius", self.outer_radius, "more than the inner radius [m]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Footprint:
    """What rubs on the plate about the jig's axis: outer and inner radius [m] (0 when full), its share of the load."""

    outer_radius: float
    inner_radius: float = 0.0
    load_share: float = 1.0

    def __post_init__(self) -> None:
        if not self.inner_radius >= 0.0:
            raise OutOfValidRange("inner_radius", self.inner_radius, "zero or more [m]")
        if not self.outer_radius > self.inner_radius:
            raise OutOfValidRange("outer_radius", self.outer_radius, "more than the inner radius [m]")
        if not self.load_share > 0.0:
            raise OutOfValidRange("load_share", self.load_share, "more than zero")


@dataclass(frozen=True, slots=True, kw_only=True)
class WearProfile:
    """Wear over the plate's radius.

    `radius` [m]; `covered_share`, the share of each circle that is rubbed [1]; `wear` relative to its mean over the
    land [1]; `dome_trend` [1]: how far the plate grows domed, centre over rim of the best parabola over the whole
    radius, for each unit of mean wear. Negative grows dished.
    """

    radius: Floats
    covered_share: Floats
    wear: Floats
    dome_trend: float


def wear_profile(
    land: Land, footprints: tuple[Footprint, ...], *, offset: float, speed_ratio: float = 1.0, half_stroke: float = 0.0
) -> WearProfile:
    r"""Share covered, wear, and the trend of the plate's shape, for a ring or jig at a place.

    Parameters
    ----------
    land : Land
        The plate's working ring.
    footprints : tuple of Footprint
        Ring, wafers, foot: all about the same axis; at least one.
    offset : float [m]
        Distance of that axis from the plate's, zero or more.
    speed_ratio : float [1]
        Speed of the jig over that of the plate.
    half_stroke : float [m]
        Half the stroke of a sweep along the line of centres, zero for none.

    Returns
    -------
    WearProfile

    Raises
    ------
    OutOfValidRange
        Nothing rubs the land, or what overhangs it would tip over its edge.

    Notes
    -----
    .. math:: W(\rho) \propto \frac{1}{2\pi}\oint p\,|v|\,d\theta, \quad
        |v|^2 = \omega_p^2 \left[(e + (1 - s) x)^2 + ((1 - s) y)^2\right], \quad p = p_0 + p_1 x

    p0 and p1 from the load and from no moment about the axis. The trend is that of the parabola of `domed_part`: a rim
    that wears more leaves the centre high.

    Examples
    --------
    >>> land = Land(inner_radius=0.04, outer_radius=0.15)
    >>> ring = (Footprint(outer_radius=0.065, inner_radius=0.05),)
    >>> [wear_profile(land, ring, offset=e).dome_trend > 0 for e in (0.090, 0.105)]
    [False, True]
    """
    if not footprints:
        raise OutOfValidRange("number of footprints", 0, "at least one")
    for name, value in (("offset", offset), ("half_stroke", half_stroke)):
        if not value >= 0.0:
            raise OutOfValidRange(name, value, "zero or more [m]")
    radius = np.linspace(land.inner_radius, land.outer_radius, 2 * _CIRCLES + 1)[1::2]
    places = offset + half_stroke * _dwell_places() if half_stroke > 0.0 else np.array([offset])
    covered, wear = np.zeros_like(radius), np.zeros_like(radius)
    for place in places:
        for footprint in footprints:
            share, worn = _one(radius, footprint, place, speed_ratio)
            covered, wear = np.maximum(covered, share), wear + worn / len(places)
    mean = float(np.sum(wear * radius) / np.sum(radius))
    if not mean > 0.0:
        raise OutOfValidRange("speed_ratio", speed_ratio, "one at which something slides")
    return WearProfile(
        radius=radius,
        covered_share=covered,
        wear=wear / mean,
        dome_trend=domed_part(radius, -wear / mean, land.outer_radius),
    )


def domed_part(radius: ArrayLike, heights: ArrayLike, plate_radius: float) -> float:
    r"""How domed a surface of revolution is: centre over rim of the best parabola, over the plate's whole radius.

    Parameters
    ----------
    radius : float array, shape (n,) [m]
        Distances from the plate's axis; at least two that differ.
    heights : float array, shape (n,) [m]
        Height there, positive upward.
    plate_radius : float [m]
        Outer radius, more than zero.

    Returns
    -------
    float [m]
        Positive domed, negative dished.

    Raises
    ------
    OutOfValidRange
        All radii equal, or `plate_radius` not above zero.

    Notes
    -----
    Least squares of :math:`h = c - S(\rho/R)^2` with equal weight on equal steps of radius, as a dial on a straight
    bar reads them.

    Examples
    --------
    >>> r = np.linspace(0.04, 0.15, 12)
    >>> round(domed_part(r, -8e-6 * (r / 0.15) ** 2, 0.15) * 1e6, 9)
    8.0
    """
    if not plate_radius > 0.0:
        raise OutOfValidRange("plate_radius", plate_radius, "more than zero [m]")
    r, h = np.asarray(radius, dtype=np.float64), np.asarray(heights, dtype=np.float64)
    square = (r / plate_radius) ** 2
    about = square - np.mean(square)
    spread = float(np.sum(about**2))
    if not spread > 0.0:
        raise OutOfValidRange("spread of the radii", spread, "two radii that differ")
    return -float(np.sum(about * h)) / spread


def neutral_offset(
    land: Land, footprints: tuple[Footprint, ...], *, speed_ratio: float = 1.0, half_stroke: float = 0.0
) -> float | None:
    """The place of ring or jig at which the plate's dome neither grows nor shrinks.

    Parameters
    ----------
    land : Land
        The plate's working ring.
    footprints : tuple of Footprint
        What rubs on it.
    speed_ratio : float [1]
        Speed of the jig over that of the plate.
    half_stroke : float [m]
        Half the stroke of a sweep.

    Returns
    -------
    float or None [m]
        To 0.1 mm. None when no place within the land is neutral.

    Examples
    --------
    >>> ring = (Footprint(outer_radius=0.065, inner_radius=0.05),)
    >>> round(neutral_offset(Land(inner_radius=0.04, outer_radius=0.15), ring) * 1e3)
    97
    """
    settings = {"speed_ratio": speed_ratio, "half_stroke": half_stroke}
    places = np.linspace(land.inner_radius, land.outer_radius, 23)
    known = [(float(e), trend) for e in places if (trend := _trend(land, footprints, float(e), settings)) is not None]
    between = next(((a[0], b[0]) for a, b in pairwise(known) if a[1] <= 0.0 < b[1]), None)
    if between is None:
        return None
    low, high = between
    while high - low > 1e-4:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if (_trend(land, footprints, middle, settings) or 0.0) <= 0.0 else (low, middle)
    return 0.5 * (low + high)


def groove_contact(groove_width: float, groove_pitch: float, *, crossed: bool = False) -> float:
    r"""Share of a grooved plate that touches.

    Parameters
    ----------
    groove_width : float [m]
        Width of a groove, zero or more.
    groove_pitch : float [m]
        From groove to groove, more than the width.
    crossed : bool
        Two sets of grooves across each other; else one set, or a spiral.

    Returns
    -------
    float, 0 < share <= 1 [1]
        Pressure on the lands is the mean pressure over this; the rate by pressure times speed stays.

    Raises
    ------
    OutOfValidRange
        A negative width, or a pitch that is not more than it.

    Notes
    -----
    .. math:: 1 - w/p, \quad \text{crossed } (1 - w/p)^2

    Examples
    --------
    >>> groove_contact(0.002, 0.010), round(groove_contact(0.002, 0.010, crossed=True), 2)
    (0.8, 0.64)
    """
    if not groove_width >= 0.0:
        raise OutOfValidRange("groove_width", groove_width, "zero or more [m]")
    if not groove_pitch > groove_width:
        raise OutOfValidRange("groove_pitch", groove_pitch, "more than the width of the groove [m]")
    share = 1.0 - groove_width / groove_pitch
    return share * share if crossed else share


# ----------------------------------------------------------------------------------------------------------------------


def _dwell_places() -> Floats:
    """Places of a sine sweep, from -1 to 1, at even instants."""
    return np.asarray(np.cos(math.pi * (np.arange(_STROKE_PLACES) + 0.5) / _STROKE_PLACES), dtype=np.float64)


def _one(radius: Floats, footprint: Footprint, offset: float, speed_ratio: float) -> tuple[Floats, Floats]:
    """Share covered and wear [N m/s over 2 pi rho] of one footprint over the radius."""
    angle = (np.arange(_ANGLES) + 0.5) * (math.pi / _ANGLES)  # one half; the other mirrors it
    rho = radius[:, None]
    x, y = rho * np.cos(angle) - offset, rho * np.sin(angle)
    away = x * x + y * y
    touching = (away <= footprint.outer_radius**2) & (away >= footprint.inner_radius**2)
    pressure = _linear_pressure(touching, rho, x, footprint, offset)
    slip = 1.0 - speed_ratio
    speed = np.hypot(offset + slip * x, slip * y)
    return touching.mean(axis=1), np.asarray(np.mean(pressure * speed, axis=1), dtype=np.float64)


def _linear_pressure(
    touching: NDArray[np.bool_], rho: Floats, x: Floats, footprint: Footprint, offset: float
) -> Floats:
    """Pressure p0 + p1 x where it presses: load and moment as given; what would pull has lifted off."""
    for _ in range(_LIFTS):
        area = np.where(touching, rho, 0.0)
        total, first, second = (float(np.sum(area * x**power)) for power in (0, 1, 2))
        spread = total * second - first**2
        if not spread > 0.0:
            break
        p0, p1 = footprint.load_share * second / spread, -footprint.load_share * first / spread
        pressure = np.where(touching, p0 + p1 * x, 0.0)
        if float(pressure.min()) >= 0.0:
            return pressure
        touching = touching & (pressure > 0.0)
    raise OutOfValidRange("offset", offset, "one at which ring or jig lies on the working land and does not tip [m]")


def _trend(land: Land, footprints: tuple[Footprint, ...], offset: float, settings: dict[str, float]) -> float | None:
    """The trend at a place; None where it would tip or not lie on the land."""
    try:
        return wear_profile(land, footprints, offset=offset, **settings).dome_trend
    except OutOfValidRange:
        return None
