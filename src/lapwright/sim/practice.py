"""Runs to practise on: drawn from a seed, with one of the usual faults planted in three of four.

The first run and every fourth after it have no planted fault, so that the first and the fifth can be compared. The
gauge always has its noise, a wild reading now and then, and short drop-outs.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from lapwright.model.practice import FaultName, PracticeTask
from lapwright.sim.runs import FaultKind, GaugeTruth, PlantedFault, RunTruth, SimulatedRun, simulated_run

TOLERANCE = 2.0e-6  # m over that cost the wafer, as in the invented order
LATENCY = 1.0  # s from the stop to no more removal
EVERY = 4  # rounds from one without a planted fault to the next
GAUGE = GaugeTruth(noise=0.4e-6, resolution=1.0e-6, interval=0.2, wild=0.002, drop_outs=0.0002, drop_out_time=2.0)
#: Name of a fault -> how the simulator plants it, and its size.
PLANTED: dict[FaultName, tuple[FaultKind, float]] = {
    "silent": ("dead", 0.0),
    "frozen": ("frozen", 0.0),
    "jumped": ("jump_down", 8.0e-6),
    "backwards": ("backwards", 0.0),
    "dry": ("dry", 0.3),
    "surged": ("surge", 2.2),
    "noisy": ("noisy", 6.0),
}


@lru_cache(maxsize=64)
def practice_run(seed: int, number: int) -> tuple[PracticeTask, SimulatedRun]:
    """The task of a round and how the run really goes; the same seed and number give the same."""
    rng = np.random.default_rng([seed, number])
    rate = rng.uniform(4.0e-6, 9.0e-6) / 60.0
    target = rng.uniform(24.0e-6, 40.0e-6)
    expected = target / rate
    fault: FaultName = "none"
    if (number - 1) % EVERY:
        fault = str(rng.choice(list(PLANTED)))  # type: ignore[assignment]  # one of the names
    at = rng.uniform(0.35, 0.75) * expected
    kind, size = PLANTED.get(fault, ("none", 0.0))
    duration = 2.0 * expected + 60.0
    run = simulated_run(
        RunTruth(rate=rate, duration=duration, climb=0.2, decay=0.05, wander=0.06),
        GAUGE,
        rng=rng,
        fault=PlantedFault(kind=kind, at=at if fault != "none" else np.inf, size=size),
    )
    task = PracticeTask(
        target=target,
        rate=rate * float(np.exp(0.15 * rng.standard_normal())),
        tolerance=TOLERANCE,
        latency=LATENCY,
        fault=fault,
        planted_at=None if fault == "none" else at,
        duration=duration,
    )
    return task, run
