"""Polynomials on a set of points: values and slopes, for surfaces without a carrier."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Basis:
    """All products of Legendre polynomials in x and y up to a degree, at points within -1 to 1, piston first."""

    values: Array
    slope_x: Array
    slope_y: Array
    degree: int

    def up_to(self, degree: int) -> NDArray[np.intp]:
        """Places of the terms of at most a degree."""
        return np.flatnonzero(np.array([i + j <= degree for i, j in _orders(self.degree)]))


def basis(x: NDArray[np.floating], y: NDArray[np.floating], degree: int) -> Basis:
    """Basis at points (n,): columns in the order of the total degree."""
    from numpy.polynomial import legendre

    px, py = legendre.legvander(x, degree), legendre.legvander(y, degree)
    derivative = np.zeros((degree + 1, degree + 1))
    for order in range(degree + 1):
        slope = legendre.legder(np.eye(degree + 1)[order])
        derivative[: slope.size, order] = slope
    dx, dy = px @ derivative, py @ derivative
    orders = _orders(degree)
    return Basis(
        np.stack([px[:, i] * py[:, j] for i, j in orders], axis=1),
        np.stack([dx[:, i] * py[:, j] for i, j in orders], axis=1),
        np.stack([px[:, i] * dy[:, j] for i, j in orders], axis=1),
        degree,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _orders(degree: int) -> list[tuple[int, int]]:
    return [(total - j, j) for total in range(degree + 1) for j in range(total + 1)]
