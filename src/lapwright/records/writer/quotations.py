"""Writing quotations."""

from __future__ import annotations

from lapwright.errors import Conflict
from lapwright.model.quotation import Quotation
from lapwright.model.readings import Signature
from lapwright.records import models, queries
from lapwright.records.coding import to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add


def add_quotation(quotation: Quotation, signature: Signature) -> None:
    """A quotation of the version it names. Raises `Conflict` when another one was made meanwhile."""
    with one_transaction():
        order = queries.find(models.Order.objects.all(), "order_id", quotation.order_id, what="order")
        held = models.Quotation.objects.filter(order=order).count()
        if quotation.version != held + 1:
            raise Conflict(
                f"Order {quotation.order_id!r} was quoted by someone else meanwhile: {held} quotations stand."
                " Look at the latest, then quote anew.",
                found=held,
                given=quotation.version - 1,
            )
        add(models.Quotation, signature, order=order, version=quotation.version, quotation=to_plain(quotation))
