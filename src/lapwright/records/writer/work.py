"""Writing bonds, routes, stages, zeros and runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.errors import Conflict
from lapwright.model.job import (
    BondDecision,
    BondNumbers,
    RecordedBond,
    RecordedRoute,
    RecordedRun,
    RecordedStage,
    RecordedZero,
    RunStep,
    StageState,
)
from lapwright.model.plan import Plan, PresetDatum, Stage
from lapwright.model.readings import Signature
from lapwright.model.request import BondRequest, ZeroRequest
from lapwright.model.verdict import BondVerdict
from lapwright.records import models, queries, rows, supply_queries
from lapwright.records.coding import from_plain, to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add, change, locked
from lapwright.records.writer.shelf import keys_of


@dataclass(frozen=True, slots=True, kw_only=True)
class NewRun:
    """A run to be written. SI."""

    stage_id: int
    station_id: str
    jig_id: str | None
    zero_id: int | None
    load: float | None
    pressure: float | None
    plate_speed: float | None
    preset: float | None
    preset_datum: PresetDatum | None
    step: RunStep = "whole"
    time: float | None = None
    expected: tuple[tuple[float, float], ...] = ()
    with_run: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroOutcome:
    """What a zero's readings mean. SI."""

    values: tuple[float, ...]
    spread: float
    limit: float
    accepted: bool
    reason: str


def add_bond(request: BondRequest, signature: Signature) -> RecordedBond:
    """A new bond; the wafer points at it."""
    with one_transaction():
        wafer = locked(models.Wafer, wafer_id=request.wafer_id)
        carrier = locked(models.Carrier, carrier_id=request.carrier_id)
        busy = models.Bond.objects.select_related("wafer").filter(carrier=carrier, undone_at=None).first()
        if busy is not None:
            raise Conflict(
                f"The carrier {request.carrier_id!r} bears the wafer {busy.wafer.wafer_id!r}."
                " Take that one off, or choose another carrier. A carrier with several places is kept as one"
                " carrier for each place, such as 'K7-1' and 'K7-2'."
            )
        row = add(
            models.Bond,
            signature,
            wafer=wafer,
            carrier=carrier,
            adhesive=request.adhesive,
            adhesive_lot=request.adhesive_lot,
            adhesive_supply=supply_queries.row_named(request.adhesive_lot),
            wafer_frame=to_plain(request.wafer_frame),
            carrier_frame=to_plain(request.carrier_frame),
        )
        change(wafer, signature, bond=row)
        return queries.bond(row.pk)


def judge_bond(
    bond_id: int, sets: tuple[int, int, int], numbers: BondNumbers, verdict: BondVerdict, signature: Signature
) -> RecordedBond:
    """The numbers of a bond and the advice; `sets` are those of wafer, carrier and stack."""
    with one_transaction():
        row = locked(models.Bond, pk=bond_id)
        wafer_set, carrier_set, stack_set = sets
        change(
            row,
            signature,
            wafer_set_id=wafer_set,
            carrier_set_id=carrier_set,
            stack_set_id=stack_set,
            numbers=to_plain(numbers),
            advice=verdict.advice,
            advice_reason=verdict.reason,
        )
        return queries.bond(bond_id)


def decide_bond(
    bond_id: int, decision: BondDecision, signature: Signature, *, version: int | None = None
) -> RecordedBond:
    """What was decided about a bond."""
    with one_transaction():
        row = locked(models.Bond, pk=bond_id)
        change(
            row,
            signature,
            version=version,
            decision=decision,
            decided_by=signature.by,
            decided_reason=signature.reason,
            decided_at=signature.at,
        )
        return queries.bond(bond_id)


def undo_bond(bond_id: int, method: str, signature: Signature) -> RecordedBond:
    """The end of a bond; the wafer is free."""
    with one_transaction():
        row = locked(models.Bond, pk=bond_id)
        if row.undone_at is not None:
            raise Conflict(f"The wafer was taken off already, at {row.undone_at:%Y-%m-%d %H:%M} UTC.")
        change(
            row,
            signature,
            undone_by=signature.by,
            undone_reason=signature.reason,
            undone_at=signature.at,
            undone_by_method=method,
        )
        wafer = locked(models.Wafer, pk=row.wafer_id)
        change(wafer, signature, bond=None)
        return queries.bond(bond_id)


def choose_route(order_id: str, plan: Plan, signature: Signature, *, for_order: bool = True) -> RecordedRoute:
    """The route an order follows from now on; or one that is kept for some wafers alone, beside the one chosen."""
    with one_transaction():
        order = locked(models.Order, order_id=order_id)
        if for_order:
            for row in models.Route.objects.filter(order=order, chosen=True):
                change(row, signature, chosen=False)
        added = add(models.Route, signature, order=order, plan=to_plain(plan), chosen=for_order)
        return rows.route(added)


