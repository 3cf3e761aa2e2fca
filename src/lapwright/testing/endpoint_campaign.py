"""Seeded lapping runs by the thousand, each followed to its stop by the endpoint and by two plain rules.

The plain rules are what a bench does without a filter: stop when the raw reading crosses the target, and stop when
the mean of the last five seconds does. A run ends when the removal ends, one latency after the stop was asked.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from lapwright.process.endpoint import EndpointConfig
from lapwright.process.endpoint_follow import followed_run
from lapwright.sim.runs import FaultKind, GaugeTruth, PlantedFault, RunTruth, SimulatedRun, simulated_run
from lapwright.sim.stop_trials import drawn_fault, mean_stop, raw_stop

LATENCY = 1.0  # s
RATE_LOW, RATE_HIGH = 0.5e-6 / 60.0, 10.0e-6 / 60.0  # m/s
LONGEST = 1150.0  # s
MICRO = 1e6
KEPT_RUNS = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """How one run ended. Lengths in µm, times in s; `delay` is from the planted fault to the stop."""

    advice: str
    codes: tuple[str, ...]
    over: float
    margin: float
    stop_error: float
    raw_over: float
    mean_over: float
    delay: float
    missing: float
    rate: float
    inside_interval: bool
    readings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One run to play: its seed, planted fault, and what else is wrong with the gauge."""

    seed: int
    fault: FaultKind = "none"
    drift: float = 0.0
    film: float = 0.0
    wear: float = 0.0
    warm_up: bool = False


def played(job: Job) -> Outcome:
    """One run, simulated and followed to its stop."""
    rng = np.random.default_rng(job.seed)
    truth, gauge, target = _drawn_run(rng, job)
    expected = target / truth.rate
    fault = drawn_fault(rng, job.fault, expected)
    truth = replace(truth, duration=expected * (4.0 if job.fault == "dry" else 1.8) + 120.0)
    run = simulated_run(truth, gauge, rng=rng, fault=fault)
    config = EndpointConfig(
        target=target,
        rate=truth.rate * math.exp(0.3 * rng.standard_normal()),
        latency=LATENCY,
        drift_limit=abs(job.drift),
        zero_uncertainty=0.5 * job.film,
        foot_wear=job.wear,
        foot_wear_uncertainty=0.3 * job.wear,
    )
    followed = followed_run(config, run.time.tolist(), run.length.tolist())
    decision = followed.decision
    at = decision.at
    ended = at + LATENCY + 0.1 * rng.standard_normal()
    over = run.removal_at(ended) - target
    spread = 1.645 * decision.removed_uncertainty
    true_now = run.removal_at(at)
    return Outcome(
        advice=decision.advice,
        codes=tuple(found.code for found in decision.faults),
        over=over * MICRO,
        margin=decision.margin * MICRO,
        stop_error=(over + decision.margin) * MICRO,
        raw_over=(run.removal_at(raw_stop(run, target) + LATENCY) - target) * MICRO,
        mean_over=(run.removal_at(mean_stop(run, target) + LATENCY) - target) * MICRO,
        delay=at - fault.at,
        missing=_missing(run, fault, at) * MICRO,
        rate=_rate_then(run, truth, fault) * 60.0 * MICRO,
        inside_interval=bool(abs(true_now - decision.removed) <= spread),
        readings=followed.readings,
    )


def campaign(jobs: Iterable[Job], *, workers: int = 1) -> list[Outcome]:
    """All jobs played; the outcomes stand in the order of the jobs, whatever the number of workers."""
    if workers == 1:
        return [played(job) for job in jobs]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(played, jobs, chunksize=20))


def kept_campaign(name: str, jobs: Iterable[Job], *, folder: Path, workers: int = 1) -> list[Outcome]:
    """The same in parts of 500 runs, each kept in the folder when it is done; what is kept is not played again.

    The files carry a mark of the code that played them, so that a changed endpoint begins anew.
    """
    folder.mkdir(parents=True, exist_ok=True)
    whole = list(jobs)
    outcomes: list[Outcome] = []
    for begin in range(0, len(whole), KEPT_RUNS):
        part = whole[begin : begin + KEPT_RUNS]
        path = folder / f"{name}-{_mark(part)}.json"
        if path.exists():
            outcomes += [_outcome(row) for row in json.loads(path.read_text(encoding="utf-8"))]
            continue
        played_now = campaign(part, workers=workers)
        beside = path.with_suffix(".part")
        beside.write_text(json.dumps([asdict(outcome) for outcome in played_now]), encoding="utf-8")
        beside.replace(path)
        outcomes += played_now
    return outcomes


# ----------------------------------------------------------------------------------------------------------------------


def _outcome(row: dict[str, Any]) -> Outcome:
    return Outcome(**{**row, "codes": tuple(row["codes"])})


def _mark(jobs: list[Job]) -> str:
    """Twelve digits that change with the jobs and with the code that plays them."""
    package = Path(__file__).parents[1]
    digest = hashlib.sha256(repr(jobs).encode())
    for path in (*sorted(package.glob("process/endpoint*.py")), package / "sim" / "runs.py", Path(__file__)):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12]


def _drawn_run(rng: np.random.Generator, job: Job) -> tuple[RunTruth, GaugeTruth, float]:
    rate = math.exp(rng.uniform(math.log(RATE_LOW), math.log(RATE_HIGH)))
    target = min(max(rate * LONGEST * rng.uniform(0.2, 1.0), 3e-6), 200e-6)
    run = RunTruth(
        rate=rate,
        duration=LONGEST,
        climb=rng.uniform(0.0, 0.4),
        climb_time=rng.uniform(3.0, 15.0),
        decay=rng.uniform(0.0, 0.3),
        decay_time=rng.uniform(600.0, 2400.0),
        wander=rng.uniform(0.0, 0.05),
    )
    gauge = GaugeTruth(
        wild=0.001,
        drop_outs=0.0003,
        drift=job.drift * rng.uniform(-1.0, 1.0),
        drift_time=300.0 if job.warm_up else 900.0,
        film_step=job.film * rng.uniform(-0.85, 0.85),
        foot_wear=job.wear * (1.0 + 0.3 * rng.uniform(-1.0, 1.0)),
    )
    return run, gauge, target


def _rate_then(run: SimulatedRun, truth: RunTruth, fault: PlantedFault) -> float:
    """The rate just before the fault, decayed as it was by then; that of the start without one [m/s]."""
    if fault.kind == "none":
        return truth.rate
    return (run.removal_at(fault.at) - run.removal_at(fault.at - 10.0)) / 10.0


def _missing(run: SimulatedRun, fault: PlantedFault, at: float) -> float:
    """Removal that a run at its former rate would have made by now, beyond what it made [m]."""
    if fault.kind != "dry":
        return 0.0
    before = run.removal_at(fault.at)
    rate = (before - run.removal_at(fault.at - 10.0)) / 10.0
    return before + rate * (at - fault.at) - run.removal_at(at)
