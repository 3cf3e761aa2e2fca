"""Flatness of a face about a reference plane: FLTt, FLTp, FLTv, FLTq of ISO 12781-1.

The least-squares plane serves all four; the minimum-zone plane gives the smallest possible FLTt and is the right one
when a tolerance zone is to be proved. Places may be scattered or come from a map. Left out: any filter before.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import DidNotConverge, ShapeMismatch, ShapeNotDetermined

Array = NDArray[np.float64]

_ROUNDS = 200
_LEAST_SPREAD = 1e-6  # narrower than this share of its length, a set of places is a line


@dataclass(frozen=True, slots=True, kw_only=True)
class Flatness:
    """Flatness about the least-squares plane, all [m]: FLTt peak to valley, FLTp peak, FLTv valley, FLTq rms."""

    fltt: float
    fltp: float
    fltv: float
    fltq: float


def flatness(x: Array, y: Array, height: Array) -> Flatness:
    """Flatness about the least-squares plane.

    Parameters
    ----------
    x, y : float arrays, shape (n,) [m]
        Places.
    height : float array, shape (n,) [m]
        Heights out of the face; NaN = not measured.

    Returns
    -------
    Flatness

    Raises
    ------
    ShapeMismatch
        `x`, `y` and `height` differ in shape.
    ShapeNotDetermined
        Fewer than three measured places, or all on one line.

    References
    ----------
    .. [1] ISO 12781-1:2011, FLTt, FLTp, FLTv, FLTq (from memory). Key ``iso12781_1``.

    Examples
    --------
    >>> x, y = np.array([-1.0, 1.0, -1.0, 1.0, 0.0]), np.array([-1.0, -1.0, 1.0, 1.0, 0.0])
    >>> found = flatness(x, y, np.array([0.0, 0.0, 0.0, 0.0, 1e-6]))
    >>> round(found.fltp * 1e6, 6), round(found.fltv * 1e6, 6)
    (0.8, 0.2)
    """
    deviation = plane_deviation(x, y, height)
    deviation = deviation[np.isfinite(deviation)]
    peak, valley = float(deviation.max()), float(-deviation.min())
    return Flatness(fltt=peak + valley, fltp=peak, fltv=valley, fltq=math.sqrt(float(np.mean(deviation**2))))


def plane_deviation(x: Array, y: Array, height: Array) -> Array:
    """Deviation of each place from the least-squares plane through the measured ones.

    Parameters
    ----------
    x, y : float arrays, shape (n,) [m]
        Places.
    height : float array, shape (n,) [m]
        Heights; NaN = not measured.

    Returns
    -------
    float array, shape (n,) [m]
        NaN where not measured.

    Raises
    ------
    ShapeMismatch
        `x`, `y` and `height` differ in shape.
    ShapeNotDetermined
        Fewer than three measured places, or all on one line.

    Examples
    --------
    >>> x, y = np.array([0.0, 1.0, 0.0, 1.0]), np.array([0.0, 0.0, 1.0, 1.0])
    >>> plane_deviation(x, y, np.array([0.0, 0.0, 0.0, 4.0])).tolist()
    [1.0, -1.0, -1.0, 1.0]
    """
    u, v, z = _scaled(x, y, height)
    terms = np.column_stack((np.ones_like(u), u, v))
    found = np.linalg.solve(terms.T @ terms, terms.T @ z)
    deviation = np.full(height.shape, np.nan)
    deviation[np.isfinite(height)] = z - terms @ found
    return deviation


def minimum_zone_flatness(x: Array, y: Array, height: Array) -> float:
    """FLTt about the minimum-zone plane: the least distance, along the height, of two parallel planes around all.

    Parameters
    ----------
    x, y : float arrays, shape (n,) [m]
        Places.
    height : float array, shape (n,) [m]
        Heights; NaN = not measured.

    Returns
    -------
    float [m]

    Raises
    ------
    ShapeMismatch
        `x`, `y` and `height` differ in shape.
    ShapeNotDetermined
        Fewer than three measured places, or all on one line.
    DidNotConverge
        The search for the outermost places did not end.

    Notes
    -----
    A linear programme in slope, slope and the two levels, solved on a growing set of the outermost places until no
    place lies outside the zone: exact to rounding, also for a million places.

    References
    ----------
    .. [1] ISO 12781-1:2011, minimum zone reference plane; only FLTt is defined about it (from memory).
       Key ``iso12781_1``.

    Examples
    --------
    >>> x, y = np.array([-1.0, 1.0, -1.0, 1.0, 0.0]), np.array([-1.0, -1.0, 1.0, 1.0, 0.0])
    >>> round(minimum_zone_flatness(x, y, np.array([0.0, 0.0, 0.0, 0.0, 1e-6])) * 1e6, 6)
    1.0
    """
    u, v, z = _scaled(x, y, height)
    terms = np.column_stack((u, v))
    slopes = np.linalg.lstsq(terms - terms.mean(axis=0), z, rcond=None)[0]
    size = float(np.ptp(z - terms @ slopes))
    if not size > 0.0:
        return 0.0
    z = (z - terms @ slopes) / size  # the search starts from the least-squares plane, so that it starts near
    chosen: set[int] = {int(i) for axis in (u, v, z) for i in (np.argmin(axis), np.argmax(axis))}
    for _ in range(_ROUNDS):
        places = sorted(chosen)
        slopes, zone = _zone(terms[places], z[places])
        left = z - terms @ slopes
        outermost = {int(np.argmin(left)), int(np.argmax(left))}
        if float(np.ptp(left)) <= zone + 1e-9 or outermost <= chosen:
            return float(np.ptp(left)) * size
        chosen |= outermost
    search = "The search for the minimum zone"
    raise DidNotConverge(search, steps=_ROUNDS)


# ----------------------------------------------------------------------------------------------------------------------


def _scaled(x: Array, y: Array, height: Array) -> tuple[Array, Array, Array]:
    """Measured places about their middle in units of their reach, and heights about their mean."""
    if not x.shape == y.shape == height.shape:
        raise ShapeMismatch(x=x.shape, y=y.shape, height=height.shape)
    known = np.isfinite(height)
    u, v, z = x[known], y[known], height[known]
    if z.size >= 3:
        u, v = u - u.mean(), v - v.mean()
        reach = float(np.hypot(u, v).max())
        u, v = (u / reach, v / reach) if reach > 0.0 else (u, v)
        spread = np.linalg.eigvalsh(np.cov(np.vstack((u, v))))
        if reach > 0.0 and spread[0] > (_LEAST_SPREAD**2) * spread[1]:
            return u, v, z - z.mean()
    raise ShapeNotDetermined(
        f"{z.size} measured places; a plane needs at least three that are not on one line. Measure more of the face."
    )


def _zone(terms: Array, z: Array) -> tuple[Array, float]:
    """Slopes and height of the smallest zone around a few places."""
    from scipy.optimize import linprog

    ones, none = np.ones((z.size, 1)), np.zeros((z.size, 1))
    found = linprog(
        [0.0, 0.0, -1.0, 1.0],  # slope, slope, lower level, upper level: least upper less lower
        A_ub=np.vstack((np.hstack((terms, ones, none)), np.hstack((-terms, none, -ones)))),
        b_ub=np.concatenate((z, -z)),
        bounds=[(None, None)] * 4,
        method="highs",
    )
    if found.x is None:
        search = "The smallest zone around the outermost places"
        raise DidNotConverge(search, steps=_ROUNDS)
    slopes = np.asarray(found.x[:2], dtype=np.float64)
    left = z - terms @ slopes
    return slopes, float(np.ptp(left))
