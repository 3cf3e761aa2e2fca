"""Use cases: rates learned from a file of runs or from the records, and what the next run is to be changed by."""

from __future__ import annotations

import hashlib
from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from lapwright.app import kept_results
from lapwright.errors import BadInput, Fault, NotFound

if TYPE_CHECKING:
    from lapwright.app.next_stages import NextStage
    from lapwright.app.run_history import RunHistory
    from lapwright.formats.rate_runs import RunTable
    from lapwright.library import Library
    from lapwright.model.plan import Stage
    from lapwright.process.learning import PastRun, RateModel, RatePrediction, RunConditions
    from lapwright.process.pad_life import PadLife
    from lapwright.process.removal import RateInterval
    from lapwright.process.run_corrections import SuggestedChange

#: Runs of each combination, the latest, that rates on pages and routes are learned from; older ones have said it.
RECENT = 60
#: Tables whose rows teach no rate, many of them written in any hour.
TEACH_NOTHING = kept_results.TALK | {
    "bond", "change", "cleancheck", "document", "finding", "gaugecheck", "handover", "handovertaken", "order",
    "plateentry", "readingset", "route", "signing", "stage", "supplyuse", "surface", "verdict", "wafer", "waferevent",
    "weighing", "zero",
}  # fmt: skip
LARGEST_STEP = 3.0e-6  # m; largest change of an allowance from one run to the next; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedStop:
    """What the last stops at a station say of the allowance for run-down: the change to the preset, never made by it.

    `preset` is the next one with the change in it [m], None where the stage has none.
    """

    station_id: str
    suggested: SuggestedChange
    preset: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NextRun:
    """What the lab's runs say of a run to come. SI.

    The rate with its 90 % interval; the time at the fast end, in the middle and at the slow end; what the stops at the
    station say of the preset; what is left of the pad; the last run of the combination where it was set aside.
    """

    station_id: str | None
    conditions: RunConditions
    prediction: RatePrediction
    interval: RateInterval
    times: tuple[float, float, float]
    stop: LearnedStop | None
    pad: PadLife | None
    last_outlying: str | None


def runs_of_file(path: Path, library: Library) -> RunTable:
    """The runs of a file. Raises `FileFormatError` and `BadInput`, what the library does not know among the faults."""
    from lapwright.formats.rate_runs import read_runs

    table = read_runs(path)
    faults = [
        Fault(sentence=f"Row {row}, {field}: {error}", row=row, field=field, code="rates.unknown")
        for run, row in zip(table.runs, table.rows, strict=True)
        for field, look_up in (
            ("material", library.material), ("abrasive", library.abrasive), ("plate", library.plate),
        )
        for error in [_refused(look_up, getattr(run.conditions, field))]
        if error is not None
    ]  # fmt: skip
    if faults:
        raise BadInput(faults[:100], subject=table.name, total=len(faults))
    return table


def model_of(runs: Path | None, *, from_records: bool, library_file: Path | None = None) -> RateModel:
    """The rates that a file, the records, or neither teach on top of the library."""
    from lapwright.library import load
    from lapwright.process.learning import rate_model as taught

    library = load(library_file)
    if from_records:
        return taught(library, learned(library)[0].runs)
    return taught(library, () if runs is None else runs_of_file(runs, library).runs)


def rate_model(library: Library | None = None) -> RateModel:
    """The rates that the latest finished runs of the records teach on top of the library."""
    return learned(library)[1]


def learned(library: Library | None = None) -> tuple[RunHistory, RateModel]:
    """The finished runs of the records with those that teach nothing, and the rates that the latest of them teach.

    Kept until a run, a set of a stack or a change of a station makes it old.
    """
    from lapwright.library import load

    return _known(stamp(), kept_results.Itself(load() if library is None else library))


def stamp() -> tuple[object, ...]:
    """A value that changes whenever the records may teach other rates."""
    from lapwright.records import rate_queries

    runs = kept_results.kept_until_write(("runs that teach",), rate_queries.run_stamp, besides=TEACH_NOTHING)
    stacks = kept_results.kept_in_parts(
        ("stacks that teach",),
        ["all"],
        {"readingset": lambda keys: ["all"] if rate_queries.are_of_stacks(keys) else []},
        lambda _all: rate_queries.stack_stamp(),
    )
    return *runs, *stacks["all"]


def taught_mark() -> str:
    """A short text that changes with what the rates are learned from, and with nothing else."""
    return _mark_of(kept_results.Itself(learned()[0]))


