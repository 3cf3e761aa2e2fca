"""Values of the model as plain JSON and back, for columns that hold a value whole.

A dataclass becomes an object with its class in ``$type`` and its fields in SI; a tuple becomes a list, an array a list
in ``$array`` with null for NaN, a date or a time its ISO text in ``$date`` or ``$time``. What comes back equals what
went in.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from typing import Any

import numpy as np

from lapwright.errors import RecordError
from lapwright.model.board import (
    BoardPlace,
    BoardPlan,
    ExtraShift,
    HeldTask,
    OrderPromise,
    OrderRank,
    OrderRanks,
    PlannedTask,
    ShopHours,
    ShopTimes,
    WeekShift,
)
from lapwright.model.gauge_care import CheckStandard, StudyFigures, StudyLine, StudyPlan
from lapwright.model.jig_moves import ScrewTurn
from lapwright.model.job import BondNumbers
from lapwright.model.live import CheckReading, Feed, RateChange, StartOrder
from lapwright.model.order import DecisionRule, Limit, Order
from lapwright.model.plan import LimitChance, Plan, Stage
from lapwright.model.plates import Plate, PlateEntry, PlateReading
from lapwright.model.prices import PriceList
from lapwright.model.queue import Changeovers, Closure
from lapwright.model.quotation import Delivery, Quotation, QuotedLine, YieldTold
from lapwright.model.readings import Conditions, CurvePoint, Gauge
from lapwright.model.shelf import Jig, Station
from lapwright.model.supply import SupplyLot
from lapwright.model.surface_record import BondPhoto, FringeSettings, ProfileSettings, SampleMask, VoidMark
from lapwright.model.verdict import Verdict
from lapwright.model.wafer import Carrier, Frame, Polygon, Rectangle, Round, SitePattern, Wafer, Wedge

#: What JSON gives as it is: most of what a record holds, so it is not called for once more.
_BARE = frozenset({str, int, float, bool, type(None)})
TYPES: dict[str, type] = {
    kind.__name__: kind
    for kind in (
        BoardPlace, BoardPlan, Changeovers, Closure, ExtraShift, HeldTask, OrderPromise, OrderRank, OrderRanks,
        PlannedTask, ShopHours, ShopTimes, WeekShift,
        BondNumbers, BondPhoto, Carrier, CheckReading, CheckStandard, Conditions, CurvePoint, DecisionRule, Delivery,
        Feed, Frame,
        FringeSettings, Gauge, Jig, Limit, LimitChance, Order, Plan, Plate, PlateEntry, PlateReading,
        Polygon, PriceList, ProfileSettings, Quotation, QuotedLine, RateChange, Rectangle, Round,
        SampleMask, ScrewTurn, SitePattern, Stage, StartOrder, Station, StudyFigures, StudyLine, StudyPlan, SupplyLot,
        Verdict, VoidMark, Wafer, Wedge, YieldTold,
    )
}  # fmt: skip


def to_plain(value: object) -> Any:
    """A value as JSON takes it.

    >>> to_plain(Round(diameter=0.1))
    {'$type': 'Round', 'diameter': 0.1, 'mark': 'none', 'flat_length': 0.0}
    """
    if is_dataclass(value) and not isinstance(value, type):
        listed = {item.name: to_plain(getattr(value, item.name)) for item in fields(value)}
        return {"$type": type(value).__name__, **listed}
    if isinstance(value, tuple | list):
        return [to_plain(item) for item in value]
    if isinstance(value, np.ndarray):
        return {"$array": [None if math.isnan(item) else item for item in value.tolist()]}
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, date):
        return {"$time" if isinstance(value, datetime) else "$date": value.isoformat()}
    return value


def from_plain(plain: Any, types: Mapping[str, type] = TYPES) -> Any:
    """The value that `to_plain` made JSON of. Raises `RecordError` for a type unknown to this version."""
    if isinstance(plain, list):
        return tuple(item if type(item) in _BARE else from_plain(item, types) for item in plain)
    if not isinstance(plain, dict):
        return plain
    if "$array" in plain:
        return np.array([math.nan if item is None else item for item in plain["$array"]], dtype=np.float64)
    if "$time" in plain:
        return datetime.fromisoformat(plain["$time"])
    if "$date" in plain:
        return date.fromisoformat(plain["$date"])
    kind = types.get(plain.get("$type", ""))
    if kind is None:
        raise RecordError(f"A record holds a value of the unknown type {plain.get('$type')!r}. Update the program.")
    values = {name: item if type(item) in _BARE else from_plain(item, types) for name, item in plain.items()}
    del values["$type"]
    return kind(**values)
