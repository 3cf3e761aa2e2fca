"""Values of the model in an archive of evidence, exactly: as JSON, and back.

A dataclass is an object with its class in ``$type``, a time an ISO text in ``$time``, an array a list in ``$array``
with null for NaN. Floats are written so that they come back bit for bit.
"""

from __future__ import annotations

import math
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from typing import Any

import numpy as np

from lapwright.errors import FileFormatError
from lapwright.model import job, odd_ones, order, readings, surface_record, verdict, wafer

TYPES = {
    kind.__name__: kind
    for kind in (
        job.RecordedFinding, job.RecordedReading, job.RecordedSet, job.RecordedVerdict, job.SetSurroundings,
        odd_ones.RecordedDecision, order.DecisionRule, order.Limit, readings.Calibration, readings.Conditions,
        readings.CurvePoint, readings.Gauge,
        readings.Reading, readings.Signature, surface_record.BondPhoto, surface_record.FringeSettings,
        surface_record.ProfileSettings, surface_record.RecordedSurface, surface_record.SampleMask,
        surface_record.VoidMark, verdict.Verdict, wafer.Frame, wafer.Polygon, wafer.Rectangle, wafer.Round,
        wafer.SitePattern,
    )
}  # fmt: skip


def to_json(value: object) -> Any:  # noqa: PLR0911  one answer for each kind of value
    """A value as JSON takes it."""
    if is_dataclass(value) and not isinstance(value, type):
        return {"$type": type(value).__name__, **{one.name: to_json(getattr(value, one.name)) for one in fields(value)}}
    if isinstance(value, dict):
        return {"$map": {str(name): to_json(item) for name, item in value.items()}}
    if isinstance(value, tuple | list):
        return [to_json(item) for item in value]
    if isinstance(value, np.ndarray):
        return {"$array": [None if math.isnan(item) else item for item in value.tolist()]}
    if isinstance(value, np.generic):
        return to_json(value.item())
    if isinstance(value, datetime | date):
        return {"$time" if isinstance(value, datetime) else "$date": value.isoformat()}
    if isinstance(value, float) and not math.isfinite(value):
        return {"$float": str(value)}
    return value


def from_json(plain: Any) -> Any:
    """The value that `to_json` wrote. Raises `FileFormatError` for anything else."""
    try:
        return _value(plain)
    except (TypeError, ValueError, KeyError, AttributeError, RecursionError) as error:
        raise FileFormatError(f"The archive holds a value that is none: {error}.") from error


# ----------------------------------------------------------------------------------------------------------------------


def _value(plain: Any) -> Any:  # noqa: PLR0911  one answer for each kind of value
    if isinstance(plain, list):
        return tuple(_value(item) for item in plain)
    if not isinstance(plain, dict):
        return plain
    if "$map" in plain:
        return {name: _value(item) for name, item in plain["$map"].items()}
    if "$array" in plain:
        return np.array([math.nan if item is None else item for item in plain["$array"]], dtype=np.float64)
    if "$time" in plain:
        return datetime.fromisoformat(plain["$time"])
    if "$date" in plain:
        return date.fromisoformat(plain["$date"])
    if "$float" in plain:
        return float(plain["$float"])
    kind = TYPES[plain["$type"]]
    return kind(**{name: _value(item) for name, item in plain.items() if name != "$type"})
