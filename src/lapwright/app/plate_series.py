"""The dome of each plate at its checks as a series for Drift, with ring moves and dressings as events."""

from __future__ import annotations

from lapwright.app.drift_series import DriftEvent, DriftPoint, DriftSeries, with_lots
from lapwright.app.kept_results import kept_in_parts
from lapwright.app.plate_shapes import standing_checks
from lapwright.model.plates import Plate, RecordedEntry


def plate_series() -> list[DriftSeries]:
    """One series a plate; domed is above zero. Of a corrected check the correction counts; one check is no series."""
    from lapwright.records import plate_queries

    plates = {one.plate.plate_id: one.plate for one in plate_queries.plates()}
    histories = plate_queries.histories()
    found = kept_in_parts(
        ("drift of plates",),
        list(plates),
        {"plateentry": plate_queries.plates_of_entries, "plate": lambda _keys: list(plates)},
        lambda name: _series_of(plates[name], histories[name]),
    )
    return [one for one in found.values() if len(one.points) >= 2]


# ----------------------------------------------------------------------------------------------------------------------


def _series_of(plate: Plate, entries: tuple[RecordedEntry, ...]) -> DriftSeries:
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
    return with_lots(DriftSeries(signal="plate_dome", place=place, points=points, events=events), {})


def _told(line: RecordedEntry) -> str:
    entry = line.entry
    if entry.kind == "dressed" or entry.offset is None:
        return "plate dressed"
    ratio = "" if entry.speed_ratio is None else f", speed ratio {entry.speed_ratio:g}"
    return f"ring set to {entry.offset * 1e3:g} mm{ratio}"
