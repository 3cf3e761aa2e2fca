"""Bonding: how a wax film thins under the press, how its wedge heals, and what dust and bubbles leave behind.

Film under a constant load between discs of radius R: the force that pushes it out is 3 π η R⁴ / (2 h³) times the
speed of approach (Stefan 1874), so 1/h² grows in proportion to time. A plate free to tilt loses its wedge as the
4.5th power of the film (first-order solution of Reynolds' equation, derived for this program); a load off the centre
by δ leaves a wedge of 6.86 (δ/R) h. A wedge held by a grain under the carrier cannot heal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lapwright.sim.carriers import TrueCarrier
from lapwright.sim.fields import Field, Spot, rippled, wedge
from lapwright.sim.wafers import TrueWafer

WEDGE_HEALING = 4.5  # exponent of the film in the wedge that is left
OFF_CENTRE = 6.86  # wedge per film thickness and relative offset of the load


@dataclass(frozen=True, slots=True, kw_only=True)
class Press:
    """A bonding recipe, in SI.

    Film and wedge at first contact, viscosity of the wax, force, time under it, and how far the load sits off the
    centre, as a standard deviation.
    """

    first_film: float = 60e-6
    viscosity: float = 1.0
    force: float = 60.0
    time: float = 480.0
    first_wedge: float = 30e-6
    off_centre: float = 0.25e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Void:
    """A bubble in the film: where [m] and how wide [m]."""

    x: float
    y: float
    diameter: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """Carrier, film and wafer bonded together, all in the frame of the worked face. Lengths in m.

    The back of the carrier is height zero; the worked face is at the sum of the three.
    """

    wafer: TrueWafer
    carrier: TrueCarrier
    bond: Field
    voids: tuple[Void, ...] = ()

    @property
    def thickness(self) -> Field:
        """True thickness of the whole stack."""
        return self.carrier.thickness + self.bond + self.wafer.thickness


def film_left(press: Press, *, radius: float) -> float:
    """Mean film [m] when the press opens."""
    rate = 4.0 * press.force / (3.0 * math.pi * press.viscosity * radius**4)
    return 1.0 / math.sqrt(1.0 / press.first_film**2 + rate * press.time)


def bonded(
    wafer: TrueWafer,
    carrier: TrueCarrier,
    press: Press,
    *,
    rng: np.random.Generator,
    stuck_wedge: tuple[float, float] | None = None,
    voids: tuple[Void, ...] = (),
) -> Stack:
    """A wafer bonded to a carrier.

    `stuck_wedge` is (amount [m], azimuth of the thick side [rad]) held open by a grain; without one the wedge heals.
    """
    size = wafer.diameter
    film = film_left(press, radius=size / 2.0) * (1.0 + 0.05 * rng.standard_normal())
    if stuck_wedge is None:
        healed = press.first_wedge * (film / press.first_film) ** WEDGE_HEALING
        pushed = OFF_CENTRE * abs(press.off_centre * rng.standard_normal()) / (size / 2.0) * film
        stuck_wedge = (healed + pushed, rng.uniform(-math.pi, math.pi))
    bond = (
        Field(mean=film)
        + wedge(*stuck_wedge, diameter=size)
        + rippled(0.08e-6, rng=rng, wavelengths=(0.3 * size, 0.8 * size))
    )
    return Stack(wafer=wafer, carrier=carrier, bond=bond, voids=voids)


def print_through(void: Void, *, thickness: float, pressure: float, stiffness: float) -> Spot:
    """The hill a void leaves: the wafer bends away over it under the load and is cut less there.

    A clamped disc of thickness t [m] under pressure [Pa] sinks by p a⁴ (1 - r²/a²)² / (64 D), with
    D = stiffness t³ / 12 and stiffness = E / (1 - ν²) [Pa] (Kirchhoff plate).
    """
    rigidity = stiffness * thickness**3 / 12.0
    radius = void.diameter / 2.0
    return Spot(x=void.x, y=void.y, height=pressure * radius**4 / (64.0 * rigidity), radius=radius)
