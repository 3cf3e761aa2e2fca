"""The Board: places, hours and times of the shop, and the schedules that were accepted."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly, Versioned


class BoardSetting(Versioned):
    """A place, the hours, the times or the ranks of orders."""

    key = models.CharField(max_length=80, unique=True)
    definition = models.JSONField()


class BoardPlan(AppendOnly):
    """A schedule that was accepted; the latest is in force."""

    plan = models.JSONField()

    class Meta:
        ordering = ["at", "pk"]
