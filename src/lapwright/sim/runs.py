"""Lapping runs whose true removal is known, and what a length gauge on the jig says of them.

The rate climbs to its value while the plate warms and the film forms, decays as the grains break down, and wanders.
The gauge adds noise, rounding, wild readings, drop-outs, drift, a film step at the start and a foot that wears; a
fault can be planted at a moment. Nothing here knows how the stream will be analysed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
FaultKind = Literal[
    "none", "dead", "frozen", "jump_up", "jump_down", "backwards", "dry", "surge", "noisy",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTruth:
    """How a run really goes. SI; shares without unit.

    `climb` is the share of the rate missing at the start, made good with time constant `climb_time`; `decay` is the
    share lost for good with time constant `decay_time`; the rate wanders by `wander` with a memory of two minutes. From
    `change_at` on, the load is changed on purpose and the rate is `change` times what it would be.
    """

    rate: float
    duration: float
    climb: float = 0.0
    climb_time: float = 10.0
    decay: float = 0.0
    decay_time: float = 1200.0
    wander: float = 0.0
    change_at: float = np.inf
    change: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeTruth:
    """How the gauge really reads. SI; rates of wild readings and drop-outs per reading."""

    noise: float = 0.5e-6
    resolution: float = 1.0e-6
    interval: float = 0.2
    jitter: float = 0.02
    wild: float = 0.0
    wild_size: float = 10.0e-6
    drop_outs: float = 0.0
    drop_out_time: float = 2.0
    drift: float = 0.0
    drift_time: float = 900.0
    film_step: float = 0.0
    foot_wear: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantedFault:
    """A fault planted at a moment [s]; `size` is a length [m] for jumps and a factor on the rate or noise else."""

    kind: FaultKind = "none"
    at: float = np.inf
    size: float = 0.0


NO_FAULT = PlantedFault()


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedRun:
    """A run: reading times [s], lengths shown [m], and the true removal on its own fine time axis."""

    time: Array
    length: Array
    true_time: Array
    true_removal: Array

    def removal_at(self, time: float) -> float:
        """True removal at a time [m]."""
        return float(np.interp(time, self.true_time, self.true_removal))


def simulated_run(
    run: RunTruth, gauge: GaugeTruth, *, rng: np.random.Generator, fault: PlantedFault = NO_FAULT
) -> SimulatedRun:
    """One run as it happened and as it was shown."""
    true_time = np.arange(0.0, run.duration + 1.0, 0.5)
    rate = _rate(run, true_time, rng, fault)
    true_removal = np.concatenate(([0.0], np.cumsum(0.5 * (rate[1:] + rate[:-1]) * 0.5)))
    count = int(run.duration / gauge.interval)
    time = gauge.interval * np.arange(1, count + 1) + gauge.jitter * rng.uniform(-1.0, 1.0, count)
    removal = np.interp(time, true_time, true_removal)
    shown = removal * (1.0 - gauge.foot_wear) + gauge.film_step
    shown += gauge.drift * (1.0 - np.exp(-time / gauge.drift_time))
    if fault.kind == "backwards" and np.any(time > fault.at):
        after = time > fault.at
        shown[after] = 2.0 * np.interp(fault.at, time, shown) - shown[after]
    noise = np.full(count, gauge.noise)
    if fault.kind == "noisy":
        noise[time > fault.at] *= fault.size
    shown += noise * rng.standard_normal(count)
    wild = rng.random(count) < gauge.wild
    shown[wild] += gauge.wild_size * rng.uniform(-1.0, 1.0, int(wild.sum()))
    shown = _with_gauge_fault(shown, time, fault)
    if gauge.resolution > 0.0:
        shown = np.round(shown / gauge.resolution) * gauge.resolution
    if fault.kind == "frozen" and np.any(time > fault.at):
        shown[time > fault.at] = shown[np.argmax(time > fault.at)]
    kept = _received(time, gauge, rng, fault)
    return SimulatedRun(time=time[kept], length=shown[kept], true_time=true_time, true_removal=true_removal)


# ----------------------------------------------------------------------------------------------------------------------


def _rate(run: RunTruth, time: Array, rng: np.random.Generator, fault: PlantedFault) -> Array:
    rate = run.rate * (1.0 - run.climb * np.exp(-time / run.climb_time))
    rate *= 1.0 - run.decay * (1.0 - np.exp(-time / run.decay_time))
    if run.wander > 0.0:
        keep = np.exp(-0.5 / 120.0)
        kicks = rng.standard_normal(time.size) * np.sqrt(1.0 - keep**2)
        rate *= np.exp(run.wander * _remembered(kicks, keep))
    rate[time >= run.change_at] *= run.change
    if fault.kind == "dry":
        rate *= 1.0 - (1.0 - fault.size) * np.clip((time - fault.at) / 40.0, 0.0, 1.0)
    elif fault.kind == "surge":
        rate[time > fault.at] *= fault.size
    return np.asarray(rate, dtype=np.float64)


def _remembered(kicks: Array, keep: float) -> Array:
    from scipy.signal import lfilter

    return np.asarray(lfilter([1.0], [1.0, -keep], kicks), dtype=np.float64)


def _with_gauge_fault(shown: Array, time: Array, fault: PlantedFault) -> Array:
    after = time > fault.at
    if fault.kind in ("jump_up", "jump_down"):
        shown[after] += fault.size if fault.kind == "jump_up" else -fault.size
    return shown


def _received(time: Array, gauge: GaugeTruth, rng: np.random.Generator, fault: PlantedFault) -> NDArray[np.bool_]:
    kept = np.ones(time.size, dtype=np.bool_)
    for begin in time[rng.random(time.size) < gauge.drop_outs]:
        kept &= ~((time > begin) & (time < begin + gauge.drop_out_time))
    if fault.kind == "dead":
        kept &= time < fault.at
    return kept
