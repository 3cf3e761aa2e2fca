"""Lines read from a map: sections across it, the mean along rings, and what the rim does.

Roll-off is the fall of the rim below the form further in. Two questions are answered: where it begins, and how far in
one must stay for a limit to hold. Left out: roll-off that differs around the rim; look at sections for that.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeNotDetermined
from lapwright.metrology.flatness import flatness
from lapwright.metrology.shape_grid import Aperture, fitted_aperture, grid_axes, interpolated

Array = NDArray[np.float64]

_STEEPNESS = (1.0, 2.0, 3.0)  # powers tried for the fall beyond the beginning
_INNERMOST = 0.4  # of the radius: roll-off is not looked for further in
_LEAST_RINGS = 12
_CLEAR = 3.0  # how many times smaller than without roll-off its noise must leave the fit, in standard deviations
_BISECTIONS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Heights along a line: distance from its middle [m] and height [m], NaN where not measured."""

    distance: Array
    height: Array

    def __post_init__(self) -> None:
        self.distance.setflags(write=False)
        self.height.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class RadialProfile:
    """Mean height along rings: radius, mean height, standard deviation around the ring [m], pixels in the ring."""

    radius: Array
    height: Array
    spread: Array
    pixels: NDArray[np.intp]

    def __post_init__(self) -> None:
        for array in (self.radius, self.height, self.spread, self.pixels):
            array.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class RollOff:
    """Where and how far the rim falls.

    Attributes
    ----------
    radius : float or None [m]
        Where the fall begins; None when no fall stands out of the rest.
    width : float or None [m]
        From there to the edge of the aperture.
    drop : float or None [m]
        Fall at the edge below the form further in, by the fitted curve; below nought when the rim stands up.
    amount : float or None [m]
        Roll-off amount: how far the profile lies below the line through the reference zone, at `place` from the edge.
    reference : tuple of two floats [m]
        Distances from the edge of the ends of the reference zone.
    place : float [m]
        Distance from the edge at which `amount` is taken.
    """

    radius: float | None
    width: float | None
    drop: float | None
    amount: float | None
    reference: tuple[float, float]
    place: float


@dataclass(frozen=True, slots=True, kw_only=True)
class UsefulArea:
    """Largest radius inside which a flatness limit holds, the exclusion at the edge that it means, and FLTt there [m].

    `radius` is None when the limit holds nowhere.
    """

    radius: float | None
    exclusion: float | None
    fltt: float | None
    limit: float


def section(
    height: Array, *, pixel_size: tuple[float, float], azimuth: float = 0.0, through: tuple[float, float] = (0.0, 0.0)
) -> Section:
    """Heights along a straight line across a map, linear between pixels.

    Parameters
    ----------
    height : float array, shape (ny, nx) [m]
        Heights; NaN = not measured. Row 0 is the top.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    azimuth : float [rad]
        Direction of the line, counter-clockwise from +x.
    through : tuple of two floats [m]
        A point of the line, in the map's axes; its distance is nought.

    Returns
    -------
    Section
        From border to border at the smaller pixel size; NaN where one of the four pixels around is not measured.

    Examples
    --------
    >>> found = section(np.tile([0.0, 1.0, 2.0], (3, 1)), pixel_size=(1.0, 1.0))
    >>> found.height.tolist()
    [0.0, 1.0, 2.0]
    """
    x, y = grid_axes(height.shape, pixel_size=pixel_size)
    step = min(pixel_size)
    reach = math.hypot(np.ptp(x), np.ptp(y)) + math.hypot(*through)
    count = int(reach / step + 1e-9)
    distance = step * np.arange(-count, count + 1)
    columns = (through[0] + distance * math.cos(azimuth) - x[0]) / pixel_size[1]
    rows = (y[0] - through[1] - distance * math.sin(azimuth)) / pixel_size[0]
    slack = 1e-6
    on_map = (columns >= -slack) & (columns <= x.size - 1 + slack) & (rows >= -slack) & (rows <= y.size - 1 + slack)
    return Section(distance=distance[on_map], height=interpolated(height, rows=rows[on_map], columns=columns[on_map]))


