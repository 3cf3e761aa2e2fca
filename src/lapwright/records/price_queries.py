"""Reading the price list."""

from __future__ import annotations

from lapwright.model.prices import RecordedPrices
from lapwright.records import models, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated


def latest_prices() -> RecordedPrices | None:
    """The version that holds; None while none is recorded."""
    with translated():
        row = models.PriceList.objects.order_by("-number").first()
        return None if row is None else _prices(row)


def price_versions() -> tuple[RecordedPrices, ...]:
    """All versions, the earliest first."""
    with translated():
        return tuple(_prices(row) for row in models.PriceList.objects.order_by("number"))


# ----------------------------------------------------------------------------------------------------------------------


def _prices(row: models.PriceList) -> RecordedPrices:
    return RecordedPrices(number=row.number, prices=from_plain(row.prices), signature=rows.signature(row))
