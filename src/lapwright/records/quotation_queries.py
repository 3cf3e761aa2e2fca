"""Reading quotations."""

from __future__ import annotations

from django.db.models import Exists, OuterRef

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


def finished_wafers(material: str) -> tuple[int, int]:
    """Wafers of a material that were judged or certified and keep their limits, and those that do not or were rejected.

    A wafer keeps its limits when the latest verdict on each of them conforms. In all orders.
    """
    with translated():
        mine = models.Wafer.objects.filter(order__material=material)
        over = mine.filter(state__in=("judged", "certified"))
        same = models.Verdict.objects.filter(wafer=OuterRef("wafer"), quantity=OuterRef("quantity"))
        later = same.filter(pk__gt=OuterRef("pk"))
        bad = models.Verdict.objects.exclude(outcome="conforms").filter(~Exists(later)).order_by()
        failed = over.filter(pk__in=bad.values("wafer")).count()
        return over.count() - failed, mine.filter(state="rejected").count() + failed
