"""Reading which kinds of things a laboratory has on record at all."""

from __future__ import annotations

from typing import Any, Literal

from lapwright.records import models
from lapwright.records.faults import translated

RoomKind = Literal["gauge", "carrier", "jig", "station", "order", "feed", "plate", "lot", "prices"]


def is_kept(kind: RoomKind) -> bool:
    """Whether there is any of a kind; of stations, any for lapping."""
    rows: dict[RoomKind, Any] = {
        "gauge": models.Gauge.objects,
        "carrier": models.Carrier.objects,
        "jig": models.Jig.objects,
        "station": models.Station.objects.filter(definition__kind="lap"),
        "order": models.Order.objects,
        "feed": models.Feed.objects,
        "plate": models.Plate.objects,
        "lot": models.SupplyLot.objects,
        "prices": models.PriceList.objects,
    }
    with translated():
        return bool(rows[kind].exists())