def radial_profile(
    height: Array, *, pixel_size: tuple[float, float], aperture: Aperture | None = None, ring: float | None = None
) -> RadialProfile:
    """Mean height along rings around the centre of the aperture.

    Parameters
    ----------
    height : float array, shape (ny, nx) [m]
        Heights; NaN = not measured. Take the tilt out before.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    aperture : Aperture or None
        Circle whose centre counts; None takes the one that the measured pixels fill.
    ring : float or None [m]
        Width of a ring; None takes the larger pixel size.

    Returns
    -------
    RadialProfile
        Rings without a measured pixel are left out. `radius` is the mean radius of the ring's pixels.

    Examples
    --------
    >>> x, y = grid_axes((101, 101), pixel_size=(1.0, 1.0))
    >>> found = radial_profile(np.hypot(x, y[:, None]), pixel_size=(1.0, 1.0), aperture=Aperture(radius=40.0))
    >>> bool(np.allclose(found.height, found.radius))
    True
    """
    circle = aperture or fitted_aperture(np.isfinite(height), pixel_size=pixel_size)
    x, y = grid_axes(height.shape, pixel_size=pixel_size)
    distance = np.hypot(x - circle.x, y[:, None] - circle.y)
    inside = np.isfinite(height) & (distance <= circle.radius * (1.0 + 1e-9))
    if not inside.any():
        raise ShapeNotDetermined("No measured pixel lies inside the aperture. Mend the aperture or the map.")
    width = ring or max(pixel_size)
    index = (distance[inside] / width).astype(np.intp)
    z = height[inside]
    level = float(z.mean())
    pixels = np.bincount(index)
    some = np.maximum(pixels, 1)
    mean = np.bincount(index, weights=z - level) / some
    square = np.bincount(index, weights=(z - level - mean[index]) ** 2) / some
    radius = np.bincount(index, weights=distance[inside]) / some
    there = pixels > 0
    return RadialProfile(
        radius=radius[there], height=mean[there] + level, spread=np.sqrt(square[there]), pixels=pixels[there]
    )


def roll_off(
    profile: RadialProfile,
    *,
    edge: float,
    reference: tuple[float, float] = (3e-3, 6e-3),
    place: float = 1e-3,
) -> RollOff:
    r"""Where the rim begins to fall, and by how much.

    Parameters
    ----------
    profile : RadialProfile
        Mean heights along rings.
    edge : float [m]
        Radius of the edge.
    reference : tuple of two floats [m]
        Distances from the edge of the ends of the reference zone; a straight line is fitted there.
    place : float [m]
        Distance from the edge at which the roll-off amount is taken, outside the reference zone.

    Returns
    -------
    RollOff

    Raises
    ------
    ShapeNotDetermined
        Fewer than 12 rings.
    OutOfValidRange
        The reference zone is not in order, or `place` lies in it.

    Notes
    -----
    The beginning is that r₀ for which

    .. math:: z = a + b r^2 - c \max(0, r - r_0)^p, \quad p \in \{1, 2, 3\}

    fits best, each ring weighted with its pixels. It counts only when it leaves clearly less than no fall at all.

    References
    ----------
    .. [1] Roll-off amount: Kimura et al., Jpn. J. Appl. Phys. 38 (1999) 38, doi:10.1143/JJAP.38.38 (from memory).
       Key ``kimura1999``.

    Examples
    --------
    >>> radius = np.arange(0.25e-3, 50e-3, 0.5e-3)
    >>> fall = -1e-6 * np.clip((radius - 46e-3) / 4e-3, 0.0, None) ** 2
    >>> rings = RadialProfile(radius=radius, height=fall, spread=0.0 * radius, pixels=np.full(radius.size, 100))
    >>> round(roll_off(rings, edge=50e-3).radius * 1e3, 1)
    46.0
    """
    near, far = reference
    if not 0.0 <= place < near < far:
        expected = f"zero or more and less than the reference zone from {near:g} to {far:g} m"
        raise OutOfValidRange("place", place, expected)
    if profile.radius.size < _LEAST_RINGS:
        raise ShapeNotDetermined(
            f"{profile.radius.size} rings hold a measured pixel; roll-off needs at least {_LEAST_RINGS}. "
            "Take a map with smaller pixels."
        )
    begin, drop = _beginning(profile, edge)
    return RollOff(
        radius=begin,
        width=None if begin is None else edge - begin,
        drop=drop,
        amount=_amount(profile, edge, reference, place),
        reference=reference,
        place=place,
    )


