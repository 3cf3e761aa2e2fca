"""Dense scans of thickness, ten thousand to a million points: robust surface, odd points, worst square.

The surface is found by least squares that turns away from odd points, so that one particle does not tilt the plane.
The local variation is the range inside a square of stated size slid over the whole face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeMismatch, ShapeNotDetermined
from lapwright.metrology.surface_fit import Surface, surface_terms

Array = NDArray[np.float64]

_STEPS = 30
_CLOSE = 1e-3  # of the scale: change of the surface at which the search ends
_FIRST_LOOK = 20_000  # points
_CHUNK = 16_384  # points
_LARGEST_CONDITION = 1e10
_TUNING = 4.685  # of Tukey's biweight: 95 % efficiency for normal errors (Holland and Welsch 1977, from memory)
_MAD = 1.4826  # median absolute deviation to standard deviation, normal distribution
_ON_NODE = 1e-3  # of the pitch
_GLANCE = 2000  # points looked at first
_MOSTLY = 0.98
_SCATTERED = 2.0  # pitches a cell, so that four scattered points are expected in each
_LEAST_MEASURED = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class RobustSurface:
    """A surface through a scan that odd points do not pull.

    Attributes
    ----------
    coefficients : float array, shape (p,) [m]
        On places divided by `reach`: centre, slopes along x and y, then x² + y², then x² − y² and 2xy.
    reach : float [m]
        Radius that places were divided by.
    residuals : float array, shape (n,) [m]
        NaN where not measured.
    scale : float [m]
        Standard deviation of the residuals without odd points, from their median absolute deviation.
    odd : int array, shape (m,)
        Points further than `odd_limit` from the surface, furthest first; none of them was dropped.
    odd_limit : float [m]
        What counts as odd.
    """

    coefficients: Array
    reach: float
    residuals: Array
    scale: float
    odd: NDArray[np.intp]
    odd_limit: float

    def __post_init__(self) -> None:
        for array in (self.coefficients, self.residuals, self.odd):
            array.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalVariation:
    """Range of thickness in a sliding square.

    Attributes
    ----------
    worst : float [m]
        Largest range.
    x, y : float [m]
        Middle of that square.
    map : float array, shape (ny, nx) [m]
        Range by middle of the square, row 0 at the top; NaN where the square is not wholly on the measured face.
    map_x, map_y : float arrays, shapes (nx,) and (ny,) [m]
        Places of the columns and rows of `map`.
    side : float [m]
        Side of the square.
    pitch : float [m]
        Step by which it was slid.
    """

    worst: float
    x: float
    y: float
    map: Array
    map_x: Array
    map_y: Array
    side: float
    pitch: float

    def __post_init__(self) -> None:
        for array in (self.map, self.map_x, self.map_y):
            array.setflags(write=False)


def robust_surface(
    x: Array, y: Array, thickness: Array, *, surface: Surface = "dome", reach: float | None = None, limit: float = 6.0
) -> RobustSurface:
    """Surface through a dense scan by reweighted least squares.

    Parameters
    ----------
    x, y : float arrays, shape (n,) [m]
        Places in the wafer frame.
    thickness : float array, shape (n,) [m]
        Thickness or height; NaN = not measured.
    surface : "plane", "dome" or "saddle"
        3, 4 or 6 terms.
    reach : float or None [m]
        Radius that places are divided by; None takes the furthest point.
    limit : float [1]
        Distance from the surface, in standard deviations, beyond which a point is named odd.

    Returns
    -------
    RobustSurface

    Raises
    ------
    ShapeMismatch
        `x`, `y` and `thickness` differ in shape.
    ShapeNotDetermined
        The measured points do not carry the surface.

    Notes
    -----
    Tukey's biweight (1 − (r/4.685 s)²)² with s = 1.4826 times the median absolute residual, from the least-squares
    surface on, until the surface moves by less than a thousandth of s. Up to about a quarter of the points may be odd.
    Long scans begin with an even choice of 20 000 points and end with all.

    References
    ----------
    .. [1] P. W. Holland and R. E. Welsch, Commun. Stat. A 6 (1977) 813-827, doi:10.1080/03610927708827533 (from
       memory). Key ``holland1977``.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> x, y = rng.uniform(-0.05, 0.05, (2, 5000))
    >>> t = 500e-6 + 1e-6 * x / 0.05
    >>> t[:50] += 20e-6
    >>> found = robust_surface(x, y, t, surface="plane", reach=0.05)
    >>> round(float(found.coefficients[1]) * 1e6, 6), found.odd.size
    (1.0, 50)
    """
    if not x.shape == y.shape == thickness.shape:
        raise ShapeMismatch(x=x.shape, y=y.shape, thickness=thickness.shape)
    known = np.isfinite(thickness)
    u, v, z = x[known], y[known], thickness[known]
    size = reach or (float(np.hypot(u, v).max()) if z.size else 0.0)
    if z.size < 6 or not size > 0.0:
        raise _not_carried(surface, z.size)
    level = float(np.median(z[:: max(1, z.size // _FIRST_LOOK)]))
    points = (u / size, v / size, z - level)
    found = _reweighted(points, surface)
    left = _residuals(points, found, surface)
    scale = _MAD * float(np.median(np.abs(left)))
    scale = _MAD * float(np.median(np.abs(left[np.abs(left) <= _TUNING * scale])))
    residuals = np.full(thickness.shape, np.nan)
    residuals[known] = left
    found[0] += level
    bound = limit * scale + 1e-15
    odd = np.flatnonzero(np.abs(residuals) > bound)
    return RobustSurface(
        coefficients=found,
        reach=size,
        residuals=residuals,
        scale=scale,
        odd=odd[np.argsort(-np.abs(residuals[odd]))],
        odd_limit=bound,
    )


def local_variation(x: Array, y: Array, thickness: Array, *, side: float, pitch: float | None = None) -> LocalVariation:
    """Range of thickness in a square slid over the face, and where it is worst.

    Parameters
    ----------
    x, y : float arrays, shape (n,) [m]
        Places in the wafer frame.
    thickness : float array, shape (n,) [m]
        Thickness; NaN = not measured.
    side : float [m]
        Side of the square.
    pitch : float or None [m]
        Distance of neighbouring points; None finds it: the step of a lattice, or the root of the area a point.

    Returns
    -------
    LocalVariation

    Raises
    ------
    ShapeMismatch
        `x`, `y` and `thickness` differ in shape.
    OutOfValidRange
        `side` is less than two steps: two pitches on a lattice, four between scattered points.
    ShapeNotDetermined
        No square lies wholly on the measured face.

    Notes
    -----
    Points fall into cells of one pitch on a lattice and about two when scattered, of which the square holds a whole
    number, and the square is slid cell by cell; points on a lattice count on both borders of a square. A square counts
    when 95 % of its cells hold a point.
    Odd points count, too: a particle is part of what was measured.

    Examples
    --------
    >>> x, y = (axis.ravel() for axis in np.meshgrid(np.arange(-20, 21) * 1e-3, np.arange(-20, 21) * 1e-3))
    >>> found = local_variation(x, y, 500e-6 + 1e-5 * x, side=5e-3, pitch=1e-3)
    >>> round(found.worst * 1e9, 6)
    50.0
    """
    if not x.shape == y.shape == thickness.shape:
        raise ShapeMismatch(x=x.shape, y=y.shape, thickness=thickness.shape)
    known = np.isfinite(thickness)
    u, v, z = x[known], y[known], thickness[known]
    if z.size < 4:
        raise _no_square(side)
    step, on_lattice = _step(u, v, pitch)
    if not side >= 2.0 * step:
        expected = f"at least two steps ({2.0 * step:g} m)"
        raise OutOfValidRange("side", side, expected, "Scan finer or widen the square.")
    across = round(side / step)
    cell = side / across
    (columns, column_nodes), (rows, row_nodes) = _cells(u, cell), _cells(-v, cell)
    window = across + 1 if on_lattice and column_nodes and row_nodes else across
    spread, filled = _sliding_range(rows, columns, z, window)
    spread[filled < _LEAST_MEASURED] = np.nan
    if not np.isfinite(spread).any():
        raise _no_square(side)
    middle = 0.5 * (window - 1)
    map_x = u.min() + (np.arange(spread.shape[1]) + middle) * cell
    map_y = v.max() - (np.arange(spread.shape[0]) + middle) * cell
    row, column = np.unravel_index(int(np.nanargmax(spread)), spread.shape)
    return LocalVariation(
        worst=float(spread[row, column]),
        x=float(map_x[column]),
        y=float(map_y[row]),
        map=spread,
        map_x=map_x,
        map_y=map_y,
        side=side,
        pitch=cell,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _reweighted(points: tuple[Array, Array, Array], surface: Surface) -> Array:
    """Coefficients; long scans begin with what every so-manieth point says."""
    x, y, z = points
    step = max(1, z.size // _FIRST_LOOK)
    glance = (x[::step], y[::step], z[::step])
    found = _solved(glance, None, math.inf, surface)
    for part in (glance, points) if step > 1 else (points,):
        for _ in range(_STEPS):
            scale = _MAD * float(np.median(np.abs(_residuals(glance, found, surface))))
            if scale <= 1e-12 * float(np.abs(glance[2]).max()):
                break
            before, found = found, _solved(part, found, scale, surface)
            if float(np.abs(found - before).sum()) <= _CLOSE * scale:
                break
    return found


def _solved(points: tuple[Array, Array, Array], before: Array | None, scale: float, surface: Surface) -> Array:
    """Weighted least squares with the weights that the coefficients before give; in pieces that stay in the cache."""
    x, y, z = points
    width = len(surface_terms(np.zeros(1), np.zeros(1), surface=surface)[0])
    gram, right = np.zeros((width, width)), np.zeros(width)
    for start in range(0, z.size, _CHUNK):
        part = slice(start, start + _CHUNK)
        terms = surface_terms(x[part], y[part], surface=surface)
        weighted = terms if before is None else terms * _biweight(z[part] - terms @ before, scale)[:, None]
        gram += weighted.T @ terms
        right += weighted.T @ z[part]
    if not np.linalg.cond(gram) < _LARGEST_CONDITION:
        raise _not_carried(surface, z.size)
    return np.asarray(np.linalg.solve(gram, right), dtype=np.float64)


def _residuals(points: tuple[Array, Array, Array], coefficients: Array, surface: Surface) -> Array:
    x, y, z = points
    left = np.empty(z.size)
    for start in range(0, z.size, _CHUNK):
        part = slice(start, start + _CHUNK)
        left[part] = z[part] - surface_terms(x[part], y[part], surface=surface) @ coefficients
    return left


def _biweight(left: Array, scale: float) -> Array:
    return np.asarray(np.clip(1.0 - (left / (_TUNING * scale)) ** 2, 0.0, None) ** 2)


def _step(x: Array, y: Array, pitch: float | None) -> tuple[float, bool]:
    """Size of a cell, and whether points lie on a lattice of it; scattered points need cells of two pitches."""
    columns, rows = (_regular_step(places) for places in (x, y))
    if pitch is None and columns is not None and rows is not None and abs(columns - rows) <= _ON_NODE * rows:
        pitch = columns
    if pitch is not None and all(_cells(places, pitch)[1] for places in (x, y)):
        return pitch, True
    step = pitch or math.sqrt(float(np.ptp(x)) * float(np.ptp(y)) / x.size)
    return _SCATTERED * step, False


def _regular_step(places: Array) -> float | None:
    """The step between the different values of a coordinate when they are few and even."""
    glance = places[:: max(1, places.size // _GLANCE)]
    if np.unique(glance).size > _MOSTLY * glance.size:
        return None  # scattered: no need to sort them all
    values = np.unique(places)
    if not 2 <= values.size <= 4.0 * math.sqrt(places.size):
        return None
    steps = np.diff(values)
    return float(np.median(steps)) if float(np.ptp(steps)) <= 2.0 * _ON_NODE * float(np.median(steps)) else None


def _cells(places: Array, cell: float) -> tuple[NDArray[np.intp], bool]:
    """Cell of each place along one axis, and whether all places lie on the cells' middles."""
    offset = (places - places.min()) / cell
    nearest = np.rint(offset)
    if float(np.abs(offset - nearest).max()) <= _ON_NODE:
        return nearest.astype(np.intp), True
    return np.floor(offset * (1.0 - 1e-12)).astype(np.intp), False


