"""Letting past runs, one after another, teach the effects on a rate; every run is first predicted from those before it.

An outlying run is held back: it teaches nothing unless the next run on the same plate lies to the same side, which
makes it a shift of that plate's level.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.library import Library
from lapwright.metrology.distributions import student_t_cdf
from lapwright.process.learning_effects import (
    Effect,
    Key,
    RunConditions,
    StartingRate,
    effects_of,
    plate_key,
)
from lapwright.process.learning_filter import (
    Array,
    Belief,
    LogPrediction,
    Spreads,
    first_belief,
    member_predictions,
    mixed,
    updated,
    widened,
)

#: A run whose deviation has less than this chance is outlying (common practice: 3 standard deviations).
OUTLYING = 0.003
#: Deviation, in scales, from which the run after an outlying one confirms a shift, and how far a shift may reach.
CONFIRMING = 1.5
SHIFT_DEVIATION = 0.4
LUCK_TAILS = 8.0  # degrees of freedom of a run's luck (own judgement)

RunNote = Literal["usual", "outlying", "shift"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PastRun:
    """A finished run: its name, what it was worked with, and the mean removal rate it showed [m/s].

    `rate_uncertainty` is the standard uncertainty of that rate as a share of it [1], from thickness and time.
    """

    name: str
    conditions: RunConditions
    removal_rate: float
    rate_uncertainty: float = 0.0

    def __post_init__(self) -> None:
        if not (self.removal_rate > 0.0 and math.isfinite(self.removal_rate)):
            raise OutOfValidRange("removal_rate", self.removal_rate, "more than zero")
        if not 0.0 <= self.rate_uncertainty < math.inf:
            raise OutOfValidRange("rate_uncertainty", self.rate_uncertainty, "zero or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class RunCheck:
    """A run against what was predicted of it from the runs before: `earlier` of them were of the same combination.

    `predicted` is of the logarithm of the rate in m/s; `chance` is how likely a deviation at least as large is [1].
    `note` is "outlying" for a run set aside, "shift" for the two that showed a change of level together.
    """

    run: PastRun
    predicted: LogPrediction
    earlier: int
    chance: float
    note: RunNote


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRuns:
    """The lab's own runs of one combination: how many count, of how many abrasive lots, and the last one's conditions.

    `all_runs` counts the outlying ones, too.
    """

    runs: int
    lots: int
    all_runs: int
    last_conditions: RunConditions


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedProcess:
    """What the runs of one process, lap or polish, have taught: belief, names of its effects, and every run's check.

    `own` counts the runs by combination of material, abrasive and plate.
    """

    spreads: Spreads
    belief: Belief
    places: Mapping[Key, int]
    checks: tuple[RunCheck, ...]
    own: Mapping[tuple[str, str, str], OwnRuns]


def learned_process(library: Library, runs: Sequence[tuple[PastRun, StartingRate]], spreads: Spreads) -> LearnedProcess:
    """What the runs of one process teach, each predicted before it is taken in.

    Parameters
    ----------
    library : Library
        For the pressures its rows hold at.
    runs : sequence of (PastRun, StartingRate)
        In the order they were worked.
    spreads : Spreads
        Guesses between which the runs choose.

    Returns
    -------
    LearnedProcess
    """
    effects = [effects_of(library, run.conditions, from_library) for run, from_library in runs]
    known = {effect.key: effect for found in effects for effect in found}
    places = {key: place for place, key in enumerate(known)}
    variances = np.array([effect_variance(effect, spreads) for effect in known.values()])
    belief = first_belief(
        np.array([effect.mean for effect in known.values()], dtype=np.float64),
        variances.reshape(-1, spreads.weight.size).T.copy(),
        spreads.weight,
    )
    checks: list[RunCheck] = []
    held: dict[int, _Held] = {}
    scratch = np.empty_like(belief.covariance)
    earlier: Counter[tuple[str, str, str]] = Counter()
    for (run, from_library), found in zip(runs, effects, strict=True):
        plate = places[plate_key(run.conditions)]
        belief = widened(belief, plate, spreads.wander**2, in_place=True)
        seen = _seen(run, from_library, found, places, spreads)
        expected = _mixture(belief, seen)
        deviation = (seen.value - expected.mean) / expected.scale
        chance = 2.0 * student_t_cdf(-abs(deviation), expected.degrees_of_freedom)
        before = held.get(plate)
        belief, note = _taken(
            belief, seen, deviation, chance, plate=plate, held=held, scratch=scratch, place=len(checks)
        )
        if note == "shift" and before is not None:
            checks[before.place] = replace(checks[before.place], note="shift")
        predicted = replace(expected, mean=expected.mean + math.log(from_library.rate))
        combination = run.conditions.combination
        checks.append(RunCheck(run=run, predicted=predicted, earlier=earlier[combination], chance=chance, note=note))
        earlier[combination] += 1
    return LearnedProcess(
        spreads=spreads,
        belief=belief,
        places=MappingProxyType(places),
        checks=tuple(checks),
        own=MappingProxyType(_own(checks)),
    )


def effect_variance(effect: Effect, spreads: Spreads) -> Array:
    """Variance of an effect before any run, in each filter.

    Parameters
    ----------
    effect : Effect
        With its kind.
    spreads : Spreads
        Guesses of the filters.

    Returns
    -------
    float array, shape (filters,) [1]
    """
    if effect.kind == "fixed":
        return np.full(spreads.weight.size, effect.deviation**2)
    return np.asarray((spreads.lots if effect.kind == "lot" else spreads.pieces) ** 2, dtype=np.float64)


def members_of_effects(learned: LearnedProcess, effects: Sequence[Effect]) -> tuple[Array, Array]:
    """What each filter believes of a sum of effects, those never met before included.

    Parameters
    ----------
    learned : LearnedProcess
        After all runs.
    effects : sequence of Effect
        Of a run to come.

    Returns
    -------
    tuple of float array, shape (filters,) [1]
        Mean and variance of the logarithm.
    """
    met = [effect for effect in effects if effect.key in learned.places]
    new = [effect for effect in effects if effect.key not in learned.places]
    mean, variance = member_predictions(
        learned.belief,
        np.array([learned.places[effect.key] for effect in met], dtype=np.intp),
        np.array([effect.loading for effect in met], dtype=np.float64),
        np.zeros(learned.spreads.weight.size),
    )
    for effect in new:
        variance = variance + effect.loading**2 * effect_variance(effect, learned.spreads)
    return mean + math.fsum(effect.loading * effect.mean for effect in new), variance


def expected_rate(learned: LearnedProcess, effects: Sequence[Effect], from_library: StartingRate) -> LogPrediction:
    """What is expected of the logarithm of the rate [m/s] of a run to come.

    Parameters
    ----------
    learned : LearnedProcess
        After all runs.
    effects : sequence of Effect
        Of the run.
    from_library : StartingRate
        What the library says of it.

    Returns
    -------
    LogPrediction
    """
    mean, variance = members_of_effects(learned, effects)
    spreads = learned.spreads
    if any(effect.kind == "plate" and effect.key in learned.places for effect in effects):
        variance = variance + spreads.wander**2
    noise_variance = spreads.scatter**2
    found = mixed(learned.belief.weight, mean, variance + noise_variance, noise_variance)
    return replace(found, mean=found.mean + math.log(from_library.rate))


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """A run as the filters take it: which effects, how strongly, what came out, and the variance around it."""

    effects: NDArray[np.intp]
    loadings: Array
    value: float
    noise_variance: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class _Held:
    """An outlying run held back, how far off it was in scales, and its place among the checks."""

    seen: _Seen
    deviation: float
    place: int


def _seen(
    run: PastRun, from_library: StartingRate, effects: Sequence[Effect], places: Mapping[Key, int], spreads: Spreads
) -> _Seen:
    return _Seen(
        effects=np.array([places[effect.key] for effect in effects], dtype=np.intp),
        loadings=np.array([effect.loading for effect in effects], dtype=np.float64),
        value=math.log(run.removal_rate / from_library.rate),
        noise_variance=spreads.scatter**2 + run.rate_uncertainty**2,
    )


def _taken(
    belief: Belief,
    seen: _Seen,
    deviation: float,
    chance: float,
    *,
    plate: int,
    held: dict[int, _Held],
    scratch: Array,
    place: int,
) -> tuple[Belief, RunNote]:
    """Belief after a run, and what the run was: a lone outlying one is held back, a second to its side is a shift."""
    before = held.pop(plate, None)
    if before is not None and before.deviation * deviation > 0.0 and abs(deviation) >= CONFIRMING:
        belief = widened(belief, plate, SHIFT_DEVIATION**2, in_place=True)
        return _after(_after(belief, before.seen, scratch), seen, scratch), "shift"
    if chance < OUTLYING:
        held[plate] = _Held(seen=seen, deviation=deviation, place=place)
        return belief, "outlying"
    return _after(belief, seen, scratch), "usual"


def _own(checks: Sequence[RunCheck]) -> dict[tuple[str, str, str], OwnRuns]:
    by_combination: dict[tuple[str, str, str], list[RunCheck]] = {}
    for check in checks:
        by_combination.setdefault(check.run.conditions.combination, []).append(check)
    found = {}
    for combination, mine in by_combination.items():
        counted = [check for check in mine if check.note != "outlying"]
        found[combination] = OwnRuns(
            runs=len(counted),
            lots=len({check.run.conditions.abrasive_lot for check in counted} - {None}),
            all_runs=len(mine),
            last_conditions=mine[-1].run.conditions,
        )
    return found


def _after(belief: Belief, seen: _Seen, scratch: Array) -> Belief:
    return updated(
        belief,
        seen.effects,
        seen.loadings,
        value=seen.value,
        noise_variance=seen.noise_variance,
        tails=LUCK_TAILS,
        scratch=scratch,
    )


def _mixture(belief: Belief, seen: _Seen) -> LogPrediction:
    mean, variance = member_predictions(belief, seen.effects, seen.loadings, seen.noise_variance)
    return mixed(belief.weight, mean, variance, seen.noise_variance)
