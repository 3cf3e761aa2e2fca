"""Bow and warp of a free wafer from its median surface, and sori from its front.

Height is positive out of the worked face: a wafer that is domed towards it has a bow above nought. Bow looks at the
centre only and warp at the whole surface; a saddle has no bow. Left out: gravity, which a thin wafer must be freed of
by turning it over or by calculation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.metrology.flatness import plane_deviation
from lapwright.metrology.shape_grid import Aperture, fitted_aperture, grid_axes, interpolated

Array = NDArray[np.float64]

_SUPPORTS = (-0.5 * math.pi, math.pi / 6.0, 5.0 * math.pi / 6.0)  # one at the flat or notch


@dataclass(frozen=True, slots=True, kw_only=True)
class BowAndWarp:
    """Bow and warp of one surface, all [m]; None where the centre or one of the three points is not measured.

    `bow` is the height of the centre above the plane through three points near the edge; `bow_least_squares` above the
    least-squares plane. `warp` is the range about the least-squares plane, `warp_three_point` about the other; that one
    depends on where the three points lie.
    """

    bow: float | None
    bow_least_squares: float | None
    warp: float
    warp_three_point: float | None
    support_radius: float


def bow_and_warp(
    surface: Array,
    *,
    pixel_size: tuple[float, float],
    aperture: Aperture | None = None,
    edge_exclusion: float = 0.0,
) -> BowAndWarp:
    """Bow and warp of the median surface of a free wafer (of its front: sori is the `warp`).

    Parameters
    ----------
    surface : float array, shape (ny, nx) [m]
        Height of the median surface out of the worked face; NaN = not measured. Row 0 is the top.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    aperture : Aperture or None
        The wafer; None takes the circle that the measured pixels fill.
    edge_exclusion : float [m]
        Rim left out; the three points lie on its inner side.

    Returns
    -------
    BowAndWarp

    Raises
    ------
    ShapeNotDetermined
        Fewer than three measured pixels inside, or all on one line.
    OutOfValidRange
        `edge_exclusion` leaves nothing.

    References
    ----------
    .. [1] SEMI MF534 (bow), MF657 (three-point warp), MF1390 (least-squares warp), MF1451 (sori), from memory.
       Key ``semi_flatness``.

    Examples
    --------
    >>> x, y = grid_axes((101, 101), pixel_size=(1e-3, 1e-3))
    >>> dished = 10e-6 * (x**2 + y[:, None] ** 2) / 0.05**2
    >>> found = bow_and_warp(dished, pixel_size=(1e-3, 1e-3), aperture=Aperture(radius=0.05))
    >>> round(found.bow * 1e6, 2), round(found.warp * 1e6, 2)
    (-10.0, 10.0)
    """
    circle = aperture or fitted_aperture(np.isfinite(surface), pixel_size=pixel_size)
    radius = circle.radius - edge_exclusion
    if not (edge_exclusion >= 0.0 and radius > 0.0):
        expected = f"zero or more and less than the radius ({circle.radius:g} m)"
        raise OutOfValidRange("edge_exclusion", edge_exclusion, expected)
    x, y = grid_axes(surface.shape, pixel_size=pixel_size)
    x, y = x - circle.x, y - circle.y
    inside = np.isfinite(surface) & (np.hypot(x, y[:, None]) <= radius + 1e-6 * max(pixel_size))
    rows, columns = np.nonzero(inside)
    deviation = np.full(surface.shape, np.nan)
    deviation[inside] = plane_deviation(x[columns], y[rows], surface[inside])
    plane = three_point_plane(surface, axes=(x, y), pixel_size=pixel_size, radius=radius)
    from_three = None if plane is None else surface - plane
    return BowAndWarp(
        bow=None if from_three is None else _at_centre(from_three, (x, y), pixel_size),
        bow_least_squares=_at_centre(deviation, (x, y), pixel_size),
        warp=float(np.ptp(deviation[inside])),
        warp_three_point=None if from_three is None else float(np.ptp(from_three[inside])),
        support_radius=radius,
    )


def three_point_plane(
    height: Array, *, axes: tuple[Array, Array], pixel_size: tuple[float, float], radius: float
) -> Array | None:
    """The plane through three points, one at −90° and the others a third of a turn on.

    Parameters
    ----------
    height : float array, shape (ny, nx) [m]
        Heights; NaN = not measured.
    axes : tuple of two float arrays, shapes (nx,) and (ny,) [m]
        Places of columns and rows from the centre.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    radius : float [m]
        Where the three points lie.

    Returns
    -------
    float array or None, shape (ny, nx) [m]
        None when one of the three is not measured.

    Notes
    -----
    The height at a point is linear between the pixels around it; where one of those is not measured, the nearest
    measured pixel within one and a half pixels is taken.

    Examples
    --------
    >>> x, y = grid_axes((5, 5), pixel_size=(1.0, 1.0))
    >>> plane = three_point_plane(np.tile(x, (5, 1)), axes=(x, y), pixel_size=(1.0, 1.0), radius=2.0)
    >>> bool(np.allclose(plane, np.tile(x, (5, 1))))
    True
    """
    x, y = axes
    points = [(radius * math.cos(azimuth), radius * math.sin(azimuth)) for azimuth in _SUPPORTS]
    found = [_supported(height, axes, pixel_size, point) for point in points]
    if any(place is None for place in found):
        return None
    places = np.array([place for place in found if place is not None])
    terms = np.column_stack((np.ones(3), places[:, 0], places[:, 1]))
    level, slope_x, slope_y = np.linalg.solve(terms, places[:, 2])
    return np.asarray(level + slope_x * x + slope_y * y[:, None])


# ----------------------------------------------------------------------------------------------------------------------


def _supported(
    height: Array, axes: tuple[Array, Array], pixel_size: tuple[float, float], point: tuple[float, float]
) -> tuple[float, float, float] | None:
    """Place and height of a support: at the point itself, else at the nearest measured pixel close by."""
    x, y = axes
    column, row = (point[0] - x[0]) / pixel_size[1], (y[0] - point[1]) / pixel_size[0]
    value = float(interpolated(height, rows=np.array([row]), columns=np.array([column]))[0])
    if math.isfinite(value):
        return (*point, value)
    around = np.hypot((x - point[0]) / pixel_size[1], (y[:, None] - point[1]) / pixel_size[0])
    around = np.where(np.isfinite(height), around, np.inf)
    nearest = np.unravel_index(int(np.argmin(around)), height.shape)
    if not around[nearest] <= 1.5:
        return None
    return float(x[nearest[1]]), float(y[nearest[0]]), float(height[nearest])


def _at_centre(height: Array, axes: tuple[Array, Array], pixel_size: tuple[float, float]) -> float | None:
    x, y = axes
    row, column = y[0] / pixel_size[0], -x[0] / pixel_size[1]
    value = float(interpolated(height, rows=np.array([row]), columns=np.array([column]))[0])
    return value if math.isfinite(value) else None
