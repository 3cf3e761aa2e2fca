"""Plates as dictionaries with units in their names."""

from __future__ import annotations

from typing import Any

from lapwright.formats.edge_values import edge_value, mm, um
from lapwright.model.plates import Plate, PlateEntry
from lapwright.process.plate import PlateShape
from lapwright.process.plate_course import PlateTrend
from lapwright.process.ring_advice import RingAdvice


def plate_dict(plate: Plate, *, offset: float, speed_ratio: float) -> dict[str, Any]:
    """A plate with its ring as it stands."""
    return {
        "plate": plate.plate_id,
        "name": plate.name,
        "station": plate.station_id,
        "land_inner_mm": mm(plate.inner_radius),
        "land_outer_mm": mm(plate.outer_radius),
        "ring_inner_mm": mm(plate.ring_inner_radius),
        "ring_outer_mm": mm(plate.ring_outer_radius),
        "least_offset_mm": mm(plate.least_offset),
        "most_offset_mm": mm(plate.most_offset),
        "offset_mm": mm(offset),
        "speed_ratio": speed_ratio,
        "dome_limit_um": um(plate.dome_limit),
        "check_every_h": edge_value(plate.check_every, "_h", "time"),
        "reading_uncertainty_um": um(plate.reading_uncertainty),
    }


def shape_dict(shape: PlateShape) -> dict[str, Any]:
    """The shape that a check tells."""
    return {
        "dome_um": um(shape.dome),
        "dome_standard_uncertainty_um": um(shape.dome_uncertainty),
        "residual_rms_um": um(shape.residual),
        "n_readings": shape.readings,
    }


def entry_dict(entry: PlateEntry, entry_id: int, shape: PlateShape | None, running_time: float) -> dict[str, Any]:
    """A line of a plate's history; readings with the text as typed."""
    told: dict[str, Any] = {
        "entry": entry_id,
        "kind": entry.kind,
        "ran_min": edge_value(entry.ran, "_min", "time"),
        "running_h": edge_value(running_time, "_h", "time"),
        "method": entry.method,
        "size_mm": mm(entry.size),
        "offset_mm": mm(entry.offset),
        "speed_ratio": entry.speed_ratio,
        "corrects": entry.corrects,
        "readings": [
            {
                "place_mm": mm(one.place),
                "across_mm": mm(one.across),
                "laying": one.laying,
                "text": one.text,
                "unit": one.unit,
                "value_um": um(one.value),
            }
            for one in entry.readings
        ],
    }
    return told | ({} if shape is None else shape_dict(shape))


def trend_dict(trend: PlateTrend | None) -> dict[str, Any] | None:
    """How a plate stands and where it goes."""
    if trend is None:
        return None
    return {
        "dome_um": um(trend.dome),
        "dome_standard_uncertainty_um": um(trend.dome_uncertainty),
        "dome_rate_um_per_h": _per_hour(trend.dome_rate),
        "dome_rate_standard_uncertainty_um_per_h": _per_hour(trend.dome_rate_uncertainty),
        "n_checks": trend.checks,
        "is_moving": trend.is_moving,
    }


def advice_dict(advice: RingAdvice | None) -> dict[str, Any] | None:
    """What to do about a plate's shape."""
    if advice is None:
        return None
    return {
        "kind": advice.kind,
        "offset_mm": mm(advice.offset),
        "move_mm": mm(advice.move),
        "duration_min": edge_value(advice.duration, "_min", "time"),
        "offset_after_mm": mm(advice.offset_after),
        "expected_dome_um": um(advice.expected_dome),
        "expected_standard_uncertainty_um": um(advice.expected_uncertainty),
        "neutral_ratio": advice.neutral_ratio,
        "sentences": list(advice.sentences),
    }


# ----------------------------------------------------------------------------------------------------------------------


def _per_hour(rate: float | None) -> float | None:
    return edge_value(rate, "_um_per_h", "removal_rate")
