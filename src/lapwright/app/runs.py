"""Use cases: zero, starting and finishing the stages of a wafer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from lapwright.app import looks, recipes, set_values, steps
from lapwright.app.next_stages import NextStage, next_stage
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.job import RecordedRun, RecordedStage, RecordedZero
from lapwright.model.plan import Stage
from lapwright.model.readings import Signature
from lapwright.model.recipe import RunSettings
from lapwright.model.request import RunRequest, ZeroRequest
from lapwright.model.shelf import Jig
from lapwright.model.wafer import Outline

if TYPE_CHECKING:
    from lapwright.app.clock_curves import Curve
    from lapwright.records.writer.work import NewRun

__all__ = [
    "NextStage", "complete_stage", "end_stage", "finish_run", "need_turn", "next_stage", "skip_stage", "start_run",
    "take_zero", "void_zero", "waiting_stage",
]  # fmt: skip


def waiting_stage(wafer_id: str) -> RecordedStage | None:
    """The first stage of a wafer that is waiting or running, without its numbers; None when all are done."""
    from lapwright.records import queries

    return next((one for one in queries.stages(wafer_id) if one.state in ("waiting", "running")), None)


def take_zero(request: ZeroRequest, *, by: str, reason: str, at: datetime) -> RecordedZero:
    """Record the zero readings of the jig's gauge; not accepted when they lie further apart than allowed.

    Raises `BadInput` for fewer than three readings or text that is no length.
    """
    from lapwright import records
    from lapwright.process.preset import zero_guard
    from lapwright.records import queries, writer
    from lapwright.records.writer.work import ZeroOutcome

    if len(request.texts) < 3:
        sentence = f"A zero needs at least three readings, the foot lifted between them; {len(request.texts)} found."
        raise BadInput([Fault(sentence=sentence, field="texts")])
    values = tuple(set_values.length_of(text, request.unit)[0] for text in request.texts)
    limit = records.current_settings().zero_spread_um * 1e-6
    check = zero_guard(values, spread_limit=limit)
    outcome = ZeroOutcome(values=values, spread=check.spread, limit=limit, accepted=check.accepted, reason=check.reason)
    with writer.transaction():
        steps.need_state(queries.wafer(request.wafer_id), ("ready", "in_work"), "Taking the zero")
        return writer.add_zero(request, outcome, Signature(by=by, at=at, reason=reason))


def void_zero(zero_id: int, *, by: str, reason: str, at: datetime) -> RecordedZero:
    """Record that a zero no longer holds: adjuster moved, foot or plate changed, bonded anew. The reason says which."""
    from lapwright.records import writer

    return writer.void_zero(zero_id, reason, Signature(by=by, at=at, reason=reason))


def start_run(request: RunRequest, *, by: str, reason: str, at: datetime) -> RecordedRun:
    """Record the start of a wafer's next lapping or polishing stage.

    Raises `Conflict` without a zero that holds (lapping), when the next stage is of another kind, when plate or
    abrasive of the station are not those of the stage, or when wafer or station is running already; and for pieces that
    cannot run together. Those start with it, each with a run of its own.
    """
    from lapwright.records import queries, writer

    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        wafer = queries.wafer(request.wafer_id)
        steps.need_state(wafer, ("ready", "in_work"), "Starting a run")
        ahead = next_stage(request.wafer_id, jig_id=request.jig_id, station_id=request.station_id)
        if ahead is None:
            raise Conflict(f"All stages of wafer {request.wafer_id!r} are done. Read it on the carrier.")
        _check_start(ahead, request)
        settings = settings_of(ahead, request)
        recipes.need_kept(settings)
        curves = _expected(request, at)
        run = _begin(ahead, request, signature, expected=curves[0])
        recipes.note_use(run, settings, signature)
        for other, curve in zip(request.companions, curves[1:], strict=True):
            steps.need_state(queries.wafer(other), ("ready", "in_work"), "Starting a run")
            asked = replace(request, wafer_id=other, companions=())
            beside = next_stage(other, jig_id=request.jig_id, station_id=request.station_id)
            assert beside is not None  # the advice on several pieces has looked
            _check_start(beside, asked)
            beside_settings = replace(settings, material=_material(other))
            recipes.need_kept(beside_settings)
            begun = _begin(beside, asked, signature, expected=curve, with_run=run.run_id)
            recipes.note_use(begun, beside_settings, signature)
        return run


def settings_of(ahead: NextStage, request: RunRequest) -> RunSettings:
    """What would be set for a run, as it is recorded."""
    from lapwright.records import queries

    new, station = _new_run(ahead, request), queries.station(request.station_id).station
    return RunSettings(
        material=_material(request.wafer_id),
        plate=station.plate,
        abrasive=station.abrasive,
        load=new.load,
        pressure=new.pressure,
        plate_speed=new.plate_speed,
    )


def finish_run(
    run_id: int,
    *,
    gauge_removal: str | None = None,
    stop_reason: str = "preset reached",
    time: float | None = None,
    by: str,
    reason: str,
    at: datetime,
    version: int | None = None,
) -> RecordedRun:
    """Record the end of a run: what the jig's gauge says was removed, as entered ('398.2 µm'), and why it stopped.

    The zero is used up by the run: the height of first touch is another one now. Pieces that ran together end with it;
    after a run that does only the first part of it the stage waits for the rest. Raises `Conflict` while the recorder
    follows the run, and `BadInput` where a stage stopped by the gauge is to go on and nothing says from where.
    """
    from lapwright.records import queries, writer

    signature = Signature(by=by, at=at, reason=reason)
    removal = None if gauge_removal is None else (set_values.length_of(gauge_removal, "µm")[0], gauge_removal.strip())
    with writer.transaction():
        begun = queries.run(run_id)
        _need_own_end(begun)
        _need_removal_to_go_on(begun, is_told=removal is not None)
        run = writer.end_run(run_id, removal, stop_reason, signature, time=time, version=version)
        for one in (run, *end_companions(run, signature, time=time)):
            if one.step == "first":
                writer.change_stage(one.stage_id, "waiting", signature)
            else:
                end_stage(queries.stage(one.stage_id), signature)
        if run.zero_id is not None and run.preset_datum != "reference_block":
            writer.void_zero(run.zero_id, "the run is over: the wafer now touches at another height", signature)
        return run


def end_companions(run: RecordedRun, signature: Signature, *, time: float | None) -> tuple[RecordedRun, ...]:
    """The end of the runs of the pieces that ran together with this one, inside the transaction of whoever ends it."""
    from lapwright.records import run_queries, writer

    return tuple(
        writer.end_run(one.run_id, None, run.stop_reason or "", signature, time=time)
        for one in run_queries.companions(run.run_id)
        if one.ended is None
    )


def complete_stage(stage_id: int, *, by: str, reason: str, at: datetime) -> RecordedStage:
    """Record that a cleaning stage is done, or a measuring stage whose set is closed; once done it stays so."""
    from lapwright.records import queries, writer

    with writer.transaction():
        stage = queries.stage(stage_id)
        if stage.state == "done":
            return stage
        need_turn(stage)
        if stage.stage.kind in ("lap", "polish"):
            raise Conflict(f"Stage {stage.stage.name!r} is done by a run. Start the run and finish it.")
        if stage.stage.kind == "measure":
            raise Conflict(f"Stage {stage.stage.name!r} is done by closing a set of readings. Read the sites first.")
        if looks.needs_look(stage, queries.stages(stage.wafer_id)):
            raise Conflict(
                f"Stage {stage.stage.name!r} ends with a look: another abrasive follows, or the wafer is released."
                " Record what was found."
            )
        return end_stage(stage, Signature(by=by, at=at, reason=reason))


def skip_stage(stage_id: int, *, by: str, reason: str, at: datetime) -> RecordedStage:
    """Record that a stage was left out; the reason must say why."""
    from lapwright.records import queries, writer

    if not reason.strip():
        raise BadInput([Fault(sentence="Say why the stage is left out; the reason stays with it.", field="reason")])
    with writer.transaction():
        stage = queries.stage(stage_id)
        need_turn(stage)
        return end_stage(stage, Signature(by=by, at=at, reason=reason), skipped=True)


def need_turn(stage: RecordedStage) -> None:
    """Raise `Conflict` when a stage is not the next of its wafer, or is running."""
    from lapwright.records import queries

    steps.need_state(queries.wafer(stage.wafer_id), ("ready", "in_work"), "This stage")
    first = next((one for one in queries.stages(stage.wafer_id) if one.state in ("waiting", "running")), None)
    if first is None or first.stage_id != stage.stage_id:
        turn = "none; all are done" if first is None else f"{first.stage.name!r}"
        raise Conflict(f"It is not the turn of stage {stage.stage.name!r}; next is {turn}. Do that one first.")
    if first.state == "running":
        raise Conflict(f"Stage {stage.stage.name!r} is running. Finish its run first.")


def end_stage(
    stage: RecordedStage, signature: Signature, *, set_id: int | None = None, skipped: bool = False
) -> RecordedStage:
    """The end of a stage, inside the transaction of whoever ends it; after the last one the wafer is through."""
    from lapwright.records import queries, writer

    with writer.transaction():
        ended = writer.change_stage(stage.stage_id, "skipped" if skipped else "done", signature, set_id=set_id)
        wafer = queries.wafer(stage.wafer_id)
        if wafer.state == "ready":
            wafer = writer.move_wafer(stage.wafer_id, "in_work", signature)
        open_stages = [one for one in queries.stages(stage.wafer_id) if one.state in ("waiting", "running")]
        if not open_stages and wafer.state == "in_work":
            writer.move_wafer(stage.wafer_id, "worked", signature)
        return ended


# ----------------------------------------------------------------------------------------------------------------------


def _need_removal_to_go_on(run: RecordedRun, *, is_told: bool) -> None:
    """A stage goes on from where the gauge stood; what the clock ends is measured or weighed instead."""
    if run.step == "first" and run.time is None and not is_told:
        sentence = (
            f"The stage goes on after run {run.run_id}: say what the jig's gauge shows as removed, for example 3 µm."
        )
        raise BadInput([Fault(sentence=sentence, field="gauge_removal")])


def _need_own_end(run: RecordedRun) -> None:
    from lapwright.records import queries, stream_queries

    stream = stream_queries.stream_of_run(run.run_id)
    if stream is not None and stream.ended is None:
        raise Conflict(
            f"The recorder follows this run on {run.station_id} and records its end itself. "
            f"Press 'Stop now' on the Countdown of {run.station_id}."
        )
    if run.with_run is not None:
        first = queries.run(run.with_run)
        raise Conflict(
            f"Wafer {run.wafer_id!r} runs together with {first.wafer_id!r}. Record the end there; it counts for both."
        )


def _expected(request: RunRequest, at: datetime) -> tuple[Curve, ...]:
    """Removal against time of the wafer and of those that run together with it; empty for a run by the gauge."""
    from lapwright.app.clock_curves import expected_curves
    from lapwright.app.clock_runs import clock_advice

    if request.time is None:
        if request.companions:
            raise Conflict("Several pieces run together by the clock only. Give the time, or run them one by one.")
        return ((),)
    try:
        advice = clock_advice(request.wafer_id, together=request.companions, at=at)
    except Conflict:
        if request.companions:
            raise
        return ((),)  # a time that a person gives, for a stage of which the plan knows no rate
    return expected_curves(advice.steps, len(advice.pieces))


def _begin(
    ahead: NextStage, request: RunRequest, signature: Signature, *, expected: Curve, with_run: int | None = None
) -> RecordedRun:
    from lapwright.records import queries, writer

    new = replace(_new_run(ahead, request), expected=expected, with_run=with_run)
    run = writer.add_run(new, signature)
    writer.change_stage(ahead.stage.stage_id, "running", signature)
    if queries.wafer(request.wafer_id).state == "ready":
        writer.move_wafer(request.wafer_id, "in_work", signature)
    return run


def _check_start(ahead: NextStage, request: RunRequest) -> None:
    from lapwright.records import queries

    planned, station = ahead.planned, queries.station(request.station_id).station
    if planned.kind not in ("lap", "polish"):
        raise Conflict(f"The next stage of wafer {request.wafer_id!r} is {planned.name!r}, no run. Do that one first.")
    if ahead.stage.state == "running":
        raise Conflict(f"Wafer {request.wafer_id!r} is running already. Finish that run first.")
    wrong = [
        f"{name} {found or 'none'} (wanted {wanted})"
        for name, found, wanted in (
            ("plate", station.plate, planned.plate), ("abrasive", station.abrasive, planned.abrasive)
        )
        if wanted is not None and found != wanted
    ]  # fmt: skip
    if wrong:
        raise Conflict(
            f"On station {request.station_id!r} there is {' and '.join(wrong)}. Set the station up, or take another."
        )
    if planned.kind == "lap" and ahead.removal <= 0.0:
        raise Conflict(
            f"Wafer {request.wafer_id!r} is {ahead.thickness_now * 1e6:.1f} µm thick already; stage {planned.name!r}"
            f" ends at {ahead.thickness_after * 1e6:.1f} µm. Leave this stage out, with the reason."
        )
    if planned.kind == "lap" and ahead.zero is None:
        raise Conflict(
            f"Wafer {request.wafer_id!r} has no accepted zero that holds on {request.station_id!r}. Take it first."
        )


def _new_run(ahead: NextStage, request: RunRequest) -> NewRun:
    from lapwright.records import queries
    from lapwright.records.writer.work import NewRun

    planned = ahead.planned
    jig = None if request.jig_id is None else queries.jig(request.jig_id).jig
    outlines = [queries.wafer(one).wafer.outline for one in (request.wafer_id, *request.companions)]
    load, pressure = _load(outlines, jig, planned, request.load)
    return NewRun(
        stage_id=ahead.stage.stage_id,
        station_id=request.station_id,
        jig_id=request.jig_id,
        zero_id=ahead.zero.zero_id if ahead.zero is not None and planned.kind == "lap" else None,
        load=load,
        pressure=pressure,
        plate_speed=planned.plate_speed if request.plate_speed is None else request.plate_speed,
        preset=ahead.preset if request.preset is None else request.preset,
        preset_datum=ahead.preset_datum,
        step=request.step,
        time=request.time,
    )


def _material(wafer_id: str) -> str:
    from lapwright.records import queries

    return queries.order(queries.wafer(wafer_id).order_id).order.material


def _load(
    outlines: Sequence[Outline], jig: Jig | None, planned: Stage, given: float | None
) -> tuple[float | None, float | None]:
    """Load and pressure of a run: the pressure is the recipe, the load follows from jig and pieces; or a given load."""
    from lapwright.process.loads import contact_pressure, load_for_pressure, outline_area

    areas = [outline_area(outline) for outline in outlines]
    spring = 0.0 if jig is None else jig.spring_force
    share = 0.0 if jig is None else jig.ring_share
    if given is not None:
        return given, contact_pressure(given, areas, spring_lift=spring, carried_share=share)
    if planned.pressure is None:
        return planned.load, None
    return load_for_pressure(planned.pressure, areas, spring_lift=spring, carried_share=share), planned.pressure
