"""Lapping a bonded wafer on a plate with a jig whose tilt can be set.

The worked face becomes the plate's shape turned inside out, in a plane that the jig's tilt sets relative to the back
of the carrier; the travel of the spindle from first touch says how deep. Rates follow a power law with exponents of
this file, not the program's rule. Left out: the first minutes before the face conforms, edge roll-off of a plate,
run-down, and wear of the foot.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from lapwright.sim.bonding import Stack, print_through
from lapwright.sim.fields import Array, Field, dome, highest, rippled, wedge

PRESSURE_EXPONENT = 0.9
SPEED_EXPONENT = 0.95
REFERENCE_PRESSURE = 10e3  # Pa
REFERENCE_SPEED = 0.5  # m/s


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A lapping station: rate [m/s] at 10 kPa and 0.5 m/s, plate diameter and how far its middle stands high [m].

    A ring set too far out wears the rim of the plate, so that its middle rises by `dome_growth` [m/s] while it works.
    """

    name: str
    rate: float
    plate_diameter: float = 0.3
    plate_dome: float = 0.0
    dome_growth: float = 0.0
    rate_scatter: float = 0.05
    unevenness: float = 0.05e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Jig:
    """A jig: tilt of the wafer plane [m/m] toward the plate, adjusters, and their play.

    `tilt` (x, y) is the slope of the cut plane that the setting gives: the stack comes out thicker along it. `travel`
    per division and `play` in m; `leaning` says which way each adjuster was last moved.
    """

    tilt: tuple[float, float]
    azimuths: tuple[float, ...]
    radius: float
    per_division: float
    play: float = 0.0
    leaning: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if not self.leaning:
            object.__setattr__(self, "leaning", (1,) * len(self.azimuths))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One lap as it truly went: the stack after it, what it took at the centre [m], how long [s], the rate [m/s]."""

    stack: Stack
    removed: float
    time: float
    rate: float


def run_rate(station: Station, *, pressure: float, speed: float, rng: np.random.Generator) -> float:
    """The rate of one run [m/s]: the station's law at a pressure [Pa] and speed [m/s], times that day's luck."""
    law = (pressure / REFERENCE_PRESSURE) ** PRESSURE_EXPONENT * (speed / REFERENCE_SPEED) ** SPEED_EXPONENT
    luck = math.exp(station.rate_scatter * float(rng.standard_normal()))
    return float(station.rate * law * luck)


def adjusted(jig: Jig, divisions: tuple[float, ...]) -> Jig:
    """The jig after its adjusters were turned; positive brings the wafer nearer the plate there.

    An adjuster that reverses first runs through its play and moves nothing. What the moves do to the tilt is the
    least-squares plane through them; their mean moves the wafer, which only voids the zero.
    """
    moved, leaning = [], []
    for turn, lean in zip(divisions, jig.leaning, strict=True):
        direction = lean if turn == 0.0 else int(math.copysign(1, turn))
        lost = jig.play if direction != lean else 0.0
        moved.append(math.copysign(max(abs(turn) * jig.per_division - lost, 0.0), turn))
        leaning.append(direction)
    azimuth = np.asarray(jig.azimuths)
    plane = np.column_stack([np.ones_like(azimuth), jig.radius * np.cos(azimuth), jig.radius * np.sin(azimuth)])
    slope_x, slope_y = np.linalg.lstsq(plane, np.asarray(moved), rcond=None)[0][1:]
    tilt = (jig.tilt[0] - float(slope_x), jig.tilt[1] - float(slope_y))
    return replace(jig, tilt=tilt, leaning=tuple(leaning))


def lapped(
    stack: Stack,
    station: Station,
    jig: Jig,
    *,
    travel: float,
    rate: float,
    rng: np.random.Generator,
    pressure: float = REFERENCE_PRESSURE,
    stiffness: float = 240e9,
) -> Cut:
    """A lap that stops when the spindle has travelled `travel` [m] since the wafer first touched the plate.

    Raises `ValueError` when the travel is too short to reach every part of the face.
    """
    size = stack.wafer.diameter
    before = stack.thickness
    shape = (
        Field(slope=jig.tilt)
        + plate_print(station, diameter=size)
        + rippled(station.unevenness, rng=rng, wavelengths=(0.3 * size, 0.8 * size))
    )
    touch = highest(before - shape, diameter=size)
    new_face = Field(mean=touch - travel) + shape
    if highest(new_face - before, diameter=size) > 0.0:
        raise ValueError("The travel is too short: part of the face was not reached.")
    wafer = new_face - stack.carrier.thickness - stack.bond
    centre = float(wafer.at(np.zeros(1), np.zeros(1))[0])
    hills = tuple(print_through(void, thickness=centre, pressure=pressure, stiffness=stiffness) for void in stack.voids)
    after = replace(stack, wafer=replace(stack.wafer, thickness=wafer + Field(spots=hills)))
    removed = float((before - new_face).at(np.zeros(1), np.zeros(1))[0])
    return Cut(stack=after, removed=removed, time=travel / rate, rate=rate)


def plate_print(station: Station, *, diameter: float) -> Field:
    """The form a plate leaves on a wafer: a domed plate dishes it, by the square of the diameters."""
    return dome(-station.plate_dome * (diameter / station.plate_diameter) ** 2, diameter=diameter)


def new_jig(
    *, tilt_amount: float, diameter: float, rng: np.random.Generator, adjusters: int = 3, play: float = 0.2e-6
) -> Jig:
    """A jig as found: its plane off by `tilt_amount` [m] across the wafer's diameter [m], at any azimuth."""
    slope = wedge(tilt_amount, rng.uniform(-math.pi, math.pi), diameter=diameter).slope
    azimuths = tuple(math.pi / 2.0 + 2.0 * math.pi * k / adjusters for k in range(adjusters))
    return Jig(tilt=slope, azimuths=azimuths, radius=0.045, per_division=2e-6, play=play)


def stop_travel(asked: float, *, rng: np.random.Generator, error: float = 0.6e-6, late: float = 0.3e-6) -> float:
    """The travel [m] at which a lap really stops when `asked` was dialled in: a little late, and scattered."""
    return asked + late + error * float(rng.standard_normal())


def zero_touches(
    *, rng: np.random.Generator, film: float = 0.0, noise: float = 0.15e-6, count: int = 3, at: float = 0.0
) -> Array:
    """Readings of the jig's gauge [m] when the foot is set on the plate several times.

    A slurry film under the foot lifts it by up to `film` and squeezes out further at every touch.
    """
    lifted = film * np.exp(-np.arange(count, dtype=np.float64))
    return np.asarray(at + lifted + noise * rng.standard_normal(count), dtype=np.float64)
