"""Quotations, version by version."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly
from lapwright.records.models.orders import Order


class Quotation(AppendOnly):
    """What was offered for an order; the latest version holds."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="quotations")
    version = models.PositiveIntegerField()
    quotation = models.JSONField()

    class Meta:
        ordering = ["order_id", "version"]
        constraints = [models.UniqueConstraint(fields=["order", "version"], name="one_quotation_of_a_version")]
