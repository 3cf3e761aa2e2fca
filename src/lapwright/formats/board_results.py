"""Schedules as dictionaries with units in their names."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from lapwright.formats.edge_values import edge_value
from lapwright.model.board import BoardPlace, HeldTask, PlannedTask, ShopHours
from lapwright.process.queue_measures import Scheduled

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def moment_text(seconds: float) -> str:
    """A moment in seconds since 1970 as ISO text in UTC."""
    return datetime.fromtimestamp(seconds, tz=UTC).isoformat().replace("+00:00", "Z")


def task_dict(task: PlannedTask) -> dict[str, Any]:
    """A task of a schedule."""
    return {
        "task": task.task_id,
        "order": task.order_id,
        "name": task.name,
        "place": task.place_id,
        "changeover_from": moment_text(task.begin),
        "start": moment_text(task.start),
        "end": moment_text(task.end),
        "changeover": task.why,
        "leads": task.leads,
    }


def outlook_dict(
    *,
    order_id: str,
    planned: datetime,
    due: datetime | None,
    late: float,
    sure: Sequence[datetime],
    chance: float | None,
    sentence: str,
    reasons: Sequence[str],
) -> dict[str, Any]:
    """How an order stands; `sure` holds the moments of 50, 80 and 90 %."""
    even, sure_80, sure_90 = (moment_text(one.timestamp()) for one in sure)
    return {
        "order": order_id,
        "planned": moment_text(planned.timestamp()),
        "due": None if due is None else moment_text(due.timestamp()),
        "late_h": edge_value(late, "_h", "time"),
        "sure_50": even,
        "sure_80": sure_80,
        "sure_90": sure_90,
        "chance_of_date": chance,
        "sentence": sentence,
        "reasons": list(reasons),
    }


def reached_dict(scheduled: Scheduled) -> dict[str, Any]:
    """What a search reached: value, bound and gap of each aim; times in hours."""
    aims = []
    for one in scheduled.reached:
        is_time = one.aim in ("lateness", "makespan")
        value, bound = ((edge_value(each, "_h", "time") if is_time else each) for each in (one.value, one.bound))
        aims.append(
            {
                "aim": one.aim,
                "unit": "h" if is_time else "",
                "value": value,
                "bound": bound,
                "gap_percent": 100.0 * one.gap,
            }
        )
    return {"aims": aims, "cut_short": scheduled.cut_short}


def place_dict(place: BoardPlace) -> dict[str, Any]:
    """A place of the Board."""
    return {
        "place": place.place_id,
        "name": place.name,
        "kind": place.kind,
        "positions": place.positions,
        "plates": list(place.plates),
        "closed": [
            {"from": moment_text(one.start), "to": moment_text(one.end), "reason": one.reason} for one in place.closed
        ],
    }


def hours_dict(hours: ShopHours) -> dict[str, Any]:
    """When people are there."""
    return {
        "week": [
            {
                "day": DAYS[one.weekday],
                "from_h": edge_value(one.start, "_h", "time"),
                "to_h": edge_value(one.end, "_h", "time"),
                "people": one.people,
            }
            for one in hours.week
        ],
        "extra": [
            {"from": moment_text(one.start), "to": moment_text(one.end), "people": one.people} for one in hours.extra
        ],
        "off": [day.isoformat() for day in hours.off],
    }


def held_dict(held: HeldTask) -> dict[str, Any]:
    """A task set by hand."""
    return {"task": held.task_id, "place": held.place_id, "start": moment_text(held.start)}
