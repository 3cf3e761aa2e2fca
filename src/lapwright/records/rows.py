"""Database rows as values of the model."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from lapwright.model.job import (
    RecordedBond,
    RecordedDocument,
    RecordedFinding,
    RecordedNote,
    RecordedOrder,
    RecordedReading,
    RecordedRoute,
    RecordedRun,
    RecordedSet,
    RecordedStage,
    RecordedVerdict,
    RecordedWafer,
    RecordedWeighing,
    RecordedZero,
    SetSurroundings,
    WaferEvent,
)
from lapwright.model.odd_ones import RecordedDecision
from lapwright.model.readings import Calibration, Reading, Signature
from lapwright.model.shelf import PersonCard, RecordedCarrier, RecordedJig, RecordedStation, Station
from lapwright.model.supply import pad_parts
from lapwright.model.surface_record import RecordedSurface
from lapwright.model.verdict import BondVerdict
from lapwright.records import models
from lapwright.records.coding import from_plain
from lapwright.records.models.base import Signed


def named(found: Any, *names: str) -> QuerySet[Any]:
    """Rows with what they point at, for its name alone: its definition is not read."""
    answer: QuerySet[Any] = found.select_related(*names).defer(*(f"{name}__definition" for name in names))
    return answer


def signature(row: Signed) -> Signature:
    """Who wrote a row first, when and why."""
    return Signature(by=row.by, at=row.at, reason=row.reason)


def later_signature(by: str | None, at: datetime | None, reason: str | None) -> Signature | None:
    """Who did a later thing to a row; None while it was not done."""
    return None if by is None or at is None else Signature(by=by, at=at, reason=reason or "")


def person(row: models.Person) -> PersonCard:
    """A person."""
    return PersonCard(name=row.username, full_name=row.get_full_name())


def order(row: models.Order) -> RecordedOrder:
    """An order; its wafers must be prefetched."""
    return RecordedOrder(
        order=from_plain(row.definition),
        wafer_ids=tuple(wafer.wafer_id for wafer in row.wafers.all()),
        simulated=row.simulated,
        version=row.version,
        signature=signature(row),
    )


def wafer(row: Any) -> RecordedWafer:
    """A wafer of `queries.wafer_rows`, which names what it points at."""
    return RecordedWafer(
        wafer=from_plain(row.definition),
        order_id=row.order_name,
        lot_id=row.lot_name,
        state=row.state,
        since=row.since,
        carrier_id=row.carrier_name,
        bond_id=row.bond_id,
        version=row.version,
        signature=signature(row),
    )


def event(row: models.WaferEvent) -> WaferEvent:
    """A step of a wafer."""
    return WaferEvent(
        wafer_id=row.wafer.wafer_id,
        before=row.before,  # type: ignore[arg-type]
        after=row.after,  # type: ignore[arg-type]
        signature=signature(row),
    )


def carrier(row: models.Carrier, wafer_id: str | None, set_id: int | None) -> RecordedCarrier:
    """A carrier, with what is on it and its latest set."""
    return RecordedCarrier(
        carrier=from_plain(row.definition),
        wafer_id=wafer_id,
        set_id=set_id,
        version=row.version,
        signature=signature(row),
    )


def jig(row: models.Jig) -> RecordedJig:
    """A jig."""
    return RecordedJig(jig=from_plain(row.definition), version=row.version, signature=signature(row))


def station(row: models.Station) -> RecordedStation:
    """A station, lots by the names they have now; its lots should be selected."""
    held: Station = from_plain(row.definition)
    if row.abrasive_supply is not None:
        held = replace(held, abrasive_lot=row.abrasive_supply.lot_id)
    if row.pad_supply is not None and held.plate_piece is not None:
        held = replace(held, plate_piece=row.pad_supply.lot_id + pad_parts(held.plate_piece)[1])
    return RecordedStation(station=held, version=row.version, signature=signature(row))


def calibration(row: models.Calibration) -> Calibration:
    """A calibration."""
    return Calibration(
        gauge_id=row.gauge.gauge_id,
        certificate=row.certificate,
        done=row.done,
        due=row.due,
        deviation=row.deviation_m,
        expanded_uncertainty=row.expanded_uncertainty_m,
        passed=row.passed,
        interval_days=row.interval_days,
        as_found=row.as_found_m,
        curve=() if row.curve is None else from_plain(row.curve),
    )


def reading(row: models.Reading, replaced_by: int | None) -> RecordedReading:
    """A reading, and the one that corrects it."""
    return RecordedReading(
        reading=Reading(
            site=row.site,
            x=row.x_m,
            y=row.y_m,
            thickness=math.nan if row.value_m is None else row.value_m,
            text=row.text,
            unit=row.unit,
            repeat=row.repeat,
            corrects=row.corrects_id,
            reading_id=row.pk,
        ),
        kind=row.kind,  # type: ignore[arg-type]
        sequence=row.sequence,
        replaced_by=replaced_by,
        question=row.question,
        signature=signature(row),
    )


def reading_set(row: models.ReadingSet, rows: Sequence[models.Reading], surroundings: SetSurroundings) -> RecordedSet:
    """A set with its readings, in their sequence; piece, order and gauge must be selected."""
    replaced = {item.corrects_id: item.pk for item in rows if item.corrects_id is not None}
    return RecordedSet(
        set_id=row.pk,
        subject=row.subject,  # type: ignore[arg-type]
        moment=row.moment,  # type: ignore[arg-type]
        piece=row.piece,
        order_id=None if row.order is None else row.order.order_id,
        wafer_id=None if row.wafer is None else row.wafer.wafer_id,
        stage_id=row.stage_id,
        gauge_id=row.gauge.gauge_id,
        pattern=from_plain(row.pattern),
        repeats=row.repeats,
        unit=row.unit,
        conditions=from_plain(row.conditions),
        zero_wanted=row.zero_wanted,
        state=row.state,  # type: ignore[arg-type]
        void_reason=row.void_reason,
        source=row.source,
        readings=tuple(reading(item, replaced.get(item.pk)) for item in rows),
        opened=signature(row),
        closed=later_signature(row.closed_by, row.closed_at, row.closed_reason),
        version=row.version,
        surroundings=surroundings,
        gauge_flag=row.gauge_flag,
    )


def finding(row: models.Finding) -> RecordedFinding:
    """A finding."""
    return RecordedFinding(
        finding_id=row.pk,
        wafer_id=row.wafer.wafer_id,
        quantity=row.quantity,  # type: ignore[arg-type]
        value=row.value_m,
        expanded_uncertainty=row.expanded_uncertainty_m,
        text=row.text,
        unit=row.unit,
        gauge_id=None if row.gauge is None else row.gauge.gauge_id,
        method=row.method,
        moment=row.moment,  # type: ignore[arg-type]
        signature=signature(row),
        surface_id=row.surface_id,
    )


def surface(row: models.Surface) -> RecordedSurface:
    """A measured face; wafer and gauge must be selected."""
    return RecordedSurface(
        surface_id=row.pk,
        kind=row.kind,  # type: ignore[arg-type]
        wafer_id=row.wafer.wafer_id,
        stage_id=row.stage_id,
        moment=row.moment,  # type: ignore[arg-type]
        gauge_id=None if row.gauge is None else row.gauge.gauge_id,
        instrument=row.instrument,
        document_ids=tuple(row.documents),
        settings=from_plain(row.settings),
        numbers=row.numbers,
        sign_ambiguous=row.sign_ambiguous,
        finding_ids=tuple(sorted(one.pk for one in row.findings.all())),
        not_judged=row.not_judged,
        software_version=row.software_version,
        signature=signature(row),
    )


def bond(row: models.Bond) -> RecordedBond:
    """A bond; wafer and carrier must be selected."""
    return RecordedBond(
        bond_id=row.pk,
        wafer_id=row.wafer.wafer_id,
        carrier_id=row.carrier.carrier_id,
        adhesive=row.adhesive,
        adhesive_lot=row.adhesive_lot if row.adhesive_supply is None else row.adhesive_supply.lot_id,
        wafer_frame=from_plain(row.wafer_frame),
        carrier_frame=from_plain(row.carrier_frame),
        wafer_set_id=row.wafer_set_id,
        carrier_set_id=row.carrier_set_id,
        stack_set_id=row.stack_set_id,
        numbers=None if row.numbers is None else from_plain(row.numbers),
        verdict=None if row.advice is None else BondVerdict(advice=row.advice, reason=row.advice_reason or ""),  # type: ignore[arg-type]
        decision=row.decision,  # type: ignore[arg-type]
        made=signature(row),
        decided=later_signature(row.decided_by, row.decided_at, row.decided_reason),
        undone=later_signature(row.undone_by, row.undone_at, row.undone_reason),
        undone_by_method=row.undone_by_method,
        version=row.version,
    )


def route(row: models.Route) -> RecordedRoute:
    """A route."""
    return RecordedRoute(
        route_id=row.pk,
        order_id=row.order.order_id,
        plan=from_plain(row.plan),
        chosen=row.chosen,
        version=row.version,
        signature=signature(row),
    )


def stage(row: models.Stage) -> RecordedStage:
    """A stage of a wafer."""
    return RecordedStage(
        stage_id=row.pk,
        wafer_id=row.wafer.wafer_id,
        number=row.number,
        stage=from_plain(row.planned),
        state=row.state,  # type: ignore[arg-type]
        set_id=row.set_id,
        started=row.started_at,
        ended=row.ended_at,
        version=row.version,
        signature=signature(row),
    )


def zero(row: models.Zero) -> RecordedZero:
    """A zero of a jig's gauge."""
    return RecordedZero(
        zero_id=row.pk,
        wafer_id=row.wafer.wafer_id,
        station_id=row.station.station_id,
        plate=row.plate,
        abrasive=row.abrasive,
        jig_id=row.jig.jig_id,
        texts=tuple(row.texts),
        unit=row.unit,
        values=tuple(row.values_m),
        spread=row.spread_m,
        limit=row.limit_m,
        accepted=row.accepted,
        reason=row.verdict,
        void=row.void,
        signature=signature(row),
    )


