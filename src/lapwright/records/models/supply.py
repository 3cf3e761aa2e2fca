"""What is used up, by lot."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly, Versioned


class SupplyLot(Versioned):
    """A lot of slurry, abrasive, adhesive, solvent or pads."""

    lot_id = models.CharField(max_length=60, unique=True)
    item = models.CharField(max_length=100, db_index=True)
    definition = models.JSONField()


class SupplyUse(AppendOnly):
    """Something taken of a lot by hand, thrown away, or counted."""

    lot = models.ForeignKey(SupplyLot, on_delete=models.PROTECT, related_name="uses")
    kind = models.CharField(max_length=10)
    amount = models.FloatField()

    class Meta:
        ordering = ["at", "pk"]
