"""An order as it would be typed into the form: the texts of its fields, each length with its unit."""

from __future__ import annotations

from typing import Any

from lapwright.metrology.thickness import ThicknessResult
from lapwright.model.order import Order
from lapwright.model.wafer import Rectangle, Round
from lapwright.web.forms import UPPER_LIMITS

_NANOMETRES = ("roughness_ra_limit", "roughness_sq_limit")


def order_fields(order: Order) -> dict[str, Any]:
    """The terms of an order without its number, its date and its wafers, which are new in a copy."""
    limits = {field: order.limit(quantity) for field, quantity in UPPER_LIMITS.items()}
    thickness = order.limit("thickness")
    tolerance = None
    if thickness is not None and thickness.upper is not None:
        tolerance = thickness.upper - order.target_thickness
    rule = "simple" if order.rule.kind == "simple" else "factor" if order.rule.guard_factor else "guarded"
    return {
        "customer": order.customer,
        "quantity": order.quantity,
        "spares": order.spares,
        "value_per_wafer": "" if order.value_per_wafer is None else f"{order.value_per_wafer:.15g}",
        "material": order.material,
        "orientation": order.orientation,
        **_outline(order.outline),
        "start_thickness": _length(order.start_thickness, "µm"),
        "start_ttv": _length(order.start_ttv, "µm"),
        "start_damage": _length(order.start_damage or None, "µm"),
        "target_thickness": _length(order.target_thickness, "µm"),
        "tolerance": _length(tolerance, "µm"),
        **{
            field: _length(None if limit is None else limit.upper, "nm" if field in _NANOMETRES else "µm")
            for field, limit in limits.items()
        },
        "edge_exclusion": _length(order.edge_exclusion, "mm"),
        "hold": order.hold,
        "rule": rule,
        "risk": f"{order.rule.false_accept * 100.0:g}" if rule == "guarded" else "",
        "guard_factor": f"{order.rule.guard_factor:g}" if rule == "factor" else "",
        "notes": order.notes,
    }


def reworked_fields(result: ThicknessResult, wafer_id: str) -> dict[str, Any]:
    """What differs from the terms of its order for one piece that is worked again: its name and its present form."""
    return {
        "order_id": f"{wafer_id}-R",
        "wafer_names": f"{wafer_id}-R",
        "quantity": 1,
        "spares": 0,
        "start_thickness": _length(round(result.mean, 9), "µm"),
        "start_ttv": _length(round(result.ttv, 9), "µm"),
        "start_damage": "",
        "notes": f"Rework of {wafer_id}.",
    }


# ----------------------------------------------------------------------------------------------------------------------


def _outline(outline: object) -> dict[str, Any]:
    if isinstance(outline, Round):
        flat = outline.flat_length if outline.mark == "flat" else None
        return {
            "shape": "round", "diameter": _length(outline.diameter, "mm"), "mark": outline.mark,
            "flat_length": _length(flat, "mm"),
        }  # fmt: skip
    if isinstance(outline, Rectangle):
        width, height = _length(outline.width, "mm"), _length(outline.height, "mm")
        return {"shape": "rectangle", "width": width, "height": height}
    return {}


def _length(value: float | None, symbol: str) -> str:
    """A length as typed: all its digits but those of the conversion."""
    if value is None:
        return ""
    factor = {"µm": 1e6, "mm": 1e3, "nm": 1e9}[symbol]
    return f"{value * factor:.9g} {symbol}"
