"""Jobs worked by a plan in a shop whose laws nobody has told the planner: what the wafer is at the end.

Rates follow a power law with exponents of this file, with lots of abrasive, plates that drift and heavy-tailed luck;
damage is Weibull, not lognormal; forms are gamma, wedges a mixture, stops come late and with heavy tails, pads start
slowly and tire within a run, and the gauge's error is a mixture that leans to its ends. Nothing here knows how a route
is planned.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

PRESSURE_EXPONENT, SPEED_EXPONENT = 0.85, 0.9
LOT_SPREAD, PLATE_SPREAD, DAY_SPREAD, RUN_SPREAD = 0.06, 0.05, 0.08, 0.05
LATE_STOP = 0.15e-6  # m
SLOW_START = 60.0  # s of a polish that are lost at half rate
PAD_TIRING = 0.04  # share of the rate that goes within an hour


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """A plate with an abrasive as it truly is: rate [m/s] at a pressure [Pa] and speed [m/s], damage it leaves [m].

    Half of all jobs find a depth below `damage`, one in forty a depth above `damage_high`.
    """

    rate: float
    pressure: float
    speed: float
    damage: float
    damage_high: float
    is_polish: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class JobTruth:
    """What is true of one job: error and noise of the gauge [m], wedge and form left [m], the luck of the day."""

    gauge_error: float
    gauge_noise: float
    wedge: float
    form: float
    polish_unevenness: float
    roughness: float
    depths: Mapping[str, float]
    day: Mapping[str, float]


def new_job(
    tools: Mapping[str, Tool],
    *,
    gauge_limit: float,
    gauge_noise: float,
    wedge_deviation: float,
    form: float,
    roughness: tuple[float, float],
    rng: np.random.Generator,
) -> JobTruth:
    """A job of a shop that has these tools; every depth and error is drawn anew."""
    leaning = rng.beta(0.9, 0.9)
    wedge = math.hypot(*wedge_components(wedge_deviation, rng=rng))
    return JobTruth(
        gauge_error=gauge_limit * (2.0 * float(leaning) - 1.0),
        gauge_noise=gauge_noise,
        wedge=wedge,
        form=form * float(rng.gamma(11.0, 1.0 / 10.7)),
        polish_unevenness=0.02 * float(rng.gamma(6.0, 1.0 / 6.0)),
        roughness=float(rng.uniform(*roughness)),
        depths={name: _depth(tool, rng) for name, tool in tools.items()},
        day={name: day_luck(rng) for name in tools},
    )


def wedge_components(deviation: float, *, rng: np.random.Generator) -> tuple[float, float]:
    """Both components of the wedge of a wafer [m]: some wafers are squared worse than the others."""
    wide = deviation * (1.25 if rng.random() < 0.3 else 0.87)
    return wide * float(rng.standard_normal()), wide * float(rng.standard_normal())


def day_luck(rng: np.random.Generator) -> float:
    """How far a tool works off its rate on one day, as a logarithm: its lot, its plate, and the day itself."""
    steady = LOT_SPREAD * float(rng.standard_normal()) + PLATE_SPREAD * float(rng.standard_normal())
    return steady + DAY_SPREAD * float(rng.standard_t(5)) / math.sqrt(5.0 / 3.0)


def true_rate(tool: Tool, *, pressure: float, speed: float, day: float, rng: np.random.Generator) -> float:
    """Rate of one run [m/s]."""
    law = (pressure / tool.pressure) ** PRESSURE_EXPONENT * (speed / tool.speed) ** SPEED_EXPONENT
    luck = RUN_SPREAD * float(rng.standard_t(5)) / math.sqrt(5.0 / 3.0)
    return float(tool.rate * law * math.exp(day + luck))


def read_thickness(truth: JobTruth, thickness: float, *, rng: np.random.Generator) -> float:
    """What the gauge shows [m]: its error of the day is in every reading."""
    return thickness + truth.gauge_error + truth.gauge_noise * float(rng.laplace()) / math.sqrt(2.0)


def lapped_removal(asked: float, *, error: float, rate: float, rng: np.random.Generator) -> float:
    """What a lap really takes [m] when the jig's gauge was to stop it after `asked`: late, and scattered."""
    late = LATE_STOP + rate * 0.3 * abs(float(rng.standard_normal()))
    return max(0.0, asked + late + error * float(rng.standard_t(6)) / math.sqrt(1.5))


def polished_removal(rate: float, time: float) -> float:
    """What a polish of a time really takes [m]: a slow start, and a pad that tires."""
    worked = max(0.0, time - 0.5 * min(time, SLOW_START))
    return rate * worked * (1.0 - PAD_TIRING * time / 7200.0)


# ----------------------------------------------------------------------------------------------------------------------


def _depth(tool: Tool, rng: np.random.Generator) -> float:
    """Depth of damage of one job [m]: Weibull with the tool's median and deep end."""
    if tool.damage <= 0.0:
        return 0.0
    if tool.damage_high <= 1.01 * tool.damage:
        return tool.damage
    shape = math.log(math.log(40.0) / math.log(2.0)) / math.log(tool.damage_high / tool.damage)
    scale = tool.damage / math.log(2.0) ** (1.0 / shape)
    return float(scale * rng.weibull(shape))