def _sliding_range(rows: NDArray[np.intp], columns: NDArray[np.intp], z: Array, window: int) -> tuple[Array, Array]:
    """Range of thickness in each square of cells, by its upper left cell, and the share of cells that hold a point."""
    from scipy.ndimage import maximum_filter1d, minimum_filter1d, uniform_filter1d

    shape = (int(rows.max()) + 1, int(columns.max()) + 1)
    place = rows * shape[1] + columns
    highest, lowest = np.full(shape, -np.inf), np.full(shape, np.inf)
    np.maximum.at(highest.reshape(-1), place, z)
    np.minimum.at(lowest.reshape(-1), place, z)
    filled = np.isfinite(highest).astype(np.float64)
    if min(shape) < window:
        return np.full((1, 1), np.nan), np.zeros((1, 1))
    for axis in (0, 1):
        highest = maximum_filter1d(highest, window, axis=axis, mode="nearest")
        lowest = minimum_filter1d(lowest, window, axis=axis, mode="nearest")
        filled = uniform_filter1d(filled, window, axis=axis, mode="nearest")
    first = window // 2
    part = np.s_[first : first + shape[0] - window + 1, first : first + shape[1] - window + 1]
    with np.errstate(invalid="ignore"):
        return np.asarray(highest[part] - lowest[part]), filled[part]


def _not_carried(surface: str, count: int) -> ShapeNotDetermined:
    return ShapeNotDetermined(
        f"{count} measured points do not carry a {surface}: too few, or on one line or ring. Scan more of the face."
    )


def _no_square(side: float) -> ShapeNotDetermined:
    return ShapeNotDetermined(
        f"No square of {side * 1e3:.3g} mm lies wholly on the measured face. Take a smaller square or scan more."
    )
