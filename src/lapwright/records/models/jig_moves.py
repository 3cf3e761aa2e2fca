"""What was turned at the jigs."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly
from lapwright.records.models.orders import Wafer
from lapwright.records.models.shelf import Jig


class JigMove(AppendOnly):
    """One move of a jig's screws, or the correction of one noted wrong."""

    jig = models.ForeignKey(Jig, on_delete=models.PROTECT, related_name="moves")
    wafer = models.ForeignKey(Wafer, null=True, on_delete=models.PROTECT, related_name="jig_moves")
    turns = models.JSONField()
    corrects = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="corrected_by")

    class Meta:
        ordering = ["at", "pk"]
