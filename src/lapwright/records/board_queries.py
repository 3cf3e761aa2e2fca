"""Reading what the Board keeps."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import Max

from lapwright.model.board import BoardFacts, BoardPlace, OrderRanks, RecordedPlan, ShopHours, ShopTimes
from lapwright.model.order import Order
from lapwright.records import models, queries, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated

PLACE = "place "


def facts() -> BoardFacts:
    """All settings of the Board."""
    with translated():
        read = list(models.BoardSetting.objects.order_by("key"))
    known: dict[str, Any] = {row.key: from_plain(row.definition) for row in read}
    hours, times, ranks = (known.get(key) for key in ("hours", "times", "ranks"))
    return BoardFacts(
        places=tuple(one for key, one in known.items() if key.startswith(PLACE) and isinstance(one, BoardPlace)),
        hours=hours if isinstance(hours, ShopHours) else None,
        times=times if isinstance(times, ShopTimes) else None,
        ranks=ranks if isinstance(ranks, OrderRanks) else OrderRanks(),
        since=max((row.at for row in read), default=None),
    )


def plan_in_force() -> RecordedPlan | None:
    """The schedule accepted last; None while there is none."""
    with translated():
        row = models.BoardPlan.objects.order_by("-pk").first()
        return (
            None
            if row is None
            else RecordedPlan(plan_id=row.pk, plan=from_plain(row.plan), signature=rows.signature(row))
        )


def last_load(station_id: str) -> tuple[str | None, str | None, Order] | None:
    """Plate and abrasive of the last run begun on a station, and the order it was for; None before the first."""
    with translated():
        found = models.Run.objects.filter(station__station_id=station_id).select_related("wafer__order")
        row = found.order_by("-at", "-pk").first()
        return None if row is None else (row.plate, row.abrasive, from_plain(row.wafer.order.definition))


def last_event() -> datetime | None:
    """When a wafer was last moved a step, or an order received; None before the first."""
    with translated():
        found = [table.objects.aggregate(last=Max("at"))["last"] for table in (models.WaferEvent, models.Order)]
        return max((one for one in found if one is not None), default=None)


def are_all_going_simulated() -> bool:
    """Whether there are orders that go on, and all of them are invented."""
    with translated():
        found = models.Wafer.objects.filter(state__in=queries.GOING)
        return not found.filter(order__simulated=False).exists() and found.exists()
