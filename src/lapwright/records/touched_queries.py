"""Reading all that rests on what a gauge measured: sets, faces, findings, wafers, verdicts and certificates."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import datetime
from typing import Any

from django.db.models import F, Q, QuerySet

from lapwright.model.gauge_care import Touched, TouchedDocument, TouchedSet, TouchedVerdict
from lapwright.records import models, rows
from lapwright.records.faults import translated
from lapwright.records.queries import find

MOST_ASKED = 5000  # rows asked for at once


def touched(gauge_id: str, *, since: datetime | None, until: datetime | None, why: str) -> Touched:
    """All that rests on what a gauge measured from a moment to another; None leaves that end open."""
    with translated():
        gauge = find(models.Gauge.objects.all(), "gauge_id", gauge_id)
        later = Q() if since is None else Q(at__gte=since)
        begun = Q() if until is None else Q(at__lt=until)
        sets = _sets_touched(gauge.pk, since, begun)
        surfaces = list(models.Surface.objects.filter(later, begun, gauge=gauge).order_by("pk"))
        findings = _by_key(
            models.Finding.objects.filter(later, begun, gauge=gauge),
            *_of(models.Finding.objects.filter(later, begun), surface=surfaces),
        )
        verdicts = _by_key(
            *_of(rows.named(models.Verdict.objects, "wafer", "wafer__order"), set=sets, finding=findings)
        )
        wafer_keys = {row.wafer_id for row in sets if row.wafer_id is not None}
        wafer_keys |= {row.wafer_id for row in (*surfaces, *findings)}
        bonds = _of(models.Bond.objects.only("wafer_id"), wafer_set=sets, carrier_set=sets, stack_set=sets)
        wafer_keys |= {row.wafer_id for some in bonds for row in some}
        wafers = _by_key(*_of(rows.named(models.Wafer.objects, "order").defer("definition"), pk=wafer_keys))
        documents = _certificates(wafers, later)
        return Touched(
            gauge_id=gauge_id,
            since=since,
            until=until,
            why=why,
            sets=tuple(_touched_set(row) for row in sets),
            surface_ids=tuple(row.pk for row in surfaces),
            finding_ids=tuple(row.pk for row in findings),
            wafers=tuple((row.wafer_id, row.order.order_id) for row in sorted(wafers, key=lambda row: row.wafer_id)),
            verdicts=tuple(_touched_verdict(row) for row in verdicts),
            certificates=tuple(_touched_document(row) for row in documents),
        )


# ----------------------------------------------------------------------------------------------------------------------


def _sets_touched(gauge: int, since: datetime | None, begun: Q) -> list[models.ReadingSet]:
    """The sets read with a gauge that were taken or closed since a moment, the earliest first.

    Of those opened before, only what was closed since is looked at: reckoned with, so that SQLite seeks by the closing
    and does not go through all sets of the gauge.
    """
    taken = rows.named(models.ReadingSet.objects.filter(begun), "order", "wafer")
    if since is None:
        found = list(taken.filter(gauge=gauge))
    else:
        closed = taken.annotate(read_with=F("gauge_id") + 0).filter(closed_at__gte=since, at__lt=since)
        found = [*taken.filter(gauge=gauge, at__gte=since), *closed.filter(read_with=gauge)]
    return sorted(found, key=lambda row: (row.at, row.pk))


def _of(found: QuerySet[Any], **keys: Collection[Any]) -> Iterator[QuerySet[Any]]:
    """Rows that point at any of some others, by the name of what points: field by field, and some at a time.

    Asked for at once SQLite goes through the whole table, and refuses more than it takes as variables.
    """
    for name, asked in keys.items():
        listed = [one if isinstance(one, int) else one.pk for one in asked]
        for first in range(0, len(listed), MOST_ASKED):
            yield found.filter(**{f"{name}__in": listed[first : first + MOST_ASKED]})


def _by_key(*found: QuerySet[Any]) -> list[Any]:
    """Rows, each once, in the order they were written."""
    told = {row.pk: row for some in found for row in some}
    return [told[key] for key in sorted(told)]


def _certificates(wafers: list[models.Wafer], later: Q) -> list[models.Document]:
    """Certificates issued since then for one of the wafers, or for an order of one of them as a whole."""
    issued = rows.named(models.Document.objects, "order", "wafer").filter(later, kind__startswith="certificate")
    orders = {row.order_id for row in wafers}
    return _by_key(*_of(issued, wafer=wafers), *_of(issued.filter(wafer=None), order=orders))


def _touched_set(row: models.ReadingSet) -> TouchedSet:
    return TouchedSet(
        set_id=row.pk,
        piece=row.piece,
        order_id=None if row.order is None else row.order.order_id,
        moment=row.moment,
        at=row.at,
        state=row.state,
    )


def _touched_verdict(row: models.Verdict) -> TouchedVerdict:
    return TouchedVerdict(
        verdict_id=row.pk,
        wafer_id=row.wafer.wafer_id,
        order_id=row.wafer.order.order_id,
        quantity=row.quantity,
        outcome=row.outcome,
        at=row.at,
    )


def _touched_document(row: models.Document) -> TouchedDocument:
    return TouchedDocument(
        document_id=row.pk,
        order_id=row.order.order_id,
        wafer_id=None if row.wafer is None else row.wafer.wafer_id,
        kind=row.kind,
        name=row.name,
        at=row.at,
    )
