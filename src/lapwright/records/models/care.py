"""Check standards, checks of gauges, gauge studies."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly, Versioned
from lapwright.records.models.shelf import Gauge


class CheckStandard(Versioned):
    """A piece read again and again to see whether a gauge stays what it was."""

    standard_id = models.CharField(max_length=60, unique=True)
    definition = models.JSONField()


class GaugeCheck(AppendOnly):
    """A reading of a check standard, or of the zero when no standard is named."""

    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="checks")
    standard = models.ForeignKey(CheckStandard, null=True, on_delete=models.PROTECT, related_name="checks")
    text = models.CharField(max_length=60)
    unit = models.CharField(max_length=10)
    value_m = models.FloatField()

    class Meta:
        ordering = ["at", "pk"]


class GaugeStudy(Versioned):
    """A study of a gauge: the plan with its sheet whole, and the figures it was filed with."""

    study_id = models.CharField(max_length=60, unique=True)
    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="studies")
    plan = models.JSONField()
    state = models.CharField(max_length=10, db_index=True)
    figures = models.JSONField(null=True)
    filed_by = models.CharField(max_length=150, null=True)
    filed_reason = models.TextField(null=True)
    filed_at = models.DateTimeField(null=True)


class StudyReading(AppendOnly):
    """A reading of a study as entered."""

    study = models.ForeignKey(GaugeStudy, on_delete=models.PROTECT, related_name="readings")
    line = models.PositiveIntegerField()
    text = models.CharField(max_length=60)
    unit = models.CharField(max_length=10)
    value_m = models.FloatField()
    corrects = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="corrected_by")

    class Meta:
        ordering = ["study_id", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["study", "line"], condition=models.Q(corrects=None), name="one_first_reading_per_line"
            ),
        ]
