"""Carriers: flat discs that are reused, each with a small wedge and dome of its own."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lapwright.sim.fields import Field, dome, rippled, wedge


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueCarrier:
    """A carrier and its true thickness, looking at the face the wafer is bonded to. Lengths in m."""

    carrier_id: str
    diameter: float
    thickness: Field


def carrier(
    carrier_id: str,
    *,
    diameter: float,
    thickness: float,
    rng: np.random.Generator,
    wedge_amount: float | None = None,
) -> TrueCarrier:
    """One carrier from the shelf: 0.3 µm of wedge or so, or the wedge asked for, at any azimuth.

    The nominal thickness is met to 10 µm, the dome is below half a micrometre.
    """
    amount = 0.3e-6 * abs(rng.standard_normal()) if wedge_amount is None else wedge_amount
    field = (
        Field(mean=thickness + 10e-6 * rng.standard_normal())
        + wedge(amount, rng.uniform(-math.pi, math.pi), diameter=diameter)
        + dome(0.15e-6 * rng.standard_normal(), diameter=diameter)
        + rippled(0.05e-6, rng=rng, wavelengths=(0.2 * diameter, 0.6 * diameter))
    )
    return TrueCarrier(carrier_id=carrier_id, diameter=diameter, thickness=field)
