"""Writing what the Board keeps."""

from __future__ import annotations

from lapwright.errors import Conflict
from lapwright.model.board import BoardPlace, BoardPlan, OrderRanks, ShopHours, ShopTimes
from lapwright.model.readings import Signature
from lapwright.records import models
from lapwright.records.board_queries import PLACE
from lapwright.records.coding import to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add, change, locked


def put_board_setting(setting: BoardPlace | ShopHours | ShopTimes | OrderRanks, signature: Signature) -> None:
    """A place, the hours, the times or the ranks, new or changed."""
    if isinstance(setting, BoardPlace):
        key = PLACE + setting.place_id
    else:
        key = {ShopHours: "hours", ShopTimes: "times", OrderRanks: "ranks"}[type(setting)]
    definition = to_plain(setting)
    with one_transaction():
        if not models.BoardSetting.objects.filter(key=key).exists():
            add(models.BoardSetting, signature, key=key, definition=definition)
            return
        row = locked(models.BoardSetting, key=key)
        if row.definition != definition:
            change(row, signature, definition=definition)


def add_board_plan(plan: BoardPlan, signature: Signature, *, after: int | None) -> int:
    """A schedule accepted; its number. `after` is the one in force that was seen, None for none."""
    with one_transaction():
        latest = models.BoardPlan.objects.order_by("-pk").values_list("pk", flat=True).first()
        if latest != after:
            raise Conflict(
                "Another schedule was accepted in the meantime. Look at the Board again; nothing was overwritten."
            )
        return add(models.BoardPlan, signature, plan=to_plain(plan)).pk
