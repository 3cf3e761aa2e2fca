"""What keeps a shop clean and its shifts informed: looks before a finer step, and handovers. Never changed."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly
from lapwright.records.models.outcome import Document
from lapwright.records.models.work import Stage


class CleanCheck(AppendOnly):
    """A look whether a wafer and its surroundings are clean enough for what comes next."""

    stage = models.ForeignKey(Stage, on_delete=models.PROTECT, related_name="clean_checks")
    outcome = models.CharField(max_length=12)
    checked = models.JSONField()
    photograph = models.ForeignKey(Document, null=True, on_delete=models.PROTECT, related_name="clean_checks")

    class Meta:
        ordering = ["pk"]


class Handover(AppendOnly):
    """What one shift tells the next: the card as it stood, and words beside it."""

    station = models.CharField(max_length=64, blank=True)
    card = models.JSONField()
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["pk"]


class HandoverTaken(AppendOnly):
    """That the next shift has read a handover."""

    handover = models.OneToOneField(Handover, on_delete=models.PROTECT, related_name="taken")
