"""Wafers as they come: true thickness with wedge, dome, saddle, and local unevenness; and dust under one site.

Sizes of the terms follow what supply houses promise for 50.8 mm pieces (common practice, no source): a few
micrometres of wedge, less dome, still less saddle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lapwright.sim.fields import Field, Spot, dome, rippled, saddle, wedge


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferKind:
    """What a batch of wafers is like: centre of the batch and spread of each term. Lengths in m."""

    diameter: float
    thickness: float
    thickness_spread: float
    wedge: float
    dome: float
    saddle: float
    unevenness: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueWafer:
    """A wafer and its true thickness in the wafer frame. Lengths in m."""

    wafer_id: str
    diameter: float
    thickness: Field


def wafer(wafer_id: str, kind: WaferKind, *, rng: np.random.Generator) -> TrueWafer:
    """One wafer drawn from a batch: every term normal about its kind's value, azimuths any."""
    size = kind.diameter
    thickness = (
        Field(mean=kind.thickness + kind.thickness_spread * rng.standard_normal())
        + wedge(kind.wedge * (1.0 + 0.3 * rng.standard_normal()), rng.uniform(-math.pi, math.pi), diameter=size)
        + dome(kind.dome * rng.standard_normal(), diameter=size)
        + saddle(kind.saddle * rng.standard_normal(), rng.uniform(-math.pi, math.pi), diameter=size)
        + rippled(kind.unevenness, rng=rng, wavelengths=(0.2 * size, 0.6 * size))
    )
    return TrueWafer(wafer_id=wafer_id, diameter=size, thickness=thickness)


def dust(x: float, y: float, *, height: float, radius: float = 1.5e-3) -> Field:
    """What a grain between piece and stand adds to the readings near (x, y) [m]; the piece itself is unchanged."""
    return Field(spots=(Spot(x=x, y=y, height=height, radius=radius),))
