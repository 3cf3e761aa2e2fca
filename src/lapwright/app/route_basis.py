"""What an order's routes start from in the records: the wafers as read, the places to work, the gauge."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from lapwright.app import set_values, steps
from lapwright.model.job import RecordedWafer
from lapwright.model.order import Order
from lapwright.model.plan import Stage
from lapwright.model.readings import Gauge

if TYPE_CHECKING:
    from lapwright.process.workplaces import Workplace


def workplaces() -> tuple[Workplace, ...]:
    """Where a route can be worked here: the places whose plate lies on one of the stations, else all usual ones."""
    from lapwright.process.workplaces import FURTHER_WORKPLACES, USUAL_WORKPLACES
    from lapwright.records import queries

    plates = {recorded.station.plate for recorded in queries.stations()}
    here = tuple(place for place in (*USUAL_WORKPLACES, *FURTHER_WORKPLACES) if place.plate in plates)
    return here if any(place.process == "lap" for place in here) else USUAL_WORKPLACES


def as_read(order: Order, wafers: Sequence[RecordedWafer] | None = None) -> Order:
    """The order with the mean thickness and the largest TTV of its wafers that were read in; looked up if not given."""
    from lapwright.records import queries

    found = [
        set_values.result_of(one)
        for wafer in (queries.wafers(order.order_id) if wafers is None else wafers)
        if wafer.state not in steps.OVER
        and (one := queries.latest_set(wafer.wafer.wafer_id, "wafer", "incoming")) is not None
    ]
    if not found:
        return order
    thickness = math.fsum(one.mean for one in found) / len(found)
    return replace(order, start_thickness=thickness, start_ttv=max(one.ttv for one in found))


def between(stages: tuple[Stage, ...]) -> tuple[Stage, ...]:
    """The stages without the measurements at both ends."""
    kinds = [stage.kind for stage in stages]
    first = 1 if kinds[:1] == ["measure"] else 0
    last = len(stages) - 1 if kinds[-1:] == ["measure"] else len(stages)
    return stages[first:last]


def gauge_of(wafers: Sequence[RecordedWafer]) -> Gauge | None:
    """The gauge that the wafers of an order were read with; None while none has been read."""
    from lapwright.records import queries

    for wafer in wafers:
        found = queries.latest_set(wafer.wafer.wafer_id, "wafer")
        if found is not None:
            return queries.gauge(found.gauge_id)[0]
    return None


def adhesive_of(order_id: str) -> str | None:
    """The adhesive of the library that the order's wafers were last bonded with; None while there is none."""
    from lapwright.library import load
    from lapwright.records import drift_queries

    known = {one.adhesive_id for one in load().adhesives}
    named = drift_queries.last_adhesive(order_id)
    return named if named in known else None
