"""Reading lots of what is used up."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from lapwright.model.job import RecordedBond
from lapwright.model.plan import Stage
from lapwright.model.supply import RecordedLot, RecordedUse, RunTime
from lapwright.records import models, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated
from lapwright.records.queries import bond_rows, find


def lots() -> tuple[RecordedLot, ...]:
    """All lots with their uses, by item and arrival."""
    with translated():
        return tuple(_lot(row) for row in _lots().order_by("item", "at", "pk"))


def lot(lot_id: str) -> RecordedLot:
    """One lot."""
    with translated():
        return _lot(find(_lots(), "lot_id", lot_id, what="lot"))


def bonds_with_lots() -> tuple[RecordedBond, ...]:
    """Bonds whose adhesive's lot is named, the earliest first."""
    with translated():
        return tuple(rows.bond(row) for row in bond_rows().exclude(adhesive_lot="").order_by("pk"))


def run_times(since: datetime) -> tuple[RunTime, ...]:
    """Runs with an abrasive begun since a moment that are over, the earliest first; of pieces together the first's."""
    with translated():
        found = (
            models.Run.objects.exclude(ended_at=None)
            .exclude(abrasive=None)
            .filter(with_run=None, at__gte=since)
            .order_by("at", "pk")
            .values_list(
                "pk", "wafer__order__order_id", "wafer__wafer_id", "station__station_id", "at", "ended_at", "abrasive",
                "time_s", "stream__end__after_s",
            )
        )  # fmt: skip
        return tuple(
            RunTime(
                run_id=pk,
                order_id=order_id,
                wafer_id=wafer_id,
                station_id=station_id,
                started=at,
                abrasive=abrasive or "",
                cut_time=after or time or ((ended or at) - at).total_seconds(),
            )
            for pk, order_id, wafer_id, station_id, at, ended, abrasive, time, after in found
        )


def waiting_stages() -> tuple[Stage, ...]:
    """Planned stages that wait, of wafers in work."""
    with translated():
        found = models.Stage.objects.filter(state="waiting", wafer__state__in=("ready", "in_work"))
        return tuple(from_plain(plain) for plain in found.values_list("planned", flat=True))


# ----------------------------------------------------------------------------------------------------------------------


def _lots() -> QuerySet[Any]:
    return models.SupplyLot.objects.prefetch_related("uses")


def _lot(row: models.SupplyLot) -> RecordedLot:
    return RecordedLot(
        lot=from_plain(row.definition),
        uses=tuple(
            RecordedUse(
                use_id=one.pk,
                lot_id=row.lot_id,
                kind=one.kind,
                amount=one.amount,
                signature=rows.signature(one),
            )
            for one in row.uses.all()
        ),
        version=row.version,
        signature=rows.signature(row),
    )
