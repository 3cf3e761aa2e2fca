"""Use cases: what the lab's runs say of each pair of material, abrasive and plate: rate, why, runs, lots, corrections.

Everything is worked out anew from the records; nothing is changed by it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from lapwright.app.kept_results import Itself
from lapwright.errors import LapwrightError, NotFound

if TYPE_CHECKING:
    from lapwright.app.learning import LearnedStop
    from lapwright.app.run_history import RunHistory, RunOrigin
    from lapwright.process.learning import RateModel, RatePrediction, RunCheck, RunConditions
    from lapwright.process.learning_fit import RunNote
    from lapwright.process.pad_life import PadLife
    from lapwright.process.removal import RateInterval

COVERAGE = 0.9
LEAST_RUNS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class RateRun:
    """A run of a pair: the rate it showed against the one expected of it from the runs before, with 90 % interval, m/s.

    `note` is "outlying" for one set aside, "shift" for the two that showed a change of level together. `is_outside`
    says that the rate lies beyond its interval, as one in ten does.
    """

    origin: RunOrigin
    conditions: RunConditions
    removal_rate: float
    expected: float
    low: float
    high: float
    note: RunNote

    @property
    def is_outside(self) -> bool:
        """Whether it lies beyond what was expected of nine in ten."""
        return not self.low <= self.removal_rate <= self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class RateLot:
    """A lot of the abrasive: how many runs of this pair it served, and the factor [1] it brings with 90 % interval."""

    lot: str
    runs: int
    factor: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RatePair:
    """A pair as it stands: the rate of its next run as last worked, and what that rests on.

    `from_library` is the share of the library in the level of the rate [1]: what is left of its variance. `change` is
    what was expected of the last usual run over what was of the second, each over the library's rate at its settings
    [1]; None before the third. `stops` are what the
    stops at its stations suggest, never made by the program.
    """

    conditions: RunConditions
    prediction: RatePrediction
    interval: RateInterval
    from_library: float
    change: float | None
    runs: tuple[RateRun, ...]
    lots: tuple[RateLot, ...]
    stops: tuple[LearnedStop, ...]
    pad: PadLife | None

    @property
    def outlying(self) -> tuple[RateRun, ...]:
        """The runs set aside."""
        return tuple(one for one in self.runs if one.note == "outlying")


def rate_pairs() -> tuple[RatePair, ...]:
    """Every pair that was ever worked, the latest worked first."""
    from lapwright.app.learning import learned

    return _pairs(*map(Itself, learned()))


def rate_pair(material: str, abrasive: str, plate: str) -> RatePair:
    """One pair. Raises `NotFound` for one never worked."""
    for one in rate_pairs():
        if one.conditions.combination == (material, abrasive, plate):
            return one
    raise NotFound(
        f"No finished run of {material} with {abrasive} on {plate} teaches a rate. Look at the list of pairs."
    )


def runs_left_out() -> tuple[tuple[str, str], ...]:
    """Wafer and reason of every finished run that teaches nothing."""
    from lapwright.app.learning import learned

    return tuple((one.wafer_id, one.why) for one in learned()[0].left_out)


# ----------------------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def _pairs(history: Itself, learned_rates: Itself) -> tuple[RatePair, ...]:
    past, model = history.held, learned_rates.held
    groups: dict[tuple[str, str, str], list[RunCheck]] = {}
    for process in model.learned.values():
        for check in process.checks:
            groups.setdefault(check.run.conditions.combination, []).append(check)
    places = past.places()
    found = [_pair(past, model, checks, places) for checks in groups.values()]
    return tuple(sorted(found, key=lambda one: one.runs[-1].origin.started, reverse=True))


def _pair(past: RunHistory, model: RateModel, checks: list[RunCheck], places: Mapping[int, RunOrigin]) -> RatePair:
    from lapwright.app.learning import learned_stop
    from lapwright.process.learning import predict_rate, rate_interval
    from lapwright.process.pad_life import pad_life

    latest = checks[-1].run.conditions
    prediction = predict_rate(model, latest)
    runs = tuple(_run(check, places[id(check.run)]) for check in checks)
    stations = dict.fromkeys(one.conditions.station for one in runs if one.conditions.station)
    with_stops = {one.station_id for one in past.misses}
    return RatePair(
        conditions=latest,
        prediction=prediction,
        interval=rate_interval(prediction, coverage=COVERAGE),
        from_library=_from_library(model, latest, prediction),
        change=_change(model, runs),
        runs=runs,
        lots=_lots(model, latest, runs),
        stops=tuple(learned_stop(past, one, None) for one in stations if one in with_stops),
        pad=None if latest.pad_age is None else pad_life(model, latest),
    )


def _run(check: RunCheck, origin: RunOrigin) -> RateRun:
    from lapwright.process.learning_backtest import expected_bounds

    expected, low, high = expected_bounds(check)
    return RateRun(
        origin=origin,
        conditions=check.run.conditions,
        removal_rate=check.run.removal_rate,
        expected=expected,
        low=low,
        high=high,
        note=check.note,
    )


def _from_library(model: RateModel, conditions: RunConditions, prediction: RatePrediction) -> float:
    """Share of the library's variance that is left: its weight, as in any mean of a prior and of data."""
    from lapwright.process.learning import predict_rate, rate_model

    before = predict_rate(rate_model(model.library), conditions, with_parts=False)
    return min(1.0, (prediction.level_deviation / before.level_deviation) ** 2)


def _change(model: RateModel, runs: tuple[RateRun, ...]) -> float | None:
    """The first run is expected by the library alone, so that the second is what it is held against."""
    from lapwright.process.learning_effects import starting_rate

    usual = [one for one in runs if one.note != "outlying"]
    if len(usual) < LEAST_RUNS:
        return None
    late, early = (one.expected / starting_rate(model.library, one.conditions).rate for one in (usual[-1], usual[1]))
    return late / early


def _lots(model: RateModel, latest: RunConditions, runs: tuple[RateRun, ...]) -> tuple[RateLot, ...]:
    from lapwright.process.learning import predict_rate

    counted: dict[str, int] = {}
    for one in runs:
        if one.conditions.abrasive_lot:
            counted[one.conditions.abrasive_lot] = counted.get(one.conditions.abrasive_lot, 0) + 1
    found = []
    for lot, number in counted.items():
        try:
            parts = predict_rate(model, replace(latest, abrasive_lot=lot)).parts
        except LapwrightError:
            continue
        part = next((one for one in parts if one.name == "this abrasive lot"), None)
        if part is not None:
            found.append(RateLot(lot=lot, runs=number, factor=part.factor, low=part.low, high=part.high))
    return tuple(found)
