"""Sets of readings, readings, and other findings."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly, Versioned
from lapwright.records.models.orders import Order, Wafer
from lapwright.records.models.shelf import Carrier, Gauge


class ReadingSet(Versioned):
    """A set of readings of one piece. The signature is that of its opening."""

    subject = models.CharField(max_length=10)
    moment = models.CharField(max_length=20)
    piece = models.CharField(max_length=60, db_index=True)
    order = models.ForeignKey(Order, null=True, on_delete=models.PROTECT, related_name="sets")
    wafer = models.ForeignKey(Wafer, null=True, on_delete=models.PROTECT, related_name="sets")
    carrier = models.ForeignKey(Carrier, null=True, on_delete=models.PROTECT, related_name="sets")
    stage = models.ForeignKey("records.Stage", null=True, on_delete=models.PROTECT, related_name="sets")
    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="sets")
    pattern = models.JSONField()
    repeats = models.PositiveIntegerField()
    unit = models.CharField(max_length=10)
    conditions = models.JSONField()
    zero_wanted = models.BooleanField()
    state = models.CharField(max_length=10, db_index=True)
    void_reason = models.TextField(null=True)
    source = models.TextField(null=True)
    source_sha256 = models.CharField(max_length=64, null=True, db_index=True)
    closed_by = models.CharField(max_length=150, null=True)
    closed_reason = models.TextField(null=True)
    closed_at = models.DateTimeField(null=True)
    gauge_flag = models.TextField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["piece", "subject", "moment"],
                condition=models.Q(state="open"),
                name="one_open_set_per_piece_and_moment",
            ),
        ]
        indexes = [
            models.Index(fields=["gauge", "at"], name="sets_of_a_gauge_by_time"),
            models.Index(fields=["closed_at", "subject", "state"], name="sets_by_closing"),
        ]


class Reading(AppendOnly):
    """A reading as entered: the text, its unit, and what it means in metres (null: the site could not be read)."""

    set = models.ForeignKey(ReadingSet, on_delete=models.PROTECT, related_name="readings")
    sequence = models.PositiveIntegerField()
    kind = models.CharField(max_length=12)
    site = models.CharField(max_length=20, blank=True)
    x_m = models.FloatField()
    y_m = models.FloatField()
    repeat = models.PositiveIntegerField()
    text = models.CharField(max_length=60)
    unit = models.CharField(max_length=10)
    value_m = models.FloatField(null=True)
    corrects = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="corrected_by")
    question = models.TextField(null=True)

    class Meta:
        ordering = ["set_id", "sequence"]
        constraints = [
            models.UniqueConstraint(fields=["set", "sequence"], name="one_reading_per_place_in_a_set"),
        ]


class Finding(AppendOnly):
    """A quantity measured otherwise than by a set: roughness, flatness, bow."""

    wafer = models.ForeignKey(Wafer, on_delete=models.PROTECT, related_name="findings")
    quantity = models.CharField(max_length=20)
    value_m = models.FloatField()
    expanded_uncertainty_m = models.FloatField(null=True)
    text = models.CharField(max_length=60)
    unit = models.CharField(max_length=10)
    gauge = models.ForeignKey(Gauge, null=True, on_delete=models.PROTECT, related_name="findings")
    method = models.TextField()
    moment = models.CharField(max_length=20)
    surface = models.ForeignKey("records.Surface", null=True, on_delete=models.PROTECT, related_name="findings")

    class Meta:
        indexes = [models.Index(fields=["at"], name="findings_by_time")]
