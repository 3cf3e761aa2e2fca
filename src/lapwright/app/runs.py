"""Use cases: zero, starting and finishing the stages of a wafer."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from lapwright.app import set_values, steps
from lapwright.app.next_stages import NextStage, next_stage
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.job import RecordedRun, RecordedStage, RecordedZero
from lapwright.model.plan import Stage
from lapwright.model.readings import Signature
from lapwright.model.request import RunRequest, ZeroRequest
from lapwright.model.shelf import Jig
from lapwright.model.wafer import Outline

if TYPE_CHECKING:
    from lapwright.records.writer.work import NewRun

__all__ = [
    "NextStage", "complete_stage", "end_stage", "finish_run", "next_stage", "skip_stage", "start_run", "take_zero",
    "void_zero", "waiting_stage",
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
    abrasive of the station are not those of the stage, or when wafer or station is running already.
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
        run = writer.add_run(_new_run(ahead, request), signature)
        writer.change_stage(ahead.stage.stage_id, "running", signature)
        if wafer.state == "ready":
            writer.move_wafer(request.wafer_id, "in_work", signature)
        return run


def finish_run(
    run_id: int,
    *,
    gauge_removal: str | None = None,
    stop_reason: str = "preset reached",
    by: str,
    reason: str,
    at: datetime,
    version: int | None = None,
) -> RecordedRun:
    """Record the end of a run: what the jig's gauge says was removed, as entered ('398.2 µm'), and why it stopped.

    The zero is used up by the run: the height of first touch is another one now.
    """
    from lapwright.records import queries, writer

    signature = Signature(by=by, at=at, reason=reason)
    removal = None if gauge_removal is None else (set_values.length_of(gauge_removal, "µm")[0], gauge_removal.strip())
    with writer.transaction():
        run = writer.end_run(run_id, removal, stop_reason, signature, version=version)
        end_stage(queries.stage(run.stage_id), signature)
        if run.zero_id is not None and run.preset_datum != "reference_block":
            writer.void_zero(run.zero_id, "the run is over: the wafer now touches at another height", signature)
        return run


def complete_stage(stage_id: int, *, by: str, reason: str, at: datetime) -> RecordedStage:
    """Record that a cleaning stage is done, or a measuring stage whose set is closed; once done it stays so."""
    from lapwright.records import queries, writer

    with writer.transaction():
        stage = queries.stage(stage_id)
        if stage.state == "done":
            return stage
        _need_turn(stage)
        if stage.stage.kind in ("lap", "polish"):
            raise Conflict(f"Stage {stage.stage.name!r} is done by a run. Start the run and finish it.")
        if stage.stage.kind == "measure":
            raise Conflict(f"Stage {stage.stage.name!r} is done by closing a set of readings. Read the sites first.")
        return end_stage(stage, Signature(by=by, at=at, reason=reason))


def skip_stage(stage_id: int, *, by: str, reason: str, at: datetime) -> RecordedStage:
    """Record that a stage was left out; the reason must say why."""
    from lapwright.records import queries, writer

    if not reason.strip():
        raise BadInput([Fault(sentence="Say why the stage is left out; the reason stays with it.", field="reason")])
    with writer.transaction():
        stage = queries.stage(stage_id)
        _need_turn(stage)
        return end_stage(stage, Signature(by=by, at=at, reason=reason), skipped=True)


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


def _need_turn(stage: RecordedStage) -> None:
    from lapwright.records import queries

    steps.need_state(queries.wafer(stage.wafer_id), ("ready", "in_work"), "This stage")
    first = next((one for one in queries.stages(stage.wafer_id) if one.state in ("waiting", "running")), None)
    if first is None or first.stage_id != stage.stage_id:
        turn = "none; all are done" if first is None else f"{first.stage.name!r}"
        raise Conflict(f"It is not the turn of stage {stage.stage.name!r}; next is {turn}. Do that one first.")
    if first.state == "running":
        raise Conflict(f"Stage {stage.stage.name!r} is running. Finish its run first.")


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
    load, pressure = _load(queries.wafer(request.wafer_id).wafer.outline, jig, planned, request.load)
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
    )


def _load(outline: Outline, jig: Jig | None, planned: Stage, given: float | None) -> tuple[float | None, float | None]:
    """Load and pressure of a run: the pressure is the recipe, the load follows from jig and wafer; or a given load."""
    from lapwright.process.loads import contact_pressure, load_for_pressure, outline_area

    area = outline_area(outline)
    spring = 0.0 if jig is None else jig.spring_force
    share = 0.0 if jig is None else jig.ring_share
    if given is not None:
        return given, contact_pressure(given, [area], spring_lift=spring, carried_share=share)
    if planned.pressure is None:
        return planned.load, None
    return load_for_pressure(planned.pressure, [area], spring_lift=spring, carried_share=share), planned.pressure
