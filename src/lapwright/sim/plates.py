"""A lapping plate that wears under its ring, and the dials that read its shape.

The plate is a set of circles, each with its height. Grains of the ring are followed one by one: each takes from the
circle it stands on, by its own share of the load and by how far it slides. The ring is stiff at its rims and yields
between, grains blunt with load and heat with speed, so that the law is a power law with exponents of this file. A dial
on a bar reads the plate with noise and with the bar's own sag; a wafer copies what it meets, never quite whole.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

COPIED = 0.92  # of the plate's form, by a wafer that has lapped to full pattern
STEP = 1200.0  # s
CIRCLES = 55
_GRAINS, _GOLDEN_ANGLE = 6000, math.pi * (3.0 - math.sqrt(5.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class WearLaw:
    """How a plate wears: exponents of pressure and speed, how much more a ring presses at its rims than between.

    A circle that stands out by `yields` [m] bears twice the load.
    """

    pressure_exponent: float = 0.85
    speed_exponent: float = 1.12
    rim_load: float = 0.3
    yields: float = 3e-6


USUAL_LAW = WearLaw()


@dataclass(frozen=True, slots=True, kw_only=True)
class WearingPlate:
    """A plate: land from `inner` to `outer` [m], ring of outer and inner radius [m], mean wear [m/s] while it runs.

    `heights` [m] of its circles from the inside out; `pull` [m] shifts where the ring truly stands from where its
    scale says: bearings have play.
    """

    inner: float
    outer: float
    ring: tuple[float, float]
    wear: float
    pull: float = 0.0
    law: WearLaw = USUAL_LAW
    heights: Array = field(default_factory=lambda: np.zeros(CIRCLES))

    @property
    def circles(self) -> Array:
        """Radii of the circles [m]."""
        edges = np.linspace(self.inner, self.outer, CIRCLES + 1)
        return np.asarray(0.5 * (edges[1:] + edges[:-1]), dtype=np.float64)

    @property
    def dome(self) -> float:
        """Centre over rim of the best parabola over the whole radius, circles counted alike [m]."""
        return -float(np.polyfit((self.circles / self.outer) ** 2, self.heights, 1)[0])


def capped(plate: WearingPlate, dome: float, *, trough: float = 0.0) -> WearingPlate:
    """The plate with a dome of that height [m] and a trough of that depth [m] along the middle of its land."""
    r = plate.circles
    middle, width = 0.5 * (plate.inner + plate.outer), 0.25 * (plate.outer - plate.inner)
    return replace(plate, heights=-dome * (r / plate.outer) ** 2 - trough * np.exp(-(((r - middle) / width) ** 2)))


def ran(plate: WearingPlate, *, offset: float, time: float, ratio: float = 1.0) -> WearingPlate:
    """The plate after it ran for a time [s] with the scale of the ring at `offset` [m], the ring at a speed ratio."""
    away, law = offset + plate.pull, plate.law
    outer, inner = plate.ring
    depth = (np.arange(_GRAINS) + 0.5) / _GRAINS
    r, turn = np.sqrt(inner**2 + (outer**2 - inner**2) * depth), _GOLDEN_ANGLE * np.arange(_GRAINS)
    along, across = r * np.cos(turn), r * np.sin(turn)
    place = np.hypot(away + along, across)
    on = (place > plate.inner) & (place < plate.outer)
    stiff = np.where(on, 1.0 + law.rim_load * ((2.0 * depth - 1.0) ** 2), 0.0)
    slid = np.hypot(away + (1.0 - ratio) * along, (1.0 - ratio) * across) ** law.speed_exponent
    number = np.clip(((place - plate.inner) / (plate.outer - plate.inner) * CIRCLES).astype(int), 0, CIRCLES - 1)
    steps = max(1, math.ceil(time / STEP))
    heights = plate.heights
    for _ in range(steps):
        load = _levelled(stiff * _bearing(plate, heights)[number], along)
        work = (load**law.pressure_exponent * slid)[on]
        taken = np.bincount(number[on], weights=work, minlength=CIRCLES) / plate.circles
        taken = np.convolve(np.pad(taken, 3, mode="edge"), np.array([1, 2, 3, 4, 3, 2, 1]) / 16.0, mode="valid")
        heights = heights - plate.wear * (time / steps) * taken / taken.mean()
    return replace(plate, heights=heights)


def straightedge(
    dome: float | WearingPlate, places: Array, *, outer: float, rng: np.random.Generator, noise: float = 0.4e-6
) -> Array:
    """What the dial says [m] along a bar at places [m] from the plate's axis; the bar lies as it happens to.

    A plain number is the dome of a plate that is one cap.
    """
    r = np.abs(np.asarray(places, dtype=np.float64))
    true = -dome * (r / outer) ** 2 if isinstance(dome, float) else np.interp(r, dome.circles, dome.heights)
    lying = rng.normal(0.0, 20e-6) + rng.normal(0.0, 3e-6) * np.asarray(places) / outer
    return np.asarray(true + lying + noise * rng.standard_normal(r.shape), dtype=np.float64)


def lapped_sagitta(plate: WearingPlate, *, offset: float, diameter: float) -> float:
    """Sagitta [m] over its diameter [m] of a wafer that lapped there to full pattern, domed positive.

    Each point of the turning wafer wears to the mean of the circles that it meets.
    """
    turn = 2.0 * math.pi * (np.arange(180) + 0.5) / 180
    r = np.linspace(0.0, diameter / 2.0, 20)[:, None]
    met = np.hypot(offset + r * np.cos(turn), r * np.sin(turn))
    form = -COPIED * np.interp(met, plate.circles, plate.heights).mean(axis=1)
    return -float(np.polyfit((2.0 * r[:, 0] / diameter) ** 2, form, 1)[0])


# ----------------------------------------------------------------------------------------------------------------------


def _bearing(plate: WearingPlate, heights: Array) -> Array:
    """How much more the ring presses on circles that stand out of the plate's cap, and less on those that lie below."""
    square = (plate.circles / plate.outer) ** 2
    standing_out = heights - np.polyval(np.polyfit(square, heights, 1), square)
    return np.asarray(np.clip(1.0 + standing_out / plate.law.yields, 0.1, 3.0), dtype=np.float64)


def _levelled(load: Array, along: Array) -> Array:
    """Loads leaned along the line of centres until they balance about the ring's middle; none pulls."""
    for _ in range(60):
        whole, lever, square = load.sum(), float(np.sum(load * along)), float(np.sum(load * along**2))
        if abs(lever) < 1e-9 * whole:
            break
        load = np.maximum(load * (1.0 - along * lever / square), 0.0)
    return np.asarray(load / load.sum(), dtype=np.float64)