def recent_runs(runs: tuple[PastRun, ...], *, count: int = RECENT) -> tuple[PastRun, ...]:
    """The latest runs of each combination, in the order worked."""
    left = Counter(dict.fromkeys({run.conditions.combination for run in runs}, count))
    found = []
    for run in reversed(runs):
        if left[run.conditions.combination] > 0:
            left[run.conditions.combination] -= 1
            found.append(run)
    return tuple(reversed(found))


def next_run(ahead: NextStage, material: str, *, at: datetime | None = None) -> NextRun | None:
    """What the lab's runs say of a wafer's next stage; None when it is no run or nothing is known of its rate.

    The station is the one that carries the plate and abrasive of the plan. All of it is advice with its reason: plan,
    preset and allowance stay as they are until a person changes them.
    """
    from lapwright.process.learning import rate_interval
    from lapwright.process.pad_life import pad_life

    plan = ahead.planned
    found = None if ahead.removal <= 0.0 else next_rate(plan, material, at=at)
    if found is None:
        return None
    station, conditions, prediction = found
    past, model = learned()
    return NextRun(
        station_id=conditions.station,
        conditions=conditions,
        prediction=prediction,
        interval=rate_interval(prediction, coverage=0.9),
        times=_times(ahead.removal, prediction, 0.9),
        stop=None if ahead.preset is None or station is None else learned_stop(past, station, ahead.preset),
        pad=pad_life(model, conditions) if conditions.pad_age and plan.kind == "polish" else None,
        last_outlying=_last_outlying(model, conditions),
    )


def next_rate(
    plan: Stage, material: str, *, at: datetime | None = None
) -> tuple[str | None, RunConditions, RatePrediction] | None:
    """The rate that a stage to come will have by the lab's runs, with its station and conditions; None for no run."""
    from lapwright.app.run_history import PlannedRun, conditions_now, station_for
    from lapwright.errors import LapwrightError
    from lapwright.process.learning import predict_rate, where_last_run

    if not (plan.abrasive and plan.plate and plan.pressure and plan.speed):
        return None
    model, station = rate_model(), station_for(plan)
    asked = PlannedRun(
        abrasive=plan.abrasive, plate=plan.plate, pressure=plan.pressure, speed=plan.speed, station_id=station
    )
    try:
        conditions = where_last_run(model, conditions_now(model.library, material=material, planned_run=asked, at=at))
        return station, conditions, predict_rate(model, conditions)
    except LapwrightError:
        return None


def learned_stop(past: RunHistory, station_id: str, preset: float | None) -> LearnedStop:
    """What the stops at a station say: how far they went beyond their presets, less the allowance made for it.

    The answer is a suggestion with its reason; the preset stays as it is until a person dials in another.
    """
    from lapwright.process.run_corrections import suggested_change

    misses = [one.beyond - one.allowance for one in past.misses if one.station_id == station_id]
    found = suggested_change(misses, largest_step=LARGEST_STEP)
    return LearnedStop(station_id=station_id, suggested=found, preset=None if preset is None else preset + found.change)


def stop_corrections() -> tuple[LearnedStop, ...]:
    """What the stops of every station with a run by preset say."""
    past, _ = learned()
    return tuple(learned_stop(past, station_id, None) for station_id in sorted({one.station_id for one in past.misses}))


# ----------------------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=2)
def _known(stamp: tuple[object, ...], library: kept_results.Itself) -> tuple[RunHistory, RateModel]:
    from lapwright.app.run_history import run_history
    from lapwright.process.learning import rate_model as taught

    del stamp  # it only says when this is old
    past = run_history(library.held)
    return past, taught(library.held, recent_runs(past.runs))


@lru_cache(maxsize=4)
def _mark_of(past: kept_results.Itself) -> str:
    return hashlib.sha256(repr(recent_runs(past.held.runs)).encode()).hexdigest()


def _times(removal: float, prediction: RatePrediction, coverage: float) -> tuple[float, float, float]:
    from lapwright.process.learning import rate_interval

    bounds = rate_interval(prediction, coverage=coverage)
    return removal / bounds.high, removal / bounds.median, removal / bounds.low


def _last_outlying(model: RateModel, conditions: RunConditions) -> str | None:
    """Name of the last run of the combination when it was set aside."""
    process = model.library.abrasive(conditions.abrasive).process
    mine = [one for one in model.learned[process].checks if one.run.conditions.combination == conditions.combination]
    return mine[-1].run.name if mine and mine[-1].note == "outlying" else None


def _refused(look_up: object, name: str) -> str | None:
    try:
        look_up(name)  # type: ignore[operator]
    except NotFound as error:
        return str(error)
    return None
