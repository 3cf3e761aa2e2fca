"""Use cases: gauges and their calibrations."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from lapwright.app.kept_results import kept_until
from lapwright.model.readings import Calibration, Gauge, Signature
from lapwright.model.shelf import CalibrationState, RecordedGauge

if TYPE_CHECKING:
    from lapwright.records.queries import GaugeRecord

_REST_ON = frozenset({"gauge", "calibration"})


def register_gauge(gauge: Gauge, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedGauge:
    """Record a gauge, or what is newly known of it."""
    from lapwright.records import writer

    writer.put_gauge(gauge, Signature(by=by, at=at, reason=reason), version=version)
    return show_gauge(gauge.gauge_id, on=at.date())


def record_calibration(calibration: Calibration, *, by: str, reason: str, at: datetime) -> RecordedGauge:
    """Record a calibration of a known gauge. Raises `NotFound` for an unknown one."""
    from lapwright.records import writer

    writer.add_calibration(calibration, Signature(by=by, at=at, reason=reason))
    return show_gauge(calibration.gauge_id, on=at.date())


def show_gauge(gauge_id: str, *, on: date) -> RecordedGauge:
    """One gauge and whether its calibration holds on a day. Raises `NotFound`."""
    return _recorded(gauge_record(gauge_id), on)


def list_gauges(*, on: date) -> tuple[RecordedGauge, ...]:
    """All gauges by name, each with its latest calibration and whether that holds on a day."""
    return tuple(_recorded(record, on) for record in gauge_records())


def gauge_records() -> tuple[GaugeRecord, ...]:
    """All gauges by name as they are on record; looked up anew after a write into them or their calibrations."""
    from lapwright.records import queries

    return kept_until(_REST_ON, ("gauges",), queries.gauges)


def gauge_record(gauge_id: str) -> GaugeRecord:
    """One of them. Raises `NotFound`."""
    from lapwright.records import queries

    found = next((one for one in gauge_records() if one[0].gauge_id == gauge_id), None)
    return queries.gauge(gauge_id) if found is None else found


def gauge_warnings(gauge_id: str, *, on: date) -> tuple[str, ...]:
    """What speaks against trusting a gauge on a day, in sentences; empty when nothing does."""
    return warnings_of(show_gauge(gauge_id, on=on), on=on)


def warnings_of(recorded: RecordedGauge, *, on: date) -> tuple[str, ...]:
    """What speaks against trusting a gauge on a day, in sentences."""
    name, calibration = recorded.gauge.gauge_id, recorded.calibration
    if calibration is None:
        return (f"Gauge {name} has no calibration on record. Have it calibrated, or record its certificate.",)
    if not calibration.passed:
        return (f"Gauge {name} failed its calibration of {calibration.done}. Do not use it; have it put right.",)
    days = (calibration.due - on).days
    if recorded.calibration_state == "overdue":
        return (f"The calibration of gauge {name} was due on {calibration.due}, {-days} days ago. Have it calibrated.",)
    if recorded.calibration_state == "due_soon":
        return (f"The calibration of gauge {name} is due on {calibration.due}, in {days} days. Arrange it.",)
    return ()


# ----------------------------------------------------------------------------------------------------------------------


def _recorded(record: GaugeRecord, on: date) -> RecordedGauge:
    gauge, calibration, version, signature = record
    return RecordedGauge(
        gauge=gauge,
        calibration=calibration,
        calibration_state=_state(calibration, on),
        version=version,
        signature=signature,
    )


def _state(calibration: Calibration | None, on: date) -> CalibrationState:
    from lapwright import records

    if calibration is None:
        return "never_calibrated"
    if not calibration.passed:
        return "failed"
    if on > calibration.due:
        return "overdue"
    notice = timedelta(days=records.current_settings().calibration_notice_days)
    return "due_soon" if calibration.due - on <= notice else "in_date"
