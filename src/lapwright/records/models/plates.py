"""Lapping plates and their history."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly, Versioned


class Plate(Versioned):
    """A lapping plate with its ring."""

    plate_id = models.CharField(max_length=60, unique=True)
    definition = models.JSONField()


class PlateEntry(AppendOnly):
    """A check of a plate, its ring set to a place, or the plate dressed."""

    plate = models.ForeignKey(Plate, on_delete=models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=10)
    ran_s = models.FloatField()
    entry = models.JSONField()
    corrects = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="corrected_by")

    class Meta:
        ordering = ["at", "pk"]
