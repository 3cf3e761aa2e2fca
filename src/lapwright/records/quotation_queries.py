"""Reading quotations."""

from __future__ import annotations

from lapwright.model.quotation import RecordedQuotation
from lapwright.records import models, queries, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated


def quotations(order_id: str) -> tuple[RecordedQuotation, ...]:
    """All quotations of an order, the earliest first; `NotFound` for an unknown order."""
    with translated():
        row = queries.find(models.Order.objects.all(), "order_id", order_id, what="order")
        found = models.Quotation.objects.filter(order=row).order_by("version")
        return tuple(
            RecordedQuotation(quotation=from_plain(one.quotation), signature=rows.signature(one)) for one in found
        )


def finished_wafers(material: str) -> tuple[tuple[str, ...], int]:
    """Wafers of a material that were judged or certified, by name, and how many were rejected, in all orders."""
    with translated():
        mine = models.Wafer.objects.filter(order__material=material)
        over = tuple(mine.filter(state__in=("judged", "certified")).values_list("wafer_id", flat=True))
        return over, mine.filter(state="rejected").count()
