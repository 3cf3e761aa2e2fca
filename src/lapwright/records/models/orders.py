"""Orders, lots and wafers. `definition` holds the value of `model` whole, in SI; other columns serve searching."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly, Versioned


class Order(Versioned):
    """An order."""

    order_id = models.CharField(max_length=60, unique=True)
    customer = models.CharField(max_length=200)
    material = models.CharField(max_length=100)
    quantity = models.PositiveIntegerField()
    due = models.DateField(null=True, db_index=True)
    simulated = models.BooleanField(default=False)
    definition = models.JSONField()


class Lot(Versioned):
    """Wafers that came together."""

    lot_id = models.CharField(max_length=60, unique=True)
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="lots")


class Wafer(Versioned):
    """A wafer and where it stands."""

    wafer_id = models.CharField(max_length=60, unique=True)
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="wafers")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="wafers")
    position = models.PositiveIntegerField()
    definition = models.JSONField()
    state = models.CharField(max_length=20, db_index=True)
    since = models.DateTimeField()
    bond = models.ForeignKey("records.Bond", null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["order_id", "position"]


class WaferEvent(AppendOnly):
    """A wafer's step from state to state."""

    wafer = models.ForeignKey(Wafer, on_delete=models.PROTECT, related_name="events")
    before = models.CharField(max_length=20)
    after = models.CharField(max_length=20)

    class Meta:
        ordering = ["pk"]
