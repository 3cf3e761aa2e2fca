"""The price list as a dictionary: money in its currency, times with their unit in the field's name."""

from __future__ import annotations

from typing import Any

from lapwright.model.prices import PriceList, RecordedPrices

_HOUR = 3600.0
_MINUTE = 60.0


def price_dict(prices: PriceList, recorded: RecordedPrices | None) -> dict[str, Any]:
    """The prices with the version they come from; `version` is 0 for the usual ones, which nobody recorded."""
    return {
        "version": 0 if recorded is None else recorded.number,
        "currency": prices.currency or None,
        "labour_per_hour": prices.labour,
        "station_per_hour": prices.station_hour,
        "stations": [{"station": name, "per_hour": price} for name, price in prices.station_hours],
        "slurries": [{"abrasive_kind": name, "per_hour": price} for name, price in prices.slurry_hours],
        "pad_price": prices.pad,
        "pad_life_h": prices.pad_life / _HOUR,
        "piece_price": prices.piece_price,
        "scrap_price": prices.scrap,
        "measuring_min": prices.measuring_time / _MINUTE,
        "cleaning_min": prices.cleaning_time / _MINUTE,
        "set_up_min": prices.set_up_time / _MINUTE,
        "overhead_percent": 100.0 * prices.overhead,
        "by": None if recorded is None else recorded.signature.by,
        "at": None if recorded is None else recorded.signature.at.isoformat(),
        "reason": None if recorded is None else recorded.signature.reason,
    }
