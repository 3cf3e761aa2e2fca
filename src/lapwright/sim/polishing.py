"""Polishing on a pad: an even skin comes off, the pad's rim takes more, and a tired pad takes less.

The rate of a pad falls exponentially with the hours it has worked. Left out: chemistry, and the slow first minutes
on a lapped face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from lapwright.sim.bonding import Stack, print_through
from lapwright.sim.fields import Field, Rim, rippled
from lapwright.sim.lapping import Cut


@dataclass(frozen=True, slots=True, kw_only=True)
class Pad:
    """A pad: rate when new [m/s], life and time worked [s], pressure [Pa], extra removal at the rim, band [m]."""

    rate: float
    life: float = 150.0 * 3600.0
    worked: float = 0.0
    pressure: float = 20e3
    rate_scatter: float = 0.04
    rim_excess: float = 0.3
    rim_band: float = 0.5e-3


def pad_rate(pad: Pad, *, rng: np.random.Generator) -> float:
    """The rate of one run [m/s] on a pad of that age."""
    return pad.rate * math.exp(-pad.worked / pad.life + pad.rate_scatter * float(rng.standard_normal()))


def polished(
    stack: Stack, pad: Pad, *, time: float, rng: np.random.Generator, stiffness: float = 240e9
) -> tuple[Cut, Pad]:
    """A polish of a given time [s]: the stack after it, and the pad with its new age.

    Over a void the wafer bends away from the pad. Only what it bends beyond the hill a lap has left there counts.
    """
    size = stack.wafer.diameter
    rate = pad_rate(pad, rng=rng)
    removed = rate * time
    skin = (
        Field(mean=-removed)
        + rippled(0.02 * removed, rng=rng, wavelengths=(0.3 * size, 0.8 * size))
        + Field(rims=(Rim(drop=pad.rim_excess * removed, band=pad.rim_band, radius=size / 2.0),))
    )
    thinned = stack.wafer.thickness + skin
    centre = float(thinned.at(np.zeros(1), np.zeros(1))[0])
    hills = []
    for void in stack.voids:
        hill = print_through(void, thickness=centre, pressure=pad.pressure, stiffness=stiffness)
        there = sum(spot.height for spot in thinned.spots if (spot.x, spot.y) == (void.x, void.y))
        hills.append(replace(hill, height=min(max(hill.height - there, 0.0), removed)))
    after = replace(stack, wafer=replace(stack.wafer, thickness=thinned + Field(spots=tuple(hills))))
    return Cut(stack=after, removed=removed, time=time, rate=rate), replace(pad, worked=pad.worked + time)
