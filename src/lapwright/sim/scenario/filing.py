"""A set that the gauge writes to a file, and the file taken in whole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lapwright.app import importing
from lapwright.formats.readings_write import write_readings
from lapwright.model.job import RecordedSet
from lapwright.model.readings import ThicknessSet
from lapwright.model.request import ImportRequest
from lapwright.model.wafer import SitePattern
from lapwright.sim.scenario.day import Day
from lapwright.sim.scenario.visit import DECIMALS, Visit, conditions_now, shown_by_gauge


def file_in(day: Day, visit: Visit, sites: SitePattern) -> RecordedSet:
    """A set written by the gauge and imported, closed."""
    request = visit.request
    written = _as_written(day, visit, sites)
    day.wait(minutes=visit.minutes)
    path = day.gauge_files / f"{request.gauge_id}-{day.now:%Y%m%d-%H%M}-{request.piece}-{request.moment}.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        write_readings(stream, [written])
    asked = ImportRequest(subject=request.subject, moment=request.moment, gauge_id=request.gauge_id)
    reason = f"{request.moment.replace('_', '-')} readings"
    return importing.import_readings(path, asked, by=visit.who.name, reason=reason, at=day.wait(minutes=1.0))[0]


# ----------------------------------------------------------------------------------------------------------------------


def _as_written(day: Day, visit: Visit, sites: SitePattern) -> ThicknessSet:
    """What the gauge writes: its display, digit by digit, with both zeros."""
    request = visit.request
    digits = DECIMALS[request.gauge_id]
    conditions = conditions_now(day, visit)
    shown = shown_by_gauge(day, visit, sites)
    return ThicknessSet(
        piece=request.piece,
        labels=sites.labels,
        x=np.round(sites.x, 7),
        y=np.round(sites.y, 7),
        site=np.tile(np.arange(len(sites.labels)), request.repeats),
        thickness=np.round(shown.readings.ravel() * 1e6, digits) / 1e6,
        conditions=replace(
            conditions,
            zero_before=round(shown.zero_before * 1e6, digits) / 1e6,
            zero_after=round(shown.zero_after * 1e6, digits) / 1e6,
        ),
        gauge=request.gauge_id,
        operator=visit.who.name,
    )
