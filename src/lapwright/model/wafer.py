"""Outlines, wafers and carriers."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange

Mark = Literal["flat", "notch", "none"]
Seen = Literal["worked", "bonded"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """A disc, with a flat or a notch at -y, or neither. Lengths in m."""

    diameter: float
    mark: Mark = "none"
    flat_length: float = 0.0

    def __post_init__(self) -> None:
        _need_positive("diameter", self.diameter)
        if self.mark == "flat" and not 0.0 < self.flat_length < self.diameter:
            raise OutOfValidRange("flat_length", self.flat_length, f"more than 0 and less than {self.diameter:g} m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """A rectangular piece, centred on the origin. Lengths in m."""

    width: float
    height: float

    def __post_init__(self) -> None:
        _need_positive("width", self.width)
        _need_positive("height", self.height)


@dataclass(frozen=True, slots=True, kw_only=True)
class Polygon:
    """Any other outline: corners in order, in the wafer frame. Lengths in m."""

    corners: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if len(self.corners) < 3:
            raise OutOfValidRange("number of corners", len(self.corners), "at least 3")


Outline = Round | Rectangle | Polygon


@dataclass(frozen=True, slots=True, kw_only=True)
class Wafer:
    """A wafer or piece as it came: its identity, material, outline and nominal thickness [m]."""

    wafer_id: str
    material: str
    outline: Outline
    nominal_thickness: float
    orientation: str = ""
    spare: bool = False

    def __post_init__(self) -> None:
        _need_positive("nominal_thickness", self.nominal_thickness)


@dataclass(frozen=True, slots=True, kw_only=True)
class Carrier:
    """A plate that wafers are bonded to. Lengths in m."""

    carrier_id: str
    material: str
    diameter: float
    nominal_thickness: float

    def __post_init__(self) -> None:
        _need_positive("diameter", self.diameter)
        _need_positive("nominal_thickness", self.nominal_thickness)


@dataclass(frozen=True, slots=True, kw_only=True)
class SitePattern:
    """Where a set of readings is taken: labelled sites in the wafer frame [m], in the order they are read."""

    name: str
    labels: tuple[str, ...]
    x: NDArray[np.float64]
    y: NDArray[np.float64]

    def __post_init__(self) -> None:
        if not len(self.labels) == len(self.x) == len(self.y):
            raise OutOfValidRange("number of labels", len(self.labels), f"{len(self.x)}, one per site")
        if len(set(self.labels)) != len(self.labels):
            raise OutOfValidRange("number of different labels", len(set(self.labels)), f"{len(self.labels)}")
        freeze(self.x, self.y)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """How a map was taken, relative to the wafer frame: seen from which face, and turned by how much [rad]."""

    seen_from: Seen = "worked"
    turn: float = 0.0


WORKED_FRAME = Frame()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wedge:
    """A wedge vector: thickness difference over the full diameter [m], azimuth of the thickest edge [rad].

    The azimuth is None when the wedge cannot be told from none.
    """

    amount: float
    azimuth: float | None

    def __post_init__(self) -> None:
        if self.amount < 0.0:
            raise OutOfValidRange("wedge amount", self.amount, "zero or more; the azimuth carries the direction")


@dataclass(frozen=True, slots=True, kw_only=True)
class ThicknessMap:
    """Mean thickness at each site of one piece, in one frame. Shapes (n,) [m]; NaN = not measured."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    thickness: NDArray[np.float64]
    labels: tuple[str, ...] = ()
    frame: Frame = field(default=WORKED_FRAME)

    def __post_init__(self) -> None:
        freeze(self.x, self.y, self.thickness)


# ----------------------------------------------------------------------------------------------------------------------


def freeze(*arrays: NDArray[np.float64]) -> None:
    """Make arrays read-only, so that a frozen dataclass is frozen all the way down."""
    for array in arrays:
        array.setflags(write=False)


def _need_positive(name: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0.0):
        raise OutOfValidRange(name, value, "a finite length above zero")
