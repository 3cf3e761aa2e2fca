"""Faces measured by fringes or by a profile."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly
from lapwright.records.models.orders import Wafer
from lapwright.records.models.shelf import Gauge


class Surface(AppendOnly):
    """A measured face: settings whole, numbers in SI; `documents` lists the files it was measured from, in order."""

    kind = models.CharField(max_length=10)
    wafer = models.ForeignKey(Wafer, on_delete=models.PROTECT, related_name="surfaces")
    stage = models.ForeignKey("records.Stage", null=True, on_delete=models.PROTECT, related_name="surfaces")
    moment = models.CharField(max_length=20)
    gauge = models.ForeignKey(Gauge, null=True, on_delete=models.PROTECT, related_name="surfaces")
    instrument = models.TextField(blank=True)
    documents = models.JSONField()
    settings = models.JSONField()
    numbers = models.JSONField()
    sign_ambiguous = models.BooleanField()
    not_judged = models.TextField(blank=True)
    software_version = models.CharField(max_length=40)
