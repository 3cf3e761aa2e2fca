"""The price list, version by version."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly


class PriceList(AppendOnly):
    """A version of the price list; the latest number holds."""

    number = models.PositiveIntegerField(unique=True)
    prices = models.JSONField()

    class Meta:
        ordering = ["number"]
