"""Reading what the Board keeps."""

from __future__ import annotations

from typing import Any

from lapwright.model.board import BoardFacts, BoardPlace, OrderRanks, RecordedPlan, ShopHours, ShopTimes
from lapwright.records import models, rows
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
