"""A smooth surface through scattered sites, for drawing only.

First the tilt and the dome that the sites can carry (least squares), then a thin-plate spline through what is left,
so that the surface passes through every site (J. Duchon 1977, thin-plate splines; kernel r² ln r). Nothing is said
beyond the sites: `hull` gives the convex region they enclose, and a drawing colours only that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A fitted surface: sites and weights of the spline, coefficients of the trend, in scaled coordinates."""

    x: Floats
    y: Floats
    weight: Floats
    trend: Floats
    size: float

    def at(self, x: Floats, y: Floats) -> Floats:
        """Height at places, any shape."""
        flat_x, flat_y = np.ravel(x) / self.size, np.ravel(y) / self.size
        columns = _columns(flat_x, flat_y, len(self.trend))
        distance2 = (flat_x[:, None] - self.x) ** 2 + (flat_y[:, None] - self.y) ** 2
        height: Floats = columns @ self.trend + _kernel(distance2) @ self.weight
        return height.reshape(np.shape(x))


def surface_through(x: Floats, y: Floats, value: Floats) -> Surface | None:
    """The surface through measured sites, or None when fewer than three sites span no area.

    Sites at one place are averaged first. Values that are NaN are left out.
    """
    x, y, value = _one_per_place(*_measured(x, y, value))
    if not _spans_area(x, y):
        return None
    size = float(np.max(np.hypot(x, y))) or 1.0
    u, v = x / size, y / size
    terms = 4 if len(u) >= 5 and _rank(_columns(u, v, 4)) == 4 else 3
    trend = _least_squares(_columns(u, v, terms), value)
    left = value - _columns(u, v, terms) @ trend
    weight, plane = _spline(u, v, left)
    trend[:3] += plane
    return Surface(x=u, y=v, weight=weight, trend=trend, size=size)


def hull(x: Floats, y: Floats) -> list[tuple[float, float]]:
    """Corners of the smallest convex region around points, counter-clockwise (monotone chain)."""
    points = sorted(set(zip(x.tolist(), y.tolist(), strict=True)))
    if len(points) < 3:
        return points
    return _half_hull(points) + _half_hull(points[::-1])


# ----------------------------------------------------------------------------------------------------------------------


def _measured(x: Floats, y: Floats, value: Floats) -> tuple[Floats, Floats, Floats]:
    known = np.isfinite(value)
    return x[known], y[known], value[known]


def _one_per_place(x: Floats, y: Floats, value: Floats) -> tuple[Floats, Floats, Floats]:
    places, where = np.unique(np.column_stack([x, y]), axis=0, return_inverse=True)
    where = np.ravel(where)
    mean = np.bincount(where, weights=value) / np.bincount(where)
    return places[:, 0], places[:, 1], mean


def _spans_area(x: Floats, y: Floats) -> bool:
    if len(x) < 3:
        return False
    size = float(np.max(np.abs(np.concatenate([x, y])))) or 1.0
    return _rank(_columns(x / size, y / size, 3)) == 3


def _rank(columns: Floats) -> int:
    return int(np.linalg.matrix_rank(columns, tol=1e-6))


def _columns(u: Floats, v: Floats, terms: int) -> Floats:
    return np.column_stack([np.ones_like(u), u, v, u**2 + v**2])[:, :terms]


def _least_squares(columns: Floats, value: Floats) -> Floats:
    return np.asarray(np.linalg.lstsq(columns, value, rcond=None)[0], dtype=np.float64)


def _kernel(distance2: Floats) -> Floats:
    kernel: Floats = distance2 * np.log(np.where(distance2 > 0.0, distance2, 1.0))
    return kernel


def _spline(u: Floats, v: Floats, value: Floats) -> tuple[Floats, Floats]:
    """Weights and plane of the thin-plate spline that takes `value` at the sites."""
    n = len(u)
    system = np.zeros((n + 3, n + 3))
    system[:n, :n] = _kernel((u[:, None] - u) ** 2 + (v[:, None] - v) ** 2)
    system[:n, n:] = _columns(u, v, 3)
    system[n:, :n] = system[:n, n:].T
    solved = np.linalg.solve(system, np.concatenate([value, np.zeros(3)]))
    return solved[:n], solved[n:]


def _half_hull(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    chain: list[tuple[float, float]] = []
    for point in points:
        while len(chain) > 1 and _turn(chain[-2], chain[-1], point) <= 0.0:
            chain.pop()
        chain.append(point)
    return chain[:-1]


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