def run(row: models.Run) -> RecordedRun:
    """A run."""
    return RecordedRun(
        run_id=row.pk,
        stage_id=row.stage_id,
        wafer_id=row.wafer.wafer_id,
        station_id=row.station.station_id,
        plate=row.plate,
        abrasive=row.abrasive,
        jig_id=None if row.jig is None else row.jig.jig_id,
        zero_id=row.zero_id,
        load=row.load_n,
        pressure=row.pressure_pa,
        plate_speed=row.plate_speed_rad_per_s,
        preset=row.preset_m,
        preset_datum=row.preset_datum,  # type: ignore[arg-type]
        started=row.at,
        ended=row.ended_at,
        gauge_removal=row.gauge_removal_m,
        gauge_removal_text=row.gauge_removal_text,
        stop_reason=row.stop_reason,
        started_by=signature(row),
        ended_by=later_signature(row.ended_by, row.ended_at, row.ended_reason),
        version=row.version,
        step=row.step,  # type: ignore[arg-type]
        time=row.time_s,
        expected=tuple((time, removal) for time, removal in row.expected_s_m),
        with_run=row.with_run_id,
    )


def weighing(row: models.Weighing) -> RecordedWeighing:
    """A mass."""
    return RecordedWeighing(
        weighing_id=row.pk,
        wafer_id=row.wafer.wafer_id,
        pieces=tuple(row.pieces),
        text=row.text,
        mass=row.mass_kg,
        uncertainty=row.uncertainty_kg,
        balance=row.balance,
        void=row.void,
        signature=signature(row),
    )


