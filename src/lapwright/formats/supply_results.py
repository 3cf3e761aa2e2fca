"""What is used up, as dictionaries for one line of JSON. Amounts stand with their measure: m³, kg or pieces."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lapwright.formats.job_results import signature_dict
from lapwright.model.supply import SupplyLot
from lapwright.process.stock import StockOutlook

_UNITS = {"volume": ("l", 1e3), "mass": ("kg", 1.0), "count": ("pieces", 1.0)}
_ML_PER_MIN = 60e6


def lot_dict(lot: SupplyLot, *, left: float, may: str, stations: Sequence[str]) -> dict[str, Any]:
    """A lot as it stands."""
    name, factor = _UNITS[lot.measure]
    return {
        "lot": lot.lot_id,
        "kind": lot.kind,
        "item": lot.item,
        "unit": name,
        "amount": lot.amount * factor,
        "left": left * factor,
        "may_be_used": may,
        "received": lot.received.isoformat(),
        "expires": None if lot.expires is None else lot.expires.isoformat(),
        "feed_ml_per_min": None if lot.feed is None else lot.feed * _ML_PER_MIN,
        "per_bond": None if lot.per_bond is None else lot.per_bond * factor,
        "lead_days": lot.lead_time / 86_400.0,
        "held": lot.held,
        "stations": list(stations),
    }


def stock_dict(item: str, measure: str, left: float, outlook: StockOutlook | None, order_by: Any) -> dict[str, Any]:
    """All usable lots of an item: what is left, how long it lasts, when to order."""
    name, factor = _UNITS[measure]
    return {
        "item": item,
        "unit": name,
        "left": left * factor,
        "use_per_day": None if outlook is None else outlook.use * factor,
        "lasts_days": None if outlook is None else outlook.lasts,
        "lasts_low_days": None if outlook is None else outlook.lasts_low,
        "lasts_high_days": None if outlook is None else outlook.lasts_high,
        "reorder_point": None if outlook is None else outlook.reorder_point * factor,
        "order_by": None if order_by is None else order_by.isoformat(),
    }


def use_dict(use: Any, measure: str) -> dict[str, Any]:
    """Something taken of a lot."""
    name, factor = _UNITS[measure]
    return {"kind": use.kind, "amount": use.amount * factor, "unit": name, **(signature_dict(use.signature) or {})}


def used_dict(used: Any) -> dict[str, Any]:
    """Something that went into a wafer."""
    return {
        "kind": used.kind,
        "name": used.name,
        "item": used.item,
        "station": used.station_id,
        "at": used.at.isoformat(),
        "on_shelf": used.is_on_shelf,
    }
