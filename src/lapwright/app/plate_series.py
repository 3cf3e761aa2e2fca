"""The dome of each plate at its checks as a series for Drift, with ring moves and dressings as events."""

from __future__ import annotations

from lapwright.app.drift_series import DriftEvent, DriftPoint, DriftSeries, with_lots
from lapwright.model.plates import RecordedEntry


def plate_series() -> list[DriftSeries]:
    """One series a plate; domed is above zero. Of a corrected check the correction counts; one check is no series."""
    from lapwright.app.plate_shapes import standing_checks
    from lapwright.records import plate_queries

    series, histories = [], plate_queries.histories()
    for recorded in plate_queries.plates():
        plate = recorded.plate
        entries = histories[plate.plate_id]
        shapes = standing_checks(plate, entries)
        points = tuple(
            DriftPoint(at=one.signature.at, value=shapes[one.entry_id].dome, by=one.signature.by)
            for one in entries
            if one.entry_id in shapes
        )
        events = tuple(
            DriftEvent(at=one.signature.at, what=_told(one))
            for one in entries
            if one.entry.kind != "check" and points and one.signature.at >= points[0].at
        )
        place = ", ".join(filter(None, (plate.plate_id, plate.station_id)))
        series.append(with_lots(DriftSeries(signal="plate_dome", place=place, points=points, events=events), {}))
    return [one for one in series if len(one.points) >= 2]


# ----------------------------------------------------------------------------------------------------------------------


def _told(line: RecordedEntry) -> str:
    entry = line.entry
    if entry.kind == "dressed" or entry.offset is None:
        return "plate dressed"
    ratio = "" if entry.speed_ratio is None else f", speed ratio {entry.speed_ratio:g}"
    return f"ring set to {entry.offset * 1e3:g} mm{ratio}"
