"""Use cases after a run: the thickness held against the gauge in process, against weighing, or against the clock."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from lapwright.app import set_values, wafer_maps, weighing
from lapwright.app.clock_curves import removal_expected
from lapwright.errors import Conflict
from lapwright.model.job import RecordedRun, RecordedSet
from lapwright.model.live import RecordedStream
from lapwright.model.story import WaferAtWork, WaferStory
from lapwright.process.reconcile import Means, Reconciliation, Thickness, reconciliation

if TYPE_CHECKING:
    from lapwright.metrology.thickness import ThicknessResult

NINETY = 1.6448536269514722  # quantile of the normal distribution at 0.95
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
class Measured:
    """What a run removed of the wafer as measured after it, standard uncertainty, mean over all pieces of the run [m].

    `how` says by what, to stand in a sentence.
    """

    removal: float
    uncertainty: float
    mean: float
    how: str


def look_back(run_id: int) -> LookBack | None:
    """A run against the thickness read before and after it; None while no set after it is closed.

    Raises `Conflict` when other runs lie between the same two sets: their removals cannot be told apart.
    """
    from lapwright.records import queries, story_queries, stream_queries

    run = queries.run(run_id)
    story = story_queries.wafer_story(run.wafer_id)
    wafer = _as_bonded(story_queries.wafer_at_work(run.wafer_id), story, run)
    before, after = _sets_around(story.sets, run)
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
    stream = stream_queries.stream_of_run(run.run_id if run.with_run is None else run.with_run)
    told, means = _told(run, stream, wafer)
    before_it = _thickness(wafer, before)
    reconciled = reconciliation(
        before_it,
        _thickness(wafer, after),
        told,
        wanted=_wanted(run, stream, wafer, before_it),
        time=_cut_time(run, stream),
        predicted_rate=next((one.stage.rate for one in wafer.stages if one.stage_id == run.stage_id), None),
        means=means,
    )
    return LookBack(
        run=run,
        stream=stream,
        before_set=before.set_id,
        after_set=after.set_id,
        reconciled=reconciled,
        film_step=_film_step(stream),
    )


def measured_removal(run: RecordedRun) -> Measured | None:
    """What a run removed as measured after it, by thickness or by weighing, whichever knows it better."""
    from lapwright.errors import LapwrightError

    found = []
    weighed = weighing.weighed_removal(run)
    if weighed is not None:
        found.append(
            Measured(removal=weighed.removal, uncertainty=weighed.uncertainty, mean=weighed.mean, how="by weighing")
        )
    try:
        looked = look_back(run.run_id)
    except LapwrightError:
        looked = None
    if looked is not None:
        removed, doubt = looked.reconciled.removed, looked.reconciled.removed_uncertainty
        share = weighing.share_of(run)
        found.append(Measured(removal=removed, uncertainty=doubt, mean=removed / share, how="by the readings after it"))
    return min(found, key=lambda one: one.uncertainty, default=None)


# ----------------------------------------------------------------------------------------------------------------------


def _closed(taken: RecordedSet) -> datetime:
    return taken.opened.at if taken.closed is None else taken.closed.at


def _as_bonded(wafer: WaferAtWork, story: WaferStory, run: RecordedRun) -> WaferAtWork:
    """The wafer on the bond that held when a run began; it may have been taken off since."""
    held = [one for one in story.bonds if one.numbers is not None and one.made.at <= run.started]
    if not held:
        return wafer
    judged_by = (held[-1].wafer_set_id, held[-1].stack_set_id)
    return replace(wafer, bond=held[-1], bond_sets=tuple(one for one in story.sets if one.set_id in judged_by))


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


def _told(run: RecordedRun, stream: RecordedStream | None, wafer: WaferAtWork) -> tuple[Thickness, Means]:
    """What the readings are held against: the gauge, else two weighings, else the time and the rate."""
    if run.gauge_removal is not None:
        doubt = None if stream is None else stream.ended_uncertainty
        return Thickness(value=run.gauge_removal, uncertainty=UNKNOWN_GAUGE if doubt is None else doubt), "gauge"
    weighed = weighing.weighed_removal(run)
    if weighed is not None:
        return Thickness(value=weighed.removal, uncertainty=weighed.uncertainty), "weighing"
    expected = removal_expected(run)
    stage = next((one.stage for one in wafer.stages if one.stage_id == run.stage_id), None)
    if expected is None or stage is None or not (stage.rate_low and stage.rate_high):
        raise Conflict(f"Run {run.run_id} has no removal by its gauge, so that there is nothing to compare.")
    spread = math.log(stage.rate_high / stage.rate_low) / (2.0 * NINETY)
    return Thickness(value=expected, uncertainty=expected * spread), "clock"


def _wanted(run: RecordedRun, stream: RecordedStream | None, wafer: WaferAtWork, before: Thickness) -> float:
    """Removal that was wanted: the recorder's target, what the clock was set for, or what was above the stage's aim."""
    if stream is not None and stream.target is not None:
        return stream.target
    if run.expected:
        return run.expected[-1][1]
    stage = next((one.stage for one in wafer.stages if one.stage_id == run.stage_id), None)
    if stage is not None and stage.removal > 0.0:
        return before.value - stage.thickness_after
    return run.preset or 0.0


def _cut_time(run: RecordedRun, stream: RecordedStream | None) -> float:
    if stream is not None and stream.ended_after:
        return stream.ended_after
    if run.time:
        return run.time
    assert run.ended is not None
    return max(1.0, (run.ended - run.started).total_seconds())


def _film_step(stream: RecordedStream | None) -> float | None:
    if stream is None or stream.ended_shown is None or stream.ended_removed is None or stream.feed is None:
        return None
    coast = (stream.rate or 0.0) * stream.feed.latency
    return stream.ended_shown - stream.ended_removed - coast
