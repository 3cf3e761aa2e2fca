"""Use cases: gauges and their calibrations."""

from __future__ import annotations

from datetime import date, datetime

from lapwright.model.readings import Calibration, Gauge
from lapwright.model.shelf import RecordedGauge


def register_gauge(gauge: Gauge, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedGauge:
    """Record a gauge, or what is newly known of it."""
    raise NotImplementedError


def record_calibration(calibration: Calibration, *, by: str, reason: str, at: datetime) -> RecordedGauge:
    """Record a calibration of a known gauge. Raises `NotFound` for an unknown one."""
    raise NotImplementedError


def show_gauge(gauge_id: str, *, on: date) -> RecordedGauge:
    """One gauge and whether its calibration holds on a day. Raises `NotFound`."""
    raise NotImplementedError


def list_gauges(*, on: date) -> tuple[RecordedGauge, ...]:
    """All gauges by name, each with its latest calibration and whether that holds on a day."""
    raise NotImplementedError


def gauge_warnings(gauge_id: str, *, on: date) -> tuple[str, ...]:
    """What speaks against trusting a gauge on a day, in sentences; empty when nothing does."""
    raise NotImplementedError
