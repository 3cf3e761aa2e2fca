"""Use cases after a run: the thickness held against the gauge in process, and how to stop a polish by the clock."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from lapwright.app import set_values, wafer_maps
from lapwright.app.next_stages import next_stage
from lapwright.errors import Conflict
from lapwright.model.job import RecordedRun, RecordedSet
from lapwright.model.live import RecordedStream
from lapwright.model.story import WaferAtWork
from lapwright.process.reconcile import Reconciliation, Thickness, reconciliation
from lapwright.process.timed_stop import TimedStop, TwoStepStop, timed_stop, two_step_stop

if TYPE_CHECKING:
    from lapwright.metrology.thickness import ThicknessResult

OVER_TO_UNDER = (
    100.0  # a polish that takes too much is worth this many that take too little; common practice, no source
)
UNKNOWN_GAUGE = 1.0e-6  # m; standard uncertainty of a jig gauge that was not followed; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class LookBack:
    """A run looked back on: the run, its stream if it had one, the two sets it lies between, and what they say.

    `film_step` [m] is what the gauge moved, beyond the coasting, when the plate came to rest; None when not followed.
    """

    run: RecordedRun
    stream: RecordedStream | None
    before_set: int
    after_set: int
    reconciled: Reconciliation
    film_step: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockAdvice:
    """How to run a stage by the clock: removal wanted [m], the time in one go, and the first of two steps."""

    removal: float
    one_step: TimedStop
    two_steps: TwoStepStop


def look_back(run_id: int) -> LookBack | None:
    """A run against the thickness read before and after it; None while no set after it is closed.

    Raises `Conflict` when other runs lie between the same two sets: their removals cannot be told apart.
    """
    from lapwright.records import queries, story_queries, stream_queries

    run = queries.run(run_id)
    wafer = story_queries.wafer_at_work(run.wafer_id)
    before, after = _sets_around(story_queries.wafer_story(run.wafer_id).sets, run)
    if before is None or after is None or run.ended is None:
        return None
    between = [
        one for one in wafer.runs
        if one.ended is not None and _closed(before) <= one.started and one.ended <= _closed(after)
    ]  # fmt: skip
    if len(between) > 1:
        raise Conflict(
            f"{len(between)} runs lie between the two readings of wafer {run.wafer_id!r}; what each removed cannot be"
            " told. Read the wafer after every run that is to be learnt from."
        )
    stream = stream_queries.stream_of_run(run_id)
    reconciled = reconciliation(
        _thickness(wafer, before),
        _thickness(wafer, after),
        _gauge(run, stream),
        wanted=run.preset or (0.0 if stream is None or stream.target is None else stream.target),
        time=_cut_time(run, stream),
        predicted_rate=next((one.stage.rate for one in wafer.stages if one.stage_id == run.stage_id), None),
    )
    return LookBack(
        run=run,
        stream=stream,
        before_set=before.set_id,
        after_set=after.set_id,
        reconciled=reconciled,
        film_step=_film_step(stream),
    )


def clock_advice(wafer_id: str) -> ClockAdvice:
    """How long to run the wafer's next stage by the clock, from the rate of its plan and the interval of that.

    Raises `Conflict` when the next stage is no run, has no rate, or nothing is left to remove.
    """
    ahead = next_stage(wafer_id)
    if ahead is None or ahead.planned.kind not in ("lap", "polish"):
        raise Conflict(f"The next stage of wafer {wafer_id!r} is no run; there is nothing to time.")
    planned = ahead.planned
    if not (planned.rate and planned.rate_low and planned.rate_high):
        raise Conflict(f"The plan has no rate for stage {planned.name!r}. Time a trial piece first.")
    removal = ahead.removal if ahead.removal > 0.0 else planned.removal
    if removal <= 0.0:
        raise Conflict(f"Stage {planned.name!r} has nothing left to remove.")
    rates = {"rate_low": planned.rate_low, "rate": planned.rate, "rate_high": planned.rate_high}
    return ClockAdvice(
        removal=removal,
        one_step=timed_stop(removal, **rates, over_to_under=OVER_TO_UNDER),
        two_steps=two_step_stop(removal, **rates),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _closed(taken: RecordedSet) -> datetime:
    return taken.opened.at if taken.closed is None else taken.closed.at


def _sets_around(sets: tuple[RecordedSet, ...], run: RecordedRun) -> tuple[RecordedSet | None, RecordedSet | None]:
    """The last set that says how thick the wafer was before the run, and the first after it."""
    counted = [one for one in sets if one.state == "closed" and one.closed and one.subject in ("wafer", "stack")]
    before = [one for one in counted if one.closed and one.closed.at <= run.started and _says_wafer(one)]
    after = [one for one in counted if run.ended and one.opened.at >= run.ended and _says_wafer(one)]
    return (before[-1] if before else None), (after[0] if after else None)


def _says_wafer(taken: RecordedSet) -> bool:
    """A stack as bonded serves the bond; the thickness then is that of the free wafer."""
    return taken.subject == "wafer" or taken.moment != "stack"


def _thickness(wafer: WaferAtWork, taken: RecordedSet) -> Thickness:
    now = wafer_maps.wafer_now(replace(wafer, latest=taken))
    return Thickness(value=now.thickness, uncertainty=_scatter(now.result, taken))


def _scatter(result: ThicknessResult, taken: RecordedSet) -> float:
    """Standard uncertainty of the mean from what the readings scatter; what the gauge has in common cancels."""
    found = [value for value in (result.residual_rms, result.repeat_deviation) if value is not None]
    if not found:
        found = [set_values.result_of(taken).residual_rms or UNKNOWN_GAUGE]
    return max(found) / math.sqrt(result.n_sites)


def _gauge(run: RecordedRun, stream: RecordedStream | None) -> Thickness:
    if run.gauge_removal is None:
        raise Conflict(f"Run {run.run_id} has no removal by its gauge, so that there is nothing to compare.")
    doubt = None if stream is None else stream.ended_uncertainty
    return Thickness(value=run.gauge_removal, uncertainty=UNKNOWN_GAUGE if doubt is None else doubt)


def _cut_time(run: RecordedRun, stream: RecordedStream | None) -> float:
    if stream is not None and stream.ended_after:
        return stream.ended_after
    assert run.ended is not None
    return max(1.0, (run.ended - run.started).total_seconds())


def _film_step(stream: RecordedStream | None) -> float | None:
    if stream is None or stream.ended_shown is None or stream.ended_removed is None or stream.feed is None:
        return None
    coast = (stream.rate or 0.0) * stream.feed.latency
    return stream.ended_shown - stream.ended_removed - coast
