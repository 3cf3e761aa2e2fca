"""Bonds, routes, stages, zeros and runs."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import Versioned
from lapwright.records.models.measuring import ReadingSet
from lapwright.records.models.orders import Order, Wafer
from lapwright.records.models.shelf import Carrier, Jig, Station


class Bond(Versioned):
    """A bonding of a wafer to a carrier, from the bonding to the taking off."""

    wafer = models.ForeignKey(Wafer, on_delete=models.PROTECT, related_name="bonds")
    carrier = models.ForeignKey(Carrier, on_delete=models.PROTECT, related_name="bonds")
    adhesive = models.CharField(max_length=100)
    adhesive_lot = models.CharField(max_length=100, blank=True)
    adhesive_supply = models.ForeignKey("SupplyLot", null=True, on_delete=models.PROTECT, related_name="bonds")
    wafer_frame = models.JSONField()
    carrier_frame = models.JSONField()
    wafer_set = models.ForeignKey(ReadingSet, null=True, on_delete=models.PROTECT, related_name="+")
    carrier_set = models.ForeignKey(ReadingSet, null=True, on_delete=models.PROTECT, related_name="+")
    stack_set = models.ForeignKey(ReadingSet, null=True, on_delete=models.PROTECT, related_name="+")
    numbers = models.JSONField(null=True)
    advice = models.CharField(max_length=10, null=True)
    advice_reason = models.TextField(null=True)
    decision = models.CharField(max_length=10, null=True)
    decided_by = models.CharField(max_length=150, null=True)
    decided_reason = models.TextField(null=True)
    decided_at = models.DateTimeField(null=True)
    undone_by = models.CharField(max_length=150, null=True)
    undone_reason = models.TextField(null=True)
    undone_at = models.DateTimeField(null=True)
    undone_by_method = models.TextField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["carrier"], condition=models.Q(undone_at=None), name="one_wafer_on_a_carrier"
            ),
            models.UniqueConstraint(fields=["wafer"], condition=models.Q(undone_at=None), name="one_bond_of_a_wafer"),
        ]
        indexes = [models.Index(fields=["at"], name="bonds_by_time")]


class Route(Versioned):
    """A route for an order; the plan whole, as data."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="routes")
    plan = models.JSONField()
    chosen = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["order"], condition=models.Q(chosen=True), name="one_chosen_route_per_order"
            ),
        ]


class Stage(Versioned):
    """A stage of a wafer, fitted to it."""

    wafer = models.ForeignKey(Wafer, on_delete=models.PROTECT, related_name="stages")
    route = models.ForeignKey(Route, on_delete=models.PROTECT, related_name="stages")
    number = models.PositiveIntegerField()
    planned = models.JSONField()
    state = models.CharField(max_length=10, db_index=True)
    set = models.ForeignKey(ReadingSet, null=True, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    replaced = models.BooleanField(default=False)

    class Meta:
        ordering = ["wafer_id", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["wafer", "number"], condition=models.Q(replaced=False), name="one_stage_per_number"
            ),
        ]


class Zero(Versioned):
    """A zero of the jig's gauge; its readings never change, only whether it still holds."""

    wafer = models.ForeignKey(Wafer, on_delete=models.PROTECT, related_name="zeros")
    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="zeros")
    jig = models.ForeignKey(Jig, on_delete=models.PROTECT, related_name="zeros")
    plate = models.CharField(max_length=100, null=True)
    abrasive = models.CharField(max_length=100, null=True)
    texts = models.JSONField()
    unit = models.CharField(max_length=10)
    values_m = models.JSONField()
    spread_m = models.FloatField()
    limit_m = models.FloatField()
    accepted = models.BooleanField()
    verdict = models.TextField()
    void = models.TextField(null=True)


class Run(Versioned):
    """A run of a wafer on a station. The signature is that of its start."""

    stage = models.ForeignKey(Stage, on_delete=models.PROTECT, related_name="runs")
    wafer = models.ForeignKey(Wafer, on_delete=models.PROTECT, related_name="runs")
    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="runs")
    jig = models.ForeignKey(Jig, null=True, on_delete=models.PROTECT, related_name="runs")
    zero = models.ForeignKey(Zero, null=True, on_delete=models.PROTECT, related_name="runs")
    plate = models.CharField(max_length=100, null=True)
    abrasive = models.CharField(max_length=100, null=True)
    abrasive_supply = models.ForeignKey("SupplyLot", null=True, on_delete=models.PROTECT, related_name="runs")
    pad_supply = models.ForeignKey("SupplyLot", null=True, on_delete=models.PROTECT, related_name="pad_runs")
    plate_record = models.ForeignKey("Plate", null=True, on_delete=models.PROTECT, related_name="runs")
    load_n = models.FloatField(null=True)
    pressure_pa = models.FloatField(null=True)
    plate_speed_rad_per_s = models.FloatField(null=True)
    preset_m = models.FloatField(null=True)
    preset_datum = models.CharField(max_length=20, null=True)
    gauge_removal_m = models.FloatField(null=True)
    gauge_removal_text = models.CharField(max_length=60, null=True)
    stop_reason = models.TextField(null=True)
    ended_by = models.CharField(max_length=150, null=True)
    ended_reason = models.TextField(null=True)
    ended_at = models.DateTimeField(null=True)
    step = models.CharField(max_length=6, default="whole")
    time_s = models.FloatField(null=True)
    expected_s_m = models.JSONField(default=list)
    with_run = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="companions")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["station"],
                condition=models.Q(ended_at=None, with_run=None),
                name="one_run_at_a_time_on_a_station",
            ),
            models.UniqueConstraint(fields=["wafer"], condition=models.Q(ended_at=None), name="one_run_of_a_wafer"),
        ]
        indexes = [
            models.Index(fields=["at"], name="runs_by_time"),
            models.Index(fields=["ended_at", "gauge_removal_m", "at"], name="runs_as_they_ended"),
        ]


class Weighing(Versioned):
    """A mass as read, for one of the pieces that lay on the balance; only whether it counts changes."""

    wafer = models.ForeignKey(Wafer, on_delete=models.PROTECT, related_name="weighings")
    pieces = models.JSONField()
    text = models.CharField(max_length=60)
    mass_kg = models.FloatField()
    uncertainty_kg = models.FloatField()
    balance = models.CharField(max_length=100, blank=True)
    void = models.TextField(null=True)
    with_weighing = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="companions")

    class Meta:
        ordering = ["at", "pk"]
