"""Verdicts, documents and notes."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly
from lapwright.records.models.measuring import Finding, ReadingSet
from lapwright.records.models.orders import Order, Wafer
from lapwright.records.models.work import Stage


class Verdict(AppendOnly):
    """A limit judged; `judged` is the verdict whole, in SI."""

    wafer = models.ForeignKey(Wafer, on_delete=models.PROTECT, related_name="verdicts")
    quantity = models.CharField(max_length=20)
    outcome = models.CharField(max_length=20, db_index=True)
    judged = models.JSONField()
    set = models.ForeignKey(ReadingSet, null=True, on_delete=models.PROTECT, related_name="verdicts")
    finding = models.ForeignKey(Finding, null=True, on_delete=models.PROTECT, related_name="verdicts")

    class Meta:
        indexes = [
            models.Index(fields=["at"], name="verdicts_by_time"),
            models.Index(fields=["wafer", "quantity"], name="verdicts_of_a_wafer"),
        ]


class Document(AppendOnly):
    """A file in the data folder."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="documents")
    wafer = models.ForeignKey(Wafer, null=True, on_delete=models.PROTECT, related_name="documents")
    kind = models.CharField(max_length=20)
    name = models.CharField(max_length=200)
    path = models.CharField(max_length=300)
    sha256 = models.CharField(max_length=64)
    size = models.PositiveBigIntegerField()


class Note(AppendOnly):
    """Words about an order, a wafer or a stage."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="notes")
    wafer = models.ForeignKey(Wafer, null=True, on_delete=models.PROTECT, related_name="notes")
    stage = models.ForeignKey(Stage, null=True, on_delete=models.PROTECT, related_name="notes")
    kind = models.CharField(max_length=10)
    text = models.TextField()


class OddDecision(AppendOnly):
    """What somebody decided about a wafer that does not keep its limits; `failed` names them."""

    wafer = models.ForeignKey(Wafer, on_delete=models.PROTECT, related_name="odd_decisions")
    choice = models.CharField(max_length=20)
    failed = models.JSONField()

    class Meta:
        ordering = ["at", "pk"]
