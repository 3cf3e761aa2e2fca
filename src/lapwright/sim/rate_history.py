"""What a lab's runs show over months: rates by laws of this file, lots, plates that drift, pads and slurries that age.

The laws are not the program's: powers below one with a speed that loses its grip, a pad that falls to a floor, slurry
that wears by a power of its hours, plates that wander and jump when they are dressed, scatter with long tails, and now
and then a run that went wrong. Left out: people, temperature.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

REFERENCE_PRESSURE = 10e3  # Pa
REFERENCE_SPEED = 0.5  # m/s
SEASON_RUNS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """How a lab works and how its runs scatter, whatever the process.

    `habit` is the share of runs at the middle pressure and speed; `scatter`, `lot_scatter`, `plate_wander` and
    `dressing_jump` are deviations of logarithms. `threshold` [Pa] is a pressure below which nothing is removed,
    `slurry_power` how fast the slurry wears, `plate_fall` what a plate loses from run to run until it is dressed,
    `season` the swing of the room's year of thirty runs, `luck_kept` how much of a run's luck stays with the next
    one, `tails` the degrees of freedom of luck, `lot_runs` and `dressed_runs` how many runs they last, from … below.
    """

    habit: float = 0.7
    scatter: float = 0.07
    lot_scatter: float = 0.05
    plate_wander: float = 0.012
    dressing_jump: float = 0.05
    mishaps: float = 0.01
    threshold: float = 0.0
    slurry_power: float = 1.2
    plate_fall: float = 0.0
    season: float = 0.0
    luck_kept: float = 0.0
    tails: float = 5.0
    lot_runs: tuple[int, int] = (5, 15)
    dressed_runs: tuple[int, int] = (10, 20)


USUAL_WAYS = Ways()


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueProcess:
    """One process of a lab as it truly is.

    `rate` [m/s] at 10 kPa and 0.5 m/s with everything new; exponents; `grip` [m/s] is the speed at which half the
    effect of speed is lost; `pad_floor` the share a pad ends at and `pad_life` [s] the time it takes; `slurry_wear`
    [1/h] of a fresh charge; `ways` are the lab's.
    """

    material: str
    abrasive: str
    plate: str
    is_polish: bool
    rate: float
    pressures: tuple[float, ...]
    speeds: tuple[float, ...]
    pressure_exponent: float = 0.85
    speed_exponent: float = 0.9
    grip: float = 2.0
    pad_floor: float = 0.6
    pad_life: float = 25.0 * 3600.0
    slurry_wear: float = 0.03
    ways: Ways = USUAL_WAYS


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueRun:
    """A run as it went: settings and ages, the rate it showed [m/s], and the rate it was bound to but for its luck.

    `law_rate` leaves out lot and plate, too: what one knows who knows the law alone.
    """

    number: int
    process: TrueProcess
    pressure: float
    speed: float
    lot: str
    plate_piece: str
    pad_age: float | None
    slurry_age: float
    rate: float
    bound_rate: float
    law_rate: float


def law_rate(process: TrueProcess, *, pressure: float, speed: float, pad_age: float, slurry_age: float) -> float:
    """Rate by a process's law [m/s], for an average lot and plate."""
    held = (1.0 + (REFERENCE_SPEED / process.grip) ** 2) / (1.0 + (speed / process.grip) ** 2)
    pressing = (pressure - process.ways.threshold) / (REFERENCE_PRESSURE - process.ways.threshold)
    power = pressing**process.pressure_exponent
    power *= (speed / REFERENCE_SPEED) ** process.speed_exponent * held
    pad = process.pad_floor + (1.0 - process.pad_floor) * math.exp(-pad_age / process.pad_life)
    slurry = 1.0 / (1.0 + process.slurry_wear * slurry_age / 3600.0) ** process.ways.slurry_power
    return float(process.rate * power * slurry * (pad if process.is_polish else 1.0))


def history(process: TrueProcess, *, runs: int, rng: np.random.Generator) -> tuple[TrueRun, ...]:
    """Runs of a process one after another: lots used up, slurry renewed, plates dressed, pads replaced."""
    found, ways = [], process.ways
    plate, lot, lot_left, dressed_left = 0.0, 0.0, 0, 0
    lots, pieces = 0, 0
    pad_age, slurry_age = 0.0, 0.0
    luck, phase = 0.0, float(rng.uniform(0.0, 2.0 * math.pi)) if ways.season else 0.0
    for number in range(runs):
        if lot_left == 0:
            lot, lot_left, lots = (
                ways.lot_scatter * float(rng.standard_normal()),
                int(rng.integers(*ways.lot_runs)),
                lots + 1,
            )
        if dressed_left == 0:
            plate = 0.5 * plate + ways.dressing_jump * float(rng.standard_normal())
            dressed_left, pad_age, pieces = (
                int(rng.integers(*ways.dressed_runs)),
                0.0,
                pieces + process.is_polish,
            )
        if slurry_age > 4.0 * 3600.0 or rng.random() < 0.3:
            slurry_age = 0.0
        pressure, speed = _settings(process, rng)
        law = law_rate(process, pressure=pressure, speed=speed, pad_age=pad_age, slurry_age=slurry_age)
        warm = ways.season * math.sin(phase + 2.0 * math.pi * number / SEASON_RUNS)
        bound = law * math.exp(lot + plate + warm)
        luck = ways.luck_kept * luck + math.sqrt(1.0 - ways.luck_kept**2) * _luck(process, rng)
        found.append(
            TrueRun(
                number=number,
                process=process,
                pressure=pressure,
                speed=speed,
                lot=f"lot {lots}",
                plate_piece=f"pad {pieces}" if process.is_polish else "plate 1",
                pad_age=pad_age if process.is_polish else None,
                slurry_age=slurry_age,
                rate=bound * math.exp(luck + _mishap(process, rng)),
                bound_rate=bound,
                law_rate=law,
            )
        )
        worked = float(rng.uniform(0.3, 2.0)) * 3600.0
        pad_age, slurry_age = pad_age + worked, slurry_age + worked
        plate += ways.plate_wander * float(rng.standard_normal()) - ways.plate_fall
        lot_left, dressed_left = lot_left - 1, dressed_left - 1
    return tuple(found)


# ----------------------------------------------------------------------------------------------------------------------


def _settings(process: TrueProcess, rng: np.random.Generator) -> tuple[float, float]:
    """Pressure and speed of a run: mostly as always, else one of those that are used at all."""
    if rng.random() < process.ways.habit:
        return process.pressures[len(process.pressures) // 2], process.speeds[len(process.speeds) // 2]
    return float(rng.choice(process.pressures)), float(rng.choice(process.speeds))


def _luck(process: TrueProcess, rng: np.random.Generator) -> float:
    """Scatter with long tails."""
    tails = process.ways.tails
    return process.ways.scatter * float(rng.standard_t(tails)) * math.sqrt((tails - 2.0) / tails)


def _mishap(process: TrueProcess, rng: np.random.Generator) -> float:
    """Now and then a run goes wrong."""
    return math.log(0.6) if rng.random() < process.ways.mishaps else 0.0
