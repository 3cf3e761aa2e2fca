"""Writing readings sets, readings and other findings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from lapwright.errors import Conflict
from lapwright.model.job import ReadingKind, RecordedFinding, RecordedReading, RecordedSet
from lapwright.model.readings import Conditions, Reading, Signature
from lapwright.model.request import FindingRequest, SetRequest
from lapwright.model.wafer import SitePattern
from lapwright.records import models, queries, rows
from lapwright.records.coding import to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.plain_text import need_plain_text
from lapwright.records.writer.base import add, change, locked, signed


@dataclass(frozen=True, slots=True, kw_only=True)
class NewSet:
    """A set to be written: as asked for, with its sites, and the file it came from if it came from one."""

    request: SetRequest
    pattern: SitePattern
    stage_id: int | None = None
    source: str | None = None
    source_sha256: str | None = None
    gauge_flag: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NewReading:
    """A reading to be written, with the question it was kept against."""

    reading: Reading
    kind: ReadingKind
    question: str | None = None


def add_set(new: NewSet, signature: Signature) -> RecordedSet:
    """A new open set of readings."""
    with one_transaction():
        request = new.request
        piece = _piece_columns(request)
        open_already = models.ReadingSet.objects.filter(
            piece=request.piece, subject=request.subject, moment=request.moment, state="open"
        ).first()
        if open_already is not None:
            raise Conflict(
                f"A set of {request.subject} {request.piece!r} is open already (number {open_already.pk}, opened by"
                f" {open_already.by}). Go on with it, or void it.",
                set_id=open_already.pk,
            )
        row = add(
            models.ReadingSet,
            signature,
            subject=request.subject,
            moment=request.moment,
            piece=request.piece,
            stage_id=new.stage_id,
            gauge=queries.find(models.Gauge.objects.all(), "gauge_id", request.gauge_id),
            pattern=to_plain(new.pattern),
            repeats=request.repeats,
            unit=request.unit,
            conditions=to_plain(request.conditions),
            zero_wanted=request.zero,
            state="open",
            source=new.source,
            source_sha256=new.source_sha256,
            gauge_flag=new.gauge_flag,
            **piece,
        )
        return queries.reading_set(row.pk)


def add_reading(set_id: int, new: NewReading, signature: Signature, *, after: int | None = None) -> RecordedReading:
    """A new reading of an open set; with `corrects` set, a correction.

    `after` says how many readings the asker saw there. Raises `Conflict` when it holds others by now.
    """
    with one_transaction():
        row = locked(models.ReadingSet, pk=set_id)
        _need_open(row)
        taken = row.readings.count()
        if after not in (None, taken):
            raise Conflict(
                f"The set {set_id} of {row.piece!r} held {after} readings when you looked, and holds {taken} now."
                " Nothing was recorded. Look which site is next.",
                found=taken,
                given=after,
            )
        if new.reading.corrects is not None:
            _need_uncorrected(row, new.reading.corrects)
        written = add(models.Reading, signature, sequence=taken + 1, **_reading_columns(row, new))
        return rows.reading(written, None)


def close_set(set_id: int, conditions: Conditions, signature: Signature, *, version: int | None = None) -> RecordedSet:
    """The end of a set, with its conditions as they turned out."""
    with one_transaction():
        row = locked(models.ReadingSet, pk=set_id)
        _need_open(row)
        change(
            row,
            signature,
            version=version,
            state="closed",
            conditions=to_plain(conditions),
            closed_by=signature.by,
            closed_reason=signature.reason,
            closed_at=signature.at,
        )
        return queries.reading_set(set_id)


def void_set(set_id: int, signature: Signature, *, version: int | None = None) -> RecordedSet:
    """The end of trust in a set."""
    with one_transaction():
        row = locked(models.ReadingSet, pk=set_id)
        if row.state == "void":
            raise Conflict(f"The set {set_id} is void already: {row.void_reason}")
        change(row, signature, version=version, state="void", void_reason=signature.reason)
        return queries.reading_set(set_id)


def import_sets(sets: Sequence[tuple[NewSet, Sequence[NewReading]]], signature: Signature) -> tuple[RecordedSet, ...]:
    """Many sets with their readings, closed, all or none."""
    with one_transaction():
        return tuple(_import_set(new, readings, signature) for new, readings in sets)


def add_finding(request: FindingRequest, value: float, unit: str, signature: Signature) -> RecordedFinding:
    """A new finding."""
    with one_transaction():
        gauges = models.Gauge.objects.all()
        return rows.finding(
            add(
                models.Finding,
                signature,
                wafer=queries.find(models.Wafer.objects.all(), "wafer_id", request.wafer_id),
                quantity=request.quantity,
                value_m=value,
                expanded_uncertainty_m=request.expanded_uncertainty,
                text=request.text,
                unit=unit,
                gauge=None if request.gauge_id is None else queries.find(gauges, "gauge_id", request.gauge_id),
                method=request.method,
                moment=request.moment,
                surface_id=request.surface_id,
            )
        )


# ----------------------------------------------------------------------------------------------------------------------


def _import_set(new: NewSet, readings: Sequence[NewReading], signature: Signature) -> RecordedSet:
    opened = add_set(new, signature)
    row = locked(models.ReadingSet, pk=opened.set_id)
    columns = signed(signature)
    need_plain_text((new.reading.site or "zero", new.reading.text) for new in readings)
    models.Reading.objects.bulk_create(
        [
            models.Reading(sequence=number, **_reading_columns(row, reading), **columns)
            for number, reading in enumerate(readings, start=1)
        ],
        batch_size=5000,
    )
    return close_set(opened.set_id, new.request.conditions, signature)


def _piece_columns(request: SetRequest) -> dict[str, Any]:
    if request.subject == "carrier":
        carrier = queries.find(models.Carrier.objects.all(), "carrier_id", request.piece)
        if request.order_id is None:
            return {"carrier": carrier}
        return {"carrier": carrier, "order": queries.find(models.Order.objects.all(), "order_id", request.order_id)}
    wafer = queries.find(models.Wafer.objects.select_related("order"), "wafer_id", request.piece)
    return {"wafer": wafer, "order": wafer.order}


def _reading_columns(row: models.ReadingSet, new: NewReading) -> dict[str, Any]:
    reading = new.reading
    return {
        "set": row,
        "kind": new.kind,
        "site": reading.site,
        "x_m": reading.x,
        "y_m": reading.y,
        "repeat": reading.repeat,
        "text": reading.text,
        "unit": reading.unit,
        "value_m": None if math.isnan(reading.thickness) else reading.thickness,
        "corrects_id": reading.corrects,
        "question": new.question,
    }


def _need_open(row: models.ReadingSet) -> None:
    if row.state != "open":
        raise Conflict(f"The set {row.pk} of {row.piece!r} is {row.state}; nothing is added to it. Open a new set.")


def _need_uncorrected(row: models.ReadingSet, reading_id: int) -> None:
    old = queries.find(row.readings.all(), "pk", reading_id, what="reading in this set")
    later = row.readings.filter(corrects=old).first()
    if later is not None:
        raise Conflict(
            f"The reading {old.text} was corrected already, by {later.by}, to {later.text}. Correct that one instead.",
            corrected_by=later.pk,
        )
