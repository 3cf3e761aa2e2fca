"""True thickness or height over a piece, as a sum of named terms.

A field is data: a mean, a slope, a curvature, ripples, spots and a rolled-off rim. Fields add, subtract, turn and
mirror exactly, so the truth of a stack after any number of cuts is known to rounding. What it leaves out: anything
that is not smooth over about a millimetre.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ripple:
    """A plane wave: amplitude [m], wave numbers [rad/m], phase [rad]."""

    amplitude: float
    kx: float
    ky: float
    phase: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A round hill of one height [m] that ends at its radius [m], with no slope at either."""

    x: float
    y: float
    height: float
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rim:
    """A roll-off: `drop` [m] lost at the edge of a disc of that radius, dying inward over `band` [m]."""

    drop: float
    band: float
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A thickness or height [m] over (x, y): mean, slopes, second-degree terms [1/m], ripples, spots, rims."""

    mean: float = 0.0
    slope: tuple[float, float] = (0.0, 0.0)
    bend: tuple[float, float, float] = (0.0, 0.0, 0.0)
    ripples: tuple[Ripple, ...] = ()
    spots: tuple[Spot, ...] = ()
    rims: tuple[Rim, ...] = ()

    def at(self, x: Array, y: Array) -> Array:
        """The field at points, shape of `x` [m]."""
        xx, xy, yy = self.bend
        height = self.mean + self.slope[0] * x + self.slope[1] * y + xx * x * x + xy * x * y + yy * y * y
        for ripple in self.ripples:
            height = height + ripple.amplitude * np.sin(ripple.kx * x + ripple.ky * y + ripple.phase)
        for spot in self.spots:
            inside = 1.0 - ((x - spot.x) ** 2 + (y - spot.y) ** 2) / spot.radius**2
            height = height + spot.height * np.clip(inside, 0.0, None) ** 2
        for rim in self.rims:
            height = height - rim.drop * np.exp((np.hypot(x, y) - rim.radius) / rim.band)
        return np.asarray(height, dtype=np.float64)

    def __add__(self, other: Field) -> Field:
        return Field(
            mean=self.mean + other.mean,
            slope=(self.slope[0] + other.slope[0], self.slope[1] + other.slope[1]),
            bend=(self.bend[0] + other.bend[0], self.bend[1] + other.bend[1], self.bend[2] + other.bend[2]),
            ripples=self.ripples + other.ripples,
            spots=self.spots + other.spots,
            rims=self.rims + other.rims,
        )

    def __neg__(self) -> Field:
        return Field(
            mean=-self.mean,
            slope=(-self.slope[0], -self.slope[1]),
            bend=(-self.bend[0], -self.bend[1], -self.bend[2]),
            ripples=tuple(replace(ripple, amplitude=-ripple.amplitude) for ripple in self.ripples),
            spots=tuple(replace(spot, height=-spot.height) for spot in self.spots),
            rims=tuple(replace(rim, drop=-rim.drop) for rim in self.rims),
        )

    def __sub__(self, other: Field) -> Field:
        return self + (-other)

    def turned(self, angle: float) -> Field:
        """The field of the same piece turned counter-clockwise by an angle [rad] under fixed axes."""
        c, s = math.cos(angle), math.sin(angle)
        xx, xy, yy = self.bend
        return Field(
            mean=self.mean,
            slope=(c * self.slope[0] - s * self.slope[1], s * self.slope[0] + c * self.slope[1]),
            bend=(
                c * c * xx - c * s * xy + s * s * yy,
                2.0 * c * s * (xx - yy) + (c * c - s * s) * xy,
                s * s * xx + c * s * xy + c * c * yy,
            ),
            ripples=tuple(
                replace(ripple, kx=c * ripple.kx - s * ripple.ky, ky=s * ripple.kx + c * ripple.ky)
                for ripple in self.ripples
            ),
            spots=tuple(replace(spot, x=c * spot.x - s * spot.y, y=s * spot.x + c * spot.y) for spot in self.spots),
            rims=self.rims,
        )

    def wedge(self, diameter: float) -> tuple[float, float]:
        """The wedge that the slope terms make across a diameter [m], and the azimuth of its thick edge [rad]."""
        return diameter * math.hypot(*self.slope), math.atan2(self.slope[1], self.slope[0])


def wedge(amount: float, azimuth: float, *, diameter: float) -> Field:
    """A pure wedge: `amount` [m] across the diameter [m], thickest at the azimuth [rad]."""
    steep = amount / diameter
    return Field(slope=(steep * math.cos(azimuth), steep * math.sin(azimuth)))


def dome(amount: float, *, diameter: float) -> Field:
    """A pure dome: the centre stands `amount` [m] above the edge; its mean over the disc is zero."""
    second = -4.0 * amount / diameter**2
    return Field(mean=amount / 2.0, bend=(second, 0.0, second))


def saddle(amount: float, azimuth: float, *, diameter: float) -> Field:
    """A pure saddle: the edge stands `amount` [m] high along the azimuth [rad] and as low across it."""
    second = 4.0 * amount / diameter**2
    return Field(bend=(second, 0.0, -second)).turned(azimuth)


def rippled(rms: float, *, rng: np.random.Generator, wavelengths: tuple[float, float], count: int = 6) -> Field:
    """Local unevenness: `count` waves of random direction and phase whose sum has the given rms [m].

    Wavelengths [m] are drawn evenly between the two given.
    """
    amplitude = rms * math.sqrt(2.0 / count)
    waves = []
    for _ in range(count):
        number = 2.0 * math.pi / rng.uniform(*wavelengths)
        direction, phase = rng.uniform(0.0, 2.0 * math.pi, 2)
        kx, ky = number * math.cos(direction), number * math.sin(direction)
        waves.append(Ripple(amplitude=amplitude, kx=kx, ky=ky, phase=float(phase)))
    return Field(ripples=tuple(waves))


def highest(field: Field, *, diameter: float, rings: int = 40, spokes: int = 72) -> float:
    """The highest value [m] of a field over a disc, by a fine polar net."""
    radius, azimuth = np.meshgrid(
        np.linspace(0.0, diameter / 2.0, rings), np.linspace(0.0, 2.0 * np.pi, spokes, endpoint=False)
    )
    return float(np.max(field.at(radius * np.cos(azimuth), radius * np.sin(azimuth))))
