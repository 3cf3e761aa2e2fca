"""Places on a map: axes in the wafer frame, and the circle that the measured face fills.

A map has row 0 at the top: x grows to the right with the column, y upward against the row. The origin is the middle of
the array until an aperture says where the face is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeNotDetermined

Array = NDArray[np.float64]

_NEAR = 1e-6  # of a pixel: nearer than that, a place is on it
_RAYS = 720
_ROUNDS = 10
_INSIDE_RIM = 1.5  # pixels: a rim point further inside the circle lies on a flat, a notch or a gap


@dataclass(frozen=True, slots=True, kw_only=True)
class Aperture:
    """A circle on a map: centre in the map's own axes and radius [m]. What lies outside is not looked at."""

    x: float = 0.0
    y: float = 0.0
    radius: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.radius) and self.radius > 0.0):
            raise OutOfValidRange("radius", self.radius, "a length above zero")


def grid_axes(shape: tuple[int, ...], *, pixel_size: tuple[float, float]) -> tuple[Array, Array]:
    """Places of columns and rows, from the middle of the array.

    Parameters
    ----------
    shape : tuple of two int
        Rows and columns.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.

    Returns
    -------
    x : float array, shape (nx,) [m]
        Growing.
    y : float array, shape (ny,) [m]
        Falling: row 0 is the top.

    Raises
    ------
    OutOfValidRange
        A pixel size is not above zero.

    Examples
    --------
    >>> x, y = grid_axes((3, 2), pixel_size=(1.0, 2.0))
    >>> x.tolist(), y.tolist()
    ([-1.0, 1.0], [1.0, 0.0, -1.0])
    """
    for size in pixel_size:
        if not (math.isfinite(size) and size > 0.0):
            raise OutOfValidRange("pixel_size", size, "a length above zero")
    rows, columns = shape
    x = (np.arange(columns) - 0.5 * (columns - 1)) * pixel_size[1]
    y = (0.5 * (rows - 1) - np.arange(rows)) * pixel_size[0]
    return np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)


def fitted_aperture(mask: NDArray[np.bool_], *, pixel_size: tuple[float, float]) -> Aperture:
    """The circle through the rim of a face; flats, notches and gaps at the rim are passed over.

    Parameters
    ----------
    mask : bool array, shape (ny, nx)
        True on the face.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.

    Returns
    -------
    Aperture
        Radius out to the outer side of the rim pixels.

    Raises
    ------
    ShapeNotDetermined
        No pixel is on the face.

    Notes
    -----
    The furthest pixel in each of 720 directions from the middle, least-squares circle, rim points more than 1.5 pixels
    inside it left out, repeated. For a rectangular face the circle through its corners comes out.

    Examples
    --------
    >>> x, y = grid_axes((201, 201), pixel_size=(1e-3, 1e-3))
    >>> face = (np.hypot(x - 5e-3, y[:, None]) <= 0.05) & (y[:, None] > -0.045)
    >>> found = fitted_aperture(face, pixel_size=(1e-3, 1e-3))
    >>> round(found.x * 1e3, 1), round(abs(found.y) * 1e3, 1), round(found.radius * 1e3)
    (5.0, 0.0, 50)
    """
    if not mask.any():
        raise ShapeNotDetermined("No pixel of the map is measured. Give a map with a face on it.")
    x, y = grid_axes(mask.shape, pixel_size=pixel_size)
    rows, columns = np.nonzero(mask)
    px, py = x[columns], y[rows]
    middle = (0.5 * (px.min() + px.max()), 0.5 * (py.min() + py.max()))
    rim_x, rim_y = _rim(px, py, middle)
    half = 0.5 * max(pixel_size)
    keep = np.ones(rim_x.size, dtype=bool)
    circle = (middle[0], middle[1], float(np.hypot(rim_x - middle[0], rim_y - middle[1]).max()))
    for _ in range(_ROUNDS):
        if int(keep.sum()) < 3:
            break
        circle = _circle(rim_x[keep], rim_y[keep], fallback=circle)
        inside = circle[2] - np.hypot(rim_x - circle[0], rim_y - circle[1])
        now = inside <= max(_INSIDE_RIM * max(pixel_size), float(np.median(inside)))
        if np.array_equal(now, keep):
            break
        keep = now
    reach = float(np.hypot(px - circle[0], py - circle[1]).max())
    return Aperture(x=circle[0], y=circle[1], radius=max(circle[2] + half, reach))


def interpolated(height: Array, *, rows: Array, columns: Array) -> Array:
    """Heights between pixels, linear in the four around; a pixel without weight need not be measured.

    Parameters
    ----------
    height : float array, shape (ny, nx) [m]
        Heights; NaN = not measured.
    rows, columns : float arrays, shape (n,) [1]
        Places counted in pixels from the first.

    Returns
    -------
    float array, shape (n,) [m]
        NaN off the map and beside missing pixels.

    Examples
    --------
    >>> interpolated(np.array([[0.0, 1.0], [2.0, 3.0]]), rows=np.array([0.5]), columns=np.array([0.5])).tolist()
    [1.5]
    """
    ny, nx = height.shape
    on_map = (rows >= -_NEAR) & (rows <= ny - 1 + _NEAR) & (columns >= -_NEAR) & (columns <= nx - 1 + _NEAR)
    top = np.clip(np.floor(rows + _NEAR), 0, ny - 1).astype(np.intp)
    left = np.clip(np.floor(columns + _NEAR), 0, nx - 1).astype(np.intp)
    down, across = np.clip(rows - top, 0.0, 1.0), np.clip(columns - left, 0.0, 1.0)
    total = np.zeros(rows.shape)
    for row, row_share in ((top, 1.0 - down), (np.minimum(top + 1, ny - 1), down)):
        for column, column_share in ((left, 1.0 - across), (np.minimum(left + 1, nx - 1), across)):
            share = row_share * column_share
            total += np.where(share > _NEAR, share * height[row, column], 0.0)
    return np.where(on_map, total, np.nan)


# ----------------------------------------------------------------------------------------------------------------------


def _rim(x: Array, y: Array, middle: tuple[float, float]) -> tuple[Array, Array]:
    """The furthest place in each of many directions."""
    dx, dy = x - middle[0], y - middle[1]
    ray = np.floor((np.arctan2(dy, dx) / (2.0 * math.pi) + 0.5) * _RAYS).astype(np.intp) % _RAYS
    distance = np.hypot(dx, dy)
    order = np.lexsort((distance, ray))
    last = order[np.flatnonzero(np.diff(np.append(ray[order], _RAYS)))]
    return x[last], y[last]


def _circle(x: Array, y: Array, *, fallback: tuple[float, float, float]) -> tuple[float, float, float]:
    """Least-squares circle by the linear equation 2 a x + 2 b y + c = x² + y²."""
    mx, my = x.mean(), y.mean()
    u, v = x - mx, y - my
    size = float(np.hypot(u, v).max())
    if not size > 0.0:
        return fallback
    terms = np.column_stack((u, v, np.full(u.size, size))) / size
    found, _, rank, _ = np.linalg.lstsq(terms, (u * u + v * v) / size**2, rcond=None)
    if rank < 3:
        return fallback
    a, b, c = 0.5 * found[0] * size, 0.5 * found[1] * size, found[2] * size**2
    return float(a + mx), float(b + my), math.sqrt(max(c + a * a + b * b, 0.0))
