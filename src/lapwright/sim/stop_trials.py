"""A stop rule tried on seeded runs by the thousand: a bench's own gauge, latency and rates, and every fault in turn.

Each run is followed to its stop by the rule and by two plain ones: stop when the raw reading crosses the target, and
stop when the mean of the last five seconds does. A run ends when the removal ends, one latency after the stop was
asked.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lapwright.errors import OutOfValidRange
from lapwright.process.endpoint import EndpointConfig
from lapwright.process.endpoint_follow import followed_run
from lapwright.sim.runs import FaultKind, GaugeTruth, PlantedFault, RunTruth, SimulatedRun, simulated_run

FAULTS: tuple[FaultKind, ...] = ("dead", "frozen", "jump_up", "jump_down", "backwards", "dry", "surge", "noisy")
LONGEST = 1150.0  # s that a run may take
LEAST_TARGET, MOST_TARGET = 3e-6, 200e-6  # m
MICRO = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class StopQuestion:
    """The bench on which a stop rule is tried. SI.

    Rates are drawn between two, evenly in their logarithm; the target is given, or drawn so that a run takes 4 to 19
    minutes. `rate_error` is the standard deviation of the plan's rate, as a logarithm. `drift`, `film` and `wear` bound
    what the gauge cannot tell from removal: thermal drift, the step of the film, and the share a worn foot misses.
    """

    noise: float = 0.5e-6
    resolution: float = 1e-6
    interval: float = 0.2
    latency: float = 1.0
    latency_spread: float = 0.1
    rate_low: float = 0.5e-6 / 60.0
    rate_high: float = 10e-6 / 60.0
    target: float | None = None
    rate_error: float = 0.3
    drift: float = 0.0
    film: float = 0.0
    wear: float = 0.0

    def __post_init__(self) -> None:
        for name in ("noise", "interval", "rate_low", "rate_high"):
            if not 0.0 < getattr(self, name) < math.inf:
                raise OutOfValidRange(name, getattr(self, name), "more than zero")
        for name in ("resolution", "latency", "latency_spread", "rate_error", "drift", "film"):
            if not 0.0 <= getattr(self, name) < math.inf:
                raise OutOfValidRange(name, getattr(self, name), "zero or more")
        if not self.rate_low <= self.rate_high:
            raise OutOfValidRange("rate_low", self.rate_low, f"no more than rate_high, {self.rate_high:g}")
        if self.target is not None and not 0.0 < self.target < math.inf:
            raise OutOfValidRange("target", self.target, "more than zero")
        if not 0.0 <= self.wear < 1.0:
            raise OutOfValidRange("wear", self.wear, "0 to 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class StopTrial:
    """Some runs to be played: the bench, their seeds, and the fault planted in each."""

    question: StopQuestion
    runs: tuple[tuple[int, FaultKind], ...]


def trials(question: StopQuestion, *, runs: int, seed: int, with_faults: bool, size: int = 50) -> list[StopTrial]:
    """So many runs in chunks: without a fault, or each with one, the kinds in turn."""
    each = [((seed << 32) + number, FAULTS[number % len(FAULTS)] if with_faults else "none") for number in range(runs)]
    return [StopTrial(question=question, runs=tuple(each[first : first + size])) for first in range(0, runs, size)]


def played(trial: StopTrial) -> list[dict[str, Any]]:
    """How each run of a chunk ended; lengths in µm, times in s. `delay` is from the fault to the stop."""
    return [_played(trial.question, seed, kind) for seed, kind in trial.runs]


def fault_free_summary(ended: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Over-removal by the rule and by the two plain ones, error of the stop, margin, and runs stopped for nothing."""
    good = [one for one in ended if one["advice"] == "stop_now"]
    error = np.abs([one["stop_error_um"] for one in good])
    margin = [one["margin_um"] for one in good]
    codes = Counter(one["codes"][0] for one in ended if one["advice"] == "stop_fault")
    return {
        "runs": len(ended),
        "rules": [dict(_over(rule, ended)) for rule in ("rule", "raw_reading", "mean_of_5_s")],
        "stop_error_within_0_5_um_percent": _percent(error <= 0.5),
        "largest_stop_error_um": float(error.max()) if good else None,
        "margin_median_um": float(np.median(margin)) if good else None,
        "margin_p95_um": float(np.percentile(margin, 95.0)) if good else None,
        "inside_interval_percent": _percent([one["inside"] for one in ended]),
        "false_stops": sum(codes.values()),
        "false_stop_codes": dict(codes.most_common()),
    }


