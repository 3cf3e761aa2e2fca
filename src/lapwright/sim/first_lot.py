"""The small lot of the tutorial: two silicon wafers, their carriers, their stacks, and what came out at the end.

The files under docs/tutorial/data are written from here; a test makes sure that they still are. Invented, like
everything the simulator makes.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from lapwright.formats.readings_write import write_readings
from lapwright.model.readings import Conditions, ThicknessSet
from lapwright.sim.bonding import Press, Stack, bonded
from lapwright.sim.carriers import carrier
from lapwright.sim.fields import Field
from lapwright.sim.gauges import TrueGauge, drop_gauge, field_readings, non_contact_gauge, zero_reading
from lapwright.sim.lapping import Station, lapped, new_jig
from lapwright.sim.shop import stream
from lapwright.sim.wafers import WaferKind, wafer

SEED = 381
DIAMETER = 76.2e-3
WAFER_IDS = ("S-01", "S-02")
KIND = WaferKind(
    diameter=DIAMETER,
    thickness=381e-6,
    thickness_spread=1e-6,
    wedge=3e-6,
    dome=0.8e-6,
    saddle=0.3e-6,
    unevenness=0.1e-6,
)
STUCK = {"S-02": (5.2e-6, math.radians(60.0))}
TARGET = 200e-6
FIRST_CUT = 172e-6  # m of travel since first touch
DROP, PAIR = drop_gauge("G1", offset=0.3e-6, noise=0.3e-6), non_contact_gauge("G2", offset=0.05e-6)
ROOM = 294.65  # K
REPEATS = 3
SITE_RADIUS = 33e-3  # clears the exclusion of 3 mm above the flat
LABELS = ("C", *(f"A{number}" for number in range(1, 9)))


def files(seed: int = SEED) -> dict[str, str]:
    """Name and content of every readings file of the lot."""
    stacks = {name: _stack(name, seed, attempt=1) for name in WAFER_IDS}
    written = {"incoming.csv": _text(_set(n, stack.wafer.thickness, DROP, seed, "in") for n, stack in stacks.items())}
    for name, stack in stacks.items():
        written[f"{name}-wafer.csv"] = _text([_set(name, stack.wafer.thickness, DROP, seed, "in")])
        written[f"{name}-carrier.csv"] = _text([_set(f"C-{name}", stack.carrier.thickness, DROP, seed, "carrier")])
        written[f"{name}-stack.csv"] = _text([_set(name, stack.thickness, DROP, seed, "stack")])
    again = {name: _stack(name, seed, attempt=2) if name in STUCK else stacks[name] for name in WAFER_IDS}
    for name in STUCK:
        written[f"{name}-stack-again.csv"] = _text([_set(name, again[name].thickness, DROP, seed, "stack again")])
    coarse = {name: _lapped(stack, FIRST_CUT, seed) for name, stack in again.items()}
    for name, stack in coarse.items():
        written[f"{name}-after-first-lap.csv"] = _text([_set(name, stack.thickness, DROP, seed, "stack after lap")])
    for name, stack in coarse.items():
        done = _lapped(stack, stack.wafer.thickness.mean - TARGET, seed)
        written[f"{name}-finished.csv"] = _text([_set(name, done.wafer.thickness, PAIR, seed, "out")])
    return written


# ----------------------------------------------------------------------------------------------------------------------


def _stack(name: str, seed: int, *, attempt: int) -> Stack:
    piece = wafer(name, KIND, rng=stream(seed, "wafer", name))
    glass = carrier(f"C-{name}", diameter=DIAMETER, thickness=5e-3, rng=stream(seed, "carrier", name))
    stuck = STUCK.get(name) if attempt == 1 else None
    return bonded(piece, glass, Press(force=300.0), rng=stream(seed, "bond", name, attempt), stuck_wedge=stuck)


def _lapped(stack: Stack, travel: float, seed: int) -> Stack:
    """A cut by a jig that was set square to 0.4 µm."""
    rng = stream(seed, "lap", stack.wafer.wafer_id)
    station = Station(name="L", rate=1e-7)
    jig = new_jig(tilt_amount=0.4e-6, diameter=DIAMETER, rng=rng)
    return lapped(stack, station, jig, travel=travel, rate=station.rate, rng=rng).stack


def _set(name: str, field: Field, gauge: TrueGauge, seed: int, moment: str) -> ThicknessSet:
    """Nine sites read three times, the zero first and last."""
    rng = stream(seed, "set", name, moment)
    azimuth = np.arange(8) * math.pi / 4.0
    x = np.round(np.concatenate([[0.0], SITE_RADIUS * np.cos(azimuth)]), 6)
    y = np.round(np.concatenate([[0.0], SITE_RADIUS * np.sin(azimuth)]), 6)
    zero_before = zero_reading(gauge, rng=rng)
    shown = field_readings(gauge, field, (x, y), rng=rng, repeats=REPEATS)
    return ThicknessSet(
        piece=name,
        labels=LABELS,
        x=x,
        y=y,
        site=np.tile(np.arange(9), REPEATS),
        thickness=_digits(shown.ravel()),
        conditions=Conditions(
            hold="clamped" if moment.startswith("stack") else "free",
            temperature=ROOM,
            soaked=True,
            zero_before=round(zero_before * 1e6, 2) / 1e6,
            zero_after=round(zero_reading(gauge, rng=rng) * 1e6, 2) / 1e6,
        ),
        gauge=gauge.gauge_id,
    )


def _digits(shown: NDArray[np.float64]) -> NDArray[np.float64]:
    """Readings as floats nearest to what the display shows, in whole hundredths of a micrometre."""
    return np.asarray(np.round(shown * 1e6, 2) / 1e6, dtype=np.float64)


def _text(sets: Iterable[ThicknessSet]) -> str:
    stream_of_text = io.StringIO()
    write_readings(stream_of_text, sets)
    return stream_of_text.getvalue()
