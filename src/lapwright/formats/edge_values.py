"""SI values to numbers for a field that names its unit."""

from __future__ import annotations

import math

from lapwright.units import Unit, field_unit, to_unit

_DIGITS = 12  # keeps every digit that means anything and drops the noise of the conversion
_CACHE: dict[tuple[str, str], Unit] = {}


def edge_value(value: float | None, field: str, dimension: str) -> float | None:
    """The number for a field (`ttv_um`, `time_min`), to 12 significant digits; None for none or not measured."""
    if value is None or not math.isfinite(value):
        return None
    unit = _CACHE.get((field, dimension))
    if unit is None:
        unit = _CACHE[field, dimension] = field_unit(field, dimension)
    return float(f"{to_unit(value, unit):.{_DIGITS}g}")


def um(value: float | None) -> float | None:
    """A length in µm, to a femtometre: what lies below is rounding of the computer."""
    number = edge_value(value, "_um", "length")
    return None if number is None else round(number, 9) + 0.0  # + 0.0: no minus zero


def mm(value: float | None) -> float | None:
    """A length in mm."""
    return edge_value(value, "_mm", "length")


def deg(value: float | None, *, turn: float = 360.0) -> float | None:
    """An angle in degrees, from 0 to below a full turn (or below `turn`, 180 for something with two ends)."""
    degrees = edge_value(value, "_deg", "angle")
    return None if degrees is None else float(f"{degrees % turn % turn:.{_DIGITS}g}")