def fault_summary(ended: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """For each planted fault: what was said, how late, and how far over the target the runs went."""
    rows = []
    for kind in FAULTS:
        those = [one for one in ended if one["fault"] == kind]
        if not those:
            continue
        said = Counter(one["codes"][0] if one["codes"] else "at the target" for one in those)
        delay = [one["delay_s"] for one in those]
        rows.append(
            {
                "fault": kind,
                "runs": len(those),
                "said": dict(said.most_common()),
                "delay_median_s": float(np.median(delay)),
                "delay_p95_s": float(np.percentile(delay, 95.0)),
                "delay_largest_s": float(np.max(delay)),
                "largest_over_um": max(one["rule_um"] for one in those),
                "over_2_um": sum(one["rule_um"] > 2.0 for one in those),
            }
        )
    return rows


def drawn_fault(rng: np.random.Generator, kind: FaultKind, expected: float) -> PlantedFault:
    """A fault of a kind, somewhere in the middle half of a run of this length [s], as large as such faults are."""
    if kind == "none":
        return PlantedFault()
    sizes: dict[str, Callable[[], float]] = {
        "jump_up": lambda: rng.uniform(2e-6, 30e-6),
        "jump_down": lambda: rng.uniform(2e-6, 30e-6),
        "dry": lambda: 0.3,
        "surge": lambda: rng.uniform(2.0, 4.0),
        "noisy": lambda: rng.uniform(4.0, 10.0),
    }
    at = expected * rng.uniform(0.3, 0.8)
    return PlantedFault(kind=kind, at=at, size=sizes[kind]() if kind in sizes else 0.0)


def raw_stop(run: SimulatedRun, target: float) -> float:
    """When the raw reading first crosses the target [s]; the end of the run when it never does."""
    crossed = run.length >= target
    return float(run.time[np.argmax(crossed)]) if crossed.any() else float(run.time[-1])


def mean_stop(run: SimulatedRun, target: float) -> float:
    """When the mean of the last 25 readings first crosses the target [s]; the end of the run when it never does."""
    width = min(25, run.length.size)
    mean = np.convolve(run.length, np.full(width, 1.0 / width), mode="valid")
    crossed = mean >= target
    return float(run.time[np.argmax(crossed) + width - 1]) if crossed.any() else float(run.time[-1])


def upper_bound(hits: int, runs: int) -> float:
    """Upper 95 % bound of a share seen `hits` times in `runs` (Clopper and Pearson)."""
    from scipy.stats import beta

    return float(beta.ppf(0.95, hits + 1, runs - hits)) if hits < runs else 1.0


# ----------------------------------------------------------------------------------------------------------------------


def _played(question: StopQuestion, seed: int, kind: FaultKind) -> dict[str, Any]:
    rng = np.random.default_rng(seed)
    truth, gauge, target = _drawn_run(question, rng)
    expected = target / truth.rate
    fault = drawn_fault(rng, kind, expected)
    truth = replace(truth, duration=expected * (4.0 if kind == "dry" else 1.8) + 120.0)
    run = simulated_run(truth, gauge, rng=rng, fault=fault)
    config = EndpointConfig(
        target=target,
        rate=truth.rate * math.exp(question.rate_error * rng.standard_normal()),
        latency=question.latency,
        latency_spread=question.latency_spread,
        noise=question.noise,
        resolution=question.resolution,
        drift_limit=question.drift,
        zero_uncertainty=0.5 * question.film,
        foot_wear=question.wear,
        foot_wear_uncertainty=0.3 * question.wear,
    )
    decision = followed_run(config, run.time.tolist(), run.length.tolist()).decision
    late = question.latency + question.latency_spread * float(rng.standard_normal())

    def over(asked: float) -> float:
        return (run.removal_at(asked + late) - target) * MICRO

    away = abs(run.removal_at(decision.at) - decision.removed)
    return {
        "seed": seed,
        "fault": kind,
        "advice": decision.advice,
        "codes": [found.code for found in decision.faults],
        "rule_um": over(decision.at),
        "stop_error_um": over(decision.at) + decision.margin * MICRO,
        "margin_um": decision.margin * MICRO,
        "raw_reading_um": over(raw_stop(run, target)),
        "mean_of_5_s_um": over(mean_stop(run, target)),
        "delay_s": decision.at - fault.at if kind != "none" else 0.0,
        "inside": bool(away <= 1.645 * decision.removed_uncertainty),
    }


def _drawn_run(question: StopQuestion, rng: np.random.Generator) -> tuple[RunTruth, GaugeTruth, float]:
    rate = math.exp(rng.uniform(math.log(question.rate_low), math.log(question.rate_high)))
    drawn = min(max(rate * LONGEST * rng.uniform(0.2, 1.0), LEAST_TARGET), MOST_TARGET)
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
        noise=question.noise,
        resolution=question.resolution,
        interval=question.interval,
        jitter=0.1 * question.interval,
        wild=0.001,
        drop_outs=0.0003,
        drift=question.drift * rng.uniform(-1.0, 1.0),
        film_step=question.film * rng.uniform(-0.85, 0.85),
        foot_wear=question.wear * (1.0 + 0.3 * rng.uniform(-1.0, 1.0)),
    )
    return run, gauge, drawn if question.target is None else question.target


def _over(rule: str, ended: Sequence[Mapping[str, Any]]) -> Iterator[tuple[str, Any]]:
    over = np.array([one[f"{rule}_um"] for one in ended])
    hits = int((over > 0.5).sum())
    yield from (("rule", rule), ("over_0_5_um", hits), ("bound_percent", 100.0 * upper_bound(hits, len(ended))))
    yield "largest_over_um", float(over.max()) if over.size else None


def _percent(hits: Any) -> float | None:
    found = np.asarray(hits)
    return 100.0 * float(found.mean()) if found.size else None
