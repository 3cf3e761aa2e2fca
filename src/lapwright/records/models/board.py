"""The Board: places, hours and times of the shop, schedules that were accepted, and those being worked out."""

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


class BoardDraft(models.Model):
    """A schedule worked out beside the pages: as it stands (no key), or for a question. It can always be made anew.

    `wanted` is the moment it is to be worked out for, None when nothing is to be done; `data` is what came of it last,
    as of `moment`, from the records up to the link `written`. Not in the chain: nothing rests on it.
    """

    key = models.CharField(max_length=64, unique=True, blank=True)
    question = models.JSONField(null=True)
    asked_at = models.DateTimeField()
    wanted = models.DateTimeField(null=True)
    tries = models.PositiveIntegerField(default=0)
    begun_at = models.DateTimeField(null=True)
    made_at = models.DateTimeField(null=True)
    took_s = models.FloatField(null=True)
    moment = models.DateTimeField(null=True)
    written = models.BigIntegerField(default=0)
    data = models.BinaryField(null=True)
    refusal = models.JSONField(null=True)


class BoardPlanner(models.Model):
    """Who works schedules out just now: one process for a database, alive as long as it says so. One row."""

    holder = models.CharField(max_length=200, blank=True)
    beat_at = models.DateTimeField(null=True)