def useful_area(
    height: Array, *, pixel_size: tuple[float, float], limit: float, aperture: Aperture | None = None
) -> UsefulArea:
    """The largest radius inside which the face keeps a flatness limit.

    Parameters
    ----------
    height : float array, shape (ny, nx) [m]
        Heights; NaN = not measured.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    limit : float [m]
        Largest FLTt about the least-squares plane of what lies inside.
    aperture : Aperture or None
        The face; None takes the circle that the measured pixels fill.

    Returns
    -------
    UsefulArea

    Raises
    ------
    OutOfValidRange
        `limit` is not above zero.

    Notes
    -----
    By bisection on the radius, which supposes that flatness does not improve towards the rim; to half a pixel.

    Examples
    --------
    >>> x, y = grid_axes((101, 101), pixel_size=(1e-3, 1e-3))
    >>> fallen = -1e-6 * np.clip(np.hypot(x, y[:, None]) - 0.04, 0.0, None) / 0.01
    >>> found = useful_area(fallen, pixel_size=(1e-3, 1e-3), limit=0.3e-6, aperture=Aperture(radius=0.05))
    >>> round(found.radius * 1e3)
    43
    """
    if not limit > 0.0:
        raise OutOfValidRange("limit", limit, "a length above zero")
    circle = aperture or fitted_aperture(np.isfinite(height), pixel_size=pixel_size)
    x, y = grid_axes(height.shape, pixel_size=pixel_size)
    distance = np.hypot(x - circle.x, y[:, None] - circle.y)
    inside = np.isfinite(height) & (distance <= circle.radius * (1.0 + 1e-9))
    rows, columns = np.nonzero(inside)
    places = (x[columns], y[rows], height[inside], distance[inside])
    within, beyond = 3.0 * max(pixel_size), circle.radius
    if _fltt(places, within) > limit:
        return UsefulArea(radius=None, exclusion=None, fltt=None, limit=limit)
    if _fltt(places, beyond) <= limit:
        within = beyond
    for _ in range(_BISECTIONS):
        if beyond - within <= 0.25 * min(pixel_size):
            break
        middle = 0.5 * (within + beyond)
        within, beyond = (middle, beyond) if _fltt(places, middle) <= limit else (within, middle)
    return UsefulArea(radius=within, exclusion=circle.radius - within, fltt=_fltt(places, within), limit=limit)


# ----------------------------------------------------------------------------------------------------------------------


def _fltt(places: tuple[Array, Array, Array, Array], radius: float) -> float:
    x, y, z, distance = places
    part = distance <= radius
    return flatness(x[part], y[part], z[part]).fltt


def _beginning(profile: RadialProfile, edge: float) -> tuple[float | None, float | None]:
    weights = np.sqrt(profile.pixels.astype(np.float64))
    radius, z = profile.radius / edge, (profile.height - profile.height.mean()) * weights
    form = np.column_stack((weights, weights * radius**2))
    plain = z - form @ np.linalg.lstsq(form, z, rcond=None)[0]
    worst = float(plain @ plain)
    best, begin, drop = worst, None, None
    for power in _STEEPNESS:
        for start in np.linspace(_INNERMOST, float(radius[-3]), 240):
            fall = weights * np.clip(radius - start, 0.0, None) ** power
            terms = np.column_stack((form, -fall))
            found, *_ = np.linalg.lstsq(terms, z, rcond=None)
            left = z - terms @ found
            if float(left @ left) < best * (1.0 - 1e-9):
                best, begin, drop = float(left @ left), float(start) * edge, float(found[2]) * (1.0 - start) ** power
    degrees = max(1, profile.radius.size - 4)
    if not worst - best > _CLEAR**2 * best / degrees or worst <= 0.0:
        return None, None
    return begin, drop


def _amount(profile: RadialProfile, edge: float, reference: tuple[float, float], place: float) -> float | None:
    from_edge = edge - profile.radius
    zone = (from_edge >= reference[0]) & (from_edge <= reference[1])
    nearest = int(np.argmin(np.abs(from_edge - place)))
    away = abs(float(from_edge[nearest]) - place)
    if int(zone.sum()) < 2 or away > 1.5 * float(np.median(np.diff(profile.radius))):
        return None
    line = np.polynomial.polynomial.polyfit(from_edge[zone], profile.height[zone], 1)
    at = float(np.interp(place, from_edge[::-1], profile.height[::-1]))
    return float(line[0] + line[1] * place) - at
