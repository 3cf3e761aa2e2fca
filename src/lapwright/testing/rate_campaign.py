"""Imagined labs whose true laws of removal are not the program's, to see how well their next runs are predicted.

Each lab works a few processes with exponents, levels, lots, plates, pads and slurries of its own. Beside the learned
rates stand: the law of every process with all its constants; an oracle that knows it and also follows plates and lots
with their true spreads; one that knows every lot and plate before the run; the last run's rate; the library's rate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.library import Library
from lapwright.metrology.distributions import student_t_quantile
from lapwright.process.learning import PastRun, RunConditions, rate_model
from lapwright.process.learning_effects import starting_rate
from lapwright.process.learning_filter import first_belief, member_predictions, updated, widened
from lapwright.sim.rate_history import SEASON_RUNS, USUAL_WAYS, TrueProcess, TrueRun, Ways, history

KINDS = (
    ("LiTaO3", "sic-jis1000", "cast-iron"),
    ("LiTaO3", "al2o3-9", "cast-iron"),
    ("Si", "al2o3-9", "cast-iron"),
    ("Si", "al2o3-3", "glass"),
    ("LiTaO3", "silica-colloidal", "pad-polyurethane"),
    ("Si", "silica-colloidal", "pad-polyurethane"),
)
#: How far a lab's true levels lie from the library's, as deviation of the logarithm.
LEVEL = 0.45


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """An imagined lab: runs of each process, processes, its ways, and the ends that exponents are drawn between."""

    runs: int = 20
    processes: int = 4
    ways: Ways = USUAL_WAYS
    pressure_exponents: tuple[float, float] = (0.7, 1.0)
    speed_exponents: tuple[float, float] = (0.7, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcomes:
    """One row a run: earlier runs of its process, inside the 90 % interval, and absolute logarithmic errors."""

    earlier: NDArray[np.float64]
    inside: NDArray[np.float64]
    learned: NDArray[np.float64]
    law: NDArray[np.float64]
    oracle: NDArray[np.float64]
    all_knowing: NDArray[np.float64]
    last: NDArray[np.float64]
    last_by_preston: NDArray[np.float64]
    library: NDArray[np.float64]

    def from_run(self, earlier: int) -> NDArray[np.bool_]:
        """Which runs have at least so many before them."""
        return np.asarray(self.earlier >= earlier)


def imagined_labs(library: Library, *, labs: int, shop: Shop, seed: int) -> Outcomes:
    """What came out in so many labs, each walked through from its first run."""
    rows: list[tuple[float, ...]] = []
    for number in range(labs):
        rows.extend(_lab(library, shop, np.random.default_rng([seed, number])))
    return Outcomes(**dict(zip(Outcomes.__slots__, np.array(rows, dtype=np.float64).T, strict=True)))


def lab_runs(library: Library, *, shop: Shop, seed: int) -> list[PastRun]:
    """The runs of one imagined lab as it wrote them down."""
    runs = _worked(library, shop, np.random.default_rng([seed, 0]))
    return [_past(run, str(number)) for number, run in enumerate(runs)]


# ----------------------------------------------------------------------------------------------------------------------


def _lab(library: Library, shop: Shop, rng: np.random.Generator) -> list[tuple[float, ...]]:
    runs = _worked(library, shop, rng)
    past = [_past(run, str(number)) for number, run in enumerate(runs)]
    model = rate_model(library, past)
    checks = {check.run.name: check for learned in model.learned.values() for check in learned.checks}
    followed = _followed_by_the_oracle(runs, shop)
    last: dict[str, TrueRun] = {}
    rows: list[tuple[float, ...]] = []
    for number, run in enumerate(runs):
        check, value = checks[str(number)], math.log(run.rate)
        reach = student_t_quantile(0.95, check.predicted.degrees_of_freedom) * check.predicted.scale
        miss = abs(value - check.predicted.mean)
        before = last.get(_name(run))
        rows.append(
            (
                float(check.earlier),
                float(miss <= reach),
                miss,
                abs(value - math.log(run.law_rate)),
                abs(value - followed[number]),
                abs(value - math.log(run.bound_rate)),
                math.nan if before is None else abs(value - math.log(before.rate)),
                math.nan if before is None else abs(value - math.log(before.rate * _drive(run) / _drive(before))),
                abs(value - math.log(starting_rate(library, check.run.conditions).rate)),
            )
        )
        last[_name(run)] = run
    return rows


def _worked(library: Library, shop: Shop, rng: np.random.Generator) -> list[TrueRun]:
    """The runs of a lab, its processes mixed as the work comes in."""
    exponents = rng.uniform(*np.transpose([shop.pressure_exponents, shop.speed_exponents]))
    kinds = [KINDS[place] for place in rng.choice(len(KINDS), shop.processes, replace=False)]
    histories = [
        list(history(_process(library, kind, shop, exponents, rng), runs=shop.runs, rng=rng)) for kind in kinds
    ]
    order = rng.permutation(np.repeat(np.arange(shop.processes), shop.runs))
    return [histories[place].pop(0) for place in order]


def _process(
    library: Library, kind: tuple[str, str, str], shop: Shop, exponents: NDArray[np.float64], rng: np.random.Generator
) -> TrueProcess:
    material, abrasive, plate = kind
    is_polish = plate.startswith("pad")
    usual = RunConditions(material=material, abrasive=abrasive, plate=plate, pressure=10e3, speed=0.5)
    return TrueProcess(
        material=material,
        abrasive=abrasive,
        plate=plate,
        is_polish=is_polish,
        rate=starting_rate(library, usual).rate * math.exp(LEVEL * float(rng.standard_normal())),
        pressures=(20e3, 26e3, 34e3) if is_polish else (8e3, 10e3, 13e3),
        speeds=(0.4, 0.5, 0.65),
        pressure_exponent=float(exponents[0] + rng.uniform(-0.07, 0.07)),
        speed_exponent=float(exponents[1] + rng.uniform(-0.07, 0.07)),
        grip=float(rng.uniform(1.2, 3.0)),
        pad_floor=float(rng.uniform(0.5, 0.75)),
        pad_life=float(rng.uniform(10.0, 40.0)) * 3600.0,
        slurry_wear=float(rng.uniform(0.01, 0.06)),
        ways=shop.ways,
    )


def _past(run: TrueRun, name: str) -> PastRun:
    """A run as the lab wrote it down; that a plate was dressed it did not."""
    process = run.process
    return PastRun(
        name=name,
        conditions=RunConditions(
            material=process.material,
            abrasive=process.abrasive,
            plate=process.plate,
            pressure=run.pressure,
            speed=run.speed,
            station=f"station of {process.plate}",
            plate_piece=f"{_name(run)} {run.plate_piece}",
            abrasive_lot=f"{process.material} {run.lot}",
            pad_age=run.pad_age,
            slurry_age=run.slurry_age,
        ),
        removal_rate=run.rate,
    )


def _followed_by_the_oracle(runs: list[TrueRun], shop: Shop) -> dict[int, float]:
    """What one expects of each run [log] who knows its law and follows plate and lot with their true spreads."""
    found: dict[int, float] = {}
    ways = shop.ways
    for name in {_name(run) for run in runs}:
        mine = [(number, run) for number, run in enumerate(runs) if _name(run) == name]
        keys = {key: place for place, key in enumerate(dict.fromkeys(
            key for _, run in mine for key in (("plate", run.plate_piece), ("lot", run.lot))))}  # fmt: skip
        variance = [(ways.dressing_jump if key[0] == "plate" else ways.lot_scatter) ** 2 for key in keys]
        belief = first_belief(np.zeros(len(keys)), np.array([variance]), np.ones(1))
        wander = ways.plate_wander**2 + ways.dressing_jump**2 / (0.5 * sum(ways.dressed_runs)) + ways.plate_fall**2
        wander += 0.5 * (2.0 * math.pi * ways.season / SEASON_RUNS) ** 2
        noise, loadings = np.full(1, ways.scatter**2), np.ones(2)
        for number, run in mine:
            effects = np.array([keys["plate", run.plate_piece], keys["lot", run.lot]])
            belief = widened(belief, int(effects[0]), wander)
            mean, variance_of_run = member_predictions(belief, effects, loadings, noise)
            found[number] = math.log(run.law_rate) + float(mean[0])
            value = math.log(run.rate / run.law_rate)
            if abs(value - mean[0]) < 3.0 * math.sqrt(variance_of_run[0]):
                belief = updated(belief, effects, loadings, value=value, noise_variance=noise)
    return found


def _name(run: TrueRun) -> str:
    process = run.process
    return f"{process.material} {process.abrasive} {process.plate}"


def _drive(run: TrueRun) -> float:
    return run.pressure * run.speed
