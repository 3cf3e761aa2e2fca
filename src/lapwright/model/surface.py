"""Measured surfaces: a map of heights on an even grid, and a profile at even spacing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange

Quantity = Literal["height", "thickness"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeightMap:
    """Heights out of a face, or thicknesses, on an even grid.

    Attributes
    ----------
    height : float array, shape (ny, nx) [m]
        NaN = not measured. Row 0 is the top (largest y).
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    quantity : "height" or "thickness"
        What the numbers are.
    sign_ambiguous : bool
        True when the map may be upside down: domed and dished cannot be told apart.
    """

    height: NDArray[np.float64]
    pixel_size: tuple[float, float]
    quantity: Quantity = "height"
    sign_ambiguous: bool = False

    def __post_init__(self) -> None:
        if self.height.ndim != 2 or not self.height.size:
            raise OutOfValidRange("number of axes of the map", self.height.ndim, "2, with at least one pixel")
        for size in self.pixel_size:
            _need_length("pixel_size", size)
        _need_finite(self.height)
        self.height.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeightProfile:
    """Heights along a line at even spacing [m]; NaN = not measured."""

    height: NDArray[np.float64]
    spacing: float

    def __post_init__(self) -> None:
        if self.height.ndim != 1 or self.height.size < 2:
            raise OutOfValidRange("number of points of the profile", self.height.size, "2 or more")
        _need_length("spacing", self.spacing)
        _need_finite(self.height)
        self.height.setflags(write=False)


Surface = HeightMap | HeightProfile


# ----------------------------------------------------------------------------------------------------------------------


def _need_length(name: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0.0):
        raise OutOfValidRange(name, value, "a finite length above zero")


def _need_finite(height: NDArray[np.float64]) -> None:
    if np.isinf(height).any():
        raise OutOfValidRange("height", math.inf, "finite heights", "Write an unmeasured height as empty.")
