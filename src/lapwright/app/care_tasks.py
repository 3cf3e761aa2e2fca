"""What gauges and plates wait for, wafers or not: a calibration, a look at the shape."""

from __future__ import annotations

from datetime import datetime

from lapwright.app import cautions, gauges
from lapwright.app.kept_results import kept_until
from lapwright.model.story import Task

#: Tables that say whether a plate must be looked at.
_PLATES_REST_ON = frozenset({"plate", "plateentry", "run"})  # and on what the wafers at work demand


def gauge_tasks(now: datetime) -> list[Task]:
    """Gauges whose calibration is due, over or missing."""
    found = []
    for recorded in gauges.list_gauges(on=now.date()):
        for sentence in gauges.warnings_of(recorded, on=now.date()):
            calibration = recorded.calibration
            since = recorded.signature.at if calibration is None else datetime.combine(
                calibration.due, datetime.min.time(), tzinfo=now.tzinfo
            )  # fmt: skip
            found.append(
                Task(
                    verb=f"gauge {recorded.gauge.gauge_id}: have it calibrated",
                    order_id=None,
                    wafer_id=None,
                    station_id=None,
                    number=None,
                    since=since,
                    why=sentence,
                    page="gauges",
                    piece=recorded.gauge.gauge_id,
                    warning=recorded.calibration_state in ("overdue", "failed"),
                )
            )
    return found


def plate_tasks(now: datetime) -> list[Task]:
    """Plates that must be looked at; looked up once an hour, or after a write that it rests on."""
    from lapwright.app.plate_dues import plates_due
    from lapwright.app.plates import plate_demands

    hour = now.replace(minute=0, second=0, microsecond=0)
    demands = plate_demands()
    return [
        Task(
            verb=f"plate {due.plate_id}: check its shape",
            order_id=None,
            wafer_id=None,
            station_id=due.station_id,
            number=None,
            since=hour,
            why=due.sentence,
            page="plates",
            piece=due.plate_id,
            cautions=cautions.at_plate(),
        )
        for due in kept_until(_PLATES_REST_ON, ("plates due", hour, demands), lambda: plates_due(at=now))
    ]
