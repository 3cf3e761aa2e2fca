"""Writing the price list."""

from __future__ import annotations

from lapwright.errors import Conflict
from lapwright.model.prices import PriceList
from lapwright.model.readings import Signature
from lapwright.records import models
from lapwright.records.coding import to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add


def add_price_list(prices: PriceList, signature: Signature, *, after: int | None = None) -> int:
    """A new version; its number. `after` is the latest that the writer saw, 0 for none."""
    with one_transaction():
        latest = models.PriceList.objects.order_by("-number").first()
        number = 0 if latest is None else latest.number
        if after is not None and after != number:
            raise Conflict(
                f"The prices were changed by someone else: you saw version {after}, it is now {number}."
                " Look at them again; nothing was overwritten.",
                found=number,
                given=after,
            )
        return add(models.PriceList, signature, number=number + 1, prices=to_plain(prices)).number
