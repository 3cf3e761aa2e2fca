"""Reading in brief what was done on an order: what its answer in JSON and its listing tell."""

from __future__ import annotations

from typing import Any

from django.db.models import Count, QuerySet
from django.db.models.fields.json import KT

from lapwright.model.story import OrderBrief, SetBrief, WaferBrief
from lapwright.records import models, queries, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated
from lapwright.records.of_wafers import OfWafers, grouped

_SET = (
    "pk", "wafer_id", "piece", "subject", "moment", "gauge__gauge_id", "repeats", "conditions",
    "state", "void_reason", "source", "by", "at", "reason", "closed_by", "closed_at", "closed_reason", "version",
)  # fmt: skip


def order_brief(order_id: str) -> OrderBrief:
    """What was done on an order."""
    with translated():
        row = queries.find(queries.orders_with_wafers(), "order_id", order_id)
        chosen = row.routes.filter(chosen=True).annotate(name=KT("plan__name")).values_list("name", flat=True)
        return OrderBrief(
            order=rows.order(row),
            wafers=_briefs(list(row.wafers.all())),
            route=chosen.first(),
            notes=tuple(rows.note(item) for item in queries.note_rows().filter(order=row, wafer=None)),
            documents=tuple(rows.document(item) for item in queries.document_rows().filter(order=row, wafer=None)),
        )


# ----------------------------------------------------------------------------------------------------------------------


def _briefs(wafers: list[models.Wafer]) -> tuple[WaferBrief, ...]:
    of = OfWafers(wafers)
    groups: dict[str, dict[int, tuple[Any, ...]]] = {
        "sets": _sets(models.ReadingSet.objects.filter(of.mine)),
        "bonds": of.bonds(),
        "stages": of.told(queries.stage_rows(), rows.stage),
        "runs": of.told(queries.run_rows(), rows.run, "station", "jig"),
        "findings": of.told(models.Finding.objects.order_by("pk"), rows.finding, "gauge"),
        "verdicts": of.told(queries.verdict_rows(), rows.verdict),
        "notes": of.told(queries.note_rows(), rows.note, "order"),
    }
    return tuple(
        WaferBrief(wafer=rows.wafer(row), **{name: group.get(row.pk, ()) for name, group in groups.items()})
        for row in wafers
    )


def _sets(found: QuerySet[models.ReadingSet]) -> dict[int, tuple[SetBrief, ...]]:
    """By wafer its sets, the earliest opened first."""
    named = found.annotate(pattern_name=KT("pattern__name")).order_by("at", "pk")  # as text, also where it is a number
    listed = list(named.values_list(*_SET, "pattern_name", named=True))
    standing = models.Reading.objects.filter(set_id__in=[row.pk for row in listed], kind="site", corrected_by=None)
    counted = dict(standing.order_by().values_list("set_id").annotate(count=Count("pk")))
    return grouped((row.wafer_id, _set_brief(row, counted.get(row.pk, 0))) for row in listed)


def _set_brief(row: Any, n_readings: int) -> SetBrief:
    return SetBrief(
        set_id=row.pk,
        piece=row.piece,
        subject=row.subject,
        moment=row.moment,
        gauge_id=row.gauge__gauge_id,
        pattern=row.pattern_name,
        repeats=row.repeats,
        conditions=from_plain(row.conditions),
        state=row.state,
        void_reason=row.void_reason,
        source=row.source,
        n_readings=n_readings,
        opened=rows.signature(row),
        closed=rows.later_signature(row.closed_by, row.closed_at, row.closed_reason),
        version=row.version,
    )