def verdict(row: models.Verdict) -> RecordedVerdict:
    """A verdict."""
    return RecordedVerdict(
        verdict_id=row.pk,
        wafer_id=row.wafer.wafer_id,
        verdict=from_plain(row.judged),
        set_id=row.set_id,
        finding_id=row.finding_id,
        signature=signature(row),
    )


def decision(row: models.OddDecision) -> RecordedDecision:
    """A decision about a wafer that does not keep its limits."""
    return RecordedDecision(
        decision_id=row.pk,
        wafer_id=row.wafer.wafer_id,
        choice=row.choice,  # type: ignore[arg-type]
        failed=tuple(row.failed),
        signature=signature(row),
    )


def document(row: models.Document) -> RecordedDocument:
    """A kept file."""
    return RecordedDocument(
        document_id=row.pk,
        kind=row.kind,  # type: ignore[arg-type]
        order_id=row.order.order_id,
        wafer_id=None if row.wafer is None else row.wafer.wafer_id,
        name=row.name,
        path=row.path,
        sha256=row.sha256,
        size=row.size,
        signature=signature(row),
    )


def note(row: models.Note) -> RecordedNote:
    """A note."""
    return RecordedNote(
        note_id=row.pk,
        kind=row.kind,  # type: ignore[arg-type]
        order_id=row.order.order_id,
        wafer_id=None if row.wafer is None else row.wafer.wafer_id,
        stage_id=row.stage_id,
        text=row.text,
        signature=signature(row),
    )