def replace_stages(
    wafer_id: str, route_id: int, stages: Sequence[tuple[int, Stage]], signature: Signature
) -> tuple[RecordedStage, ...]:
    """New waiting stages of a wafer, by number, in place of those that have not begun."""
    with one_transaction():
        wafer = locked(models.Wafer, wafer_id=wafer_id)
        for row in models.Stage.objects.filter(wafer=wafer, replaced=False, state="waiting"):
            change(row, signature, replaced=True)
        for number, stage in stages:
            add(
                models.Stage,
                signature,
                wafer=wafer,
                route_id=route_id,
                number=number,
                planned=to_plain(stage),
                state="waiting",
            )
        return queries.stages(wafer_id)


def replan_stage(stage_id: int, route_id: int, stage: Stage, signature: Signature) -> RecordedStage:
    """Another plan for a stage that waits; runs that it had already stay with it."""
    with one_transaction():
        row = locked(models.Stage, pk=stage_id)
        change(row, signature, planned=to_plain(stage), route_id=route_id)
        return queries.stage(stage_id)


def change_stage(
    stage_id: int, state: StageState, signature: Signature, *, set_id: int | None = None, version: int | None = None
) -> RecordedStage:
    """A stage that begins, ends, is left out, or waits again."""
    with one_transaction():
        row = locked(models.Stage, pk=stage_id)
        columns: dict[str, object] = {"state": state}
        if state == "running":
            columns["started_at"] = signature.at
        elif state != "waiting":
            columns["ended_at"] = signature.at
        if set_id is not None:
            columns["set_id"] = set_id
        change(row, signature, version=version, **columns)
        return queries.stage(stage_id)


def add_zero(request: ZeroRequest, outcome: ZeroOutcome, signature: Signature) -> RecordedZero:
    """A zero of the jig's gauge, bound to what is on the station now; earlier ones of the wafer are void."""
    with one_transaction():
        station = queries.find(models.Station.objects.all(), "station_id", request.station_id)
        wafer = locked(models.Wafer, wafer_id=request.wafer_id)
        for old in models.Zero.objects.filter(wafer=wafer, void=None):
            change(old, signature, void="a later zero was taken")
        row = add(
            models.Zero,
            signature,
            wafer=wafer,
            station=station,
            jig=queries.find(models.Jig.objects.all(), "jig_id", request.jig_id),
            plate=station.definition["plate"],
            abrasive=station.definition["abrasive"],
            texts=list(request.texts),
            unit=request.unit,
            values_m=list(outcome.values),
            spread_m=outcome.spread,
            limit_m=outcome.limit,
            accepted=outcome.accepted,
            verdict=outcome.reason,
        )
        return queries.zero(row.pk)


def void_zero(zero_id: int, why: str, signature: Signature) -> RecordedZero:
    """The end of a zero."""
    with one_transaction():
        row = locked(models.Zero, pk=zero_id)
        if row.void is None:
            change(row, signature, void=why)
        return queries.zero(zero_id)


def add_run(new: NewRun, signature: Signature) -> RecordedRun:
    """The start of a run."""
    with one_transaction():
        stage = locked(models.Stage, pk=new.stage_id)
        station = queries.find(models.Station.objects.all(), "station_id", new.station_id)
        busy = models.Run.objects.select_related("wafer").filter(station=station, ended_at=None).first()
        if busy is not None and new.with_run not in (busy.pk, busy.with_run_id):
            raise Conflict(
                f"The station {new.station_id!r} is running wafer {busy.wafer.wafer_id!r} since {busy.at:%H:%M} UTC."
                " Finish that run first."
            )
        jigs = models.Jig.objects.all()
        row = add(
            models.Run,
            signature,
            stage=stage,
            wafer_id=stage.wafer_id,
            station=station,
            jig=None if new.jig_id is None else queries.find(jigs, "jig_id", new.jig_id),
            zero_id=new.zero_id,
            plate=station.definition["plate"],
            abrasive=station.definition["abrasive"],
            **keys_of(from_plain(station.definition), held=station),
            load_n=new.load,
            pressure_pa=new.pressure,
            plate_speed_rad_per_s=new.plate_speed,
            preset_m=new.preset,
            preset_datum=new.preset_datum,
            step=new.step,
            time_s=new.time,
            expected_s_m=[list(point) for point in new.expected],
            with_run_id=new.with_run,
        )
        return queries.run(row.pk)


def end_run(
    run_id: int,
    removal: tuple[float, str] | None,
    stop_reason: str,
    signature: Signature,
    *,
    time: float | None = None,
    version: int | None = None,
) -> RecordedRun:
    """The end of a run; `removal` is what the jig's gauge says, in SI and as entered, `time` how long it ran."""
    with one_transaction():
        row = locked(models.Run, pk=run_id)
        if row.ended_at is not None:
            raise Conflict(f"The run {run_id} ended already, at {row.ended_at:%Y-%m-%d %H:%M} UTC.")
        value, text = removal or (None, None)
        change(
            row,
            signature,
            version=version,
            gauge_removal_m=value,
            gauge_removal_text=text,
            stop_reason=stop_reason,
            time_s=row.time_s if time is None else time,
            ended_by=signature.by,
            ended_reason=signature.reason,
            ended_at=signature.at,
        )
        return queries.run(run_id)
