"""Carriers, jigs, stations, gauges and calibrations."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly, Versioned


class Carrier(Versioned):
    """A plate that wafers are bonded to."""

    carrier_id = models.CharField(max_length=60, unique=True)
    definition = models.JSONField()


class Jig(Versioned):
    """A lapping jig with its adjusters."""

    jig_id = models.CharField(max_length=60, unique=True)
    definition = models.JSONField()


class Station(Versioned):
    """A place of work and what is on it now."""

    station_id = models.CharField(max_length=60, unique=True)
    definition = models.JSONField()
    abrasive_supply = models.ForeignKey("SupplyLot", null=True, on_delete=models.PROTECT, related_name="+")
    pad_supply = models.ForeignKey("SupplyLot", null=True, on_delete=models.PROTECT, related_name="+")
    plate_record = models.ForeignKey("Plate", null=True, on_delete=models.PROTECT, related_name="+")


class Gauge(Versioned):
    """A gauge."""

    gauge_id = models.CharField(max_length=60, unique=True)
    definition = models.JSONField()


class Calibration(AppendOnly):
    """A calibration of a gauge."""

    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="calibrations")
    certificate = models.CharField(max_length=100)
    done = models.DateField()
    due = models.DateField()
    deviation_m = models.FloatField()
    expanded_uncertainty_m = models.FloatField()
    passed = models.BooleanField()
    interval_days = models.PositiveIntegerField(null=True)
    as_found_m = models.FloatField(null=True)
    curve = models.JSONField(null=True)
