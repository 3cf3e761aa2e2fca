"""How true the wafers that are being thinned need a plate to be."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from lapwright.app.kept_results import kept_until
from lapwright.model.job import WaferState
from lapwright.model.wafer import Outline, Polygon, Rectangle

if TYPE_CHECKING:
    from lapwright.model.order import Order

_RESTS_ON = frozenset({"order", "wafer"})
#: States in which a wafer may still come onto a plate.
_TO_BE_LAPPED: tuple[WaferState, ...] = ("bonded", "stack_read", "ready", "in_work")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateDemand:
    """The largest dome of a plate [m], of either sign, that the limits of an order leave room for."""

    order_id: str
    dome: float


def plate_demand(plate_radius: float) -> PlateDemand | None:
    """What the strictest order with wafers on carriers asks of a plate of a radius [m]; None where none asks."""
    return kept_until(_RESTS_ON, ("plate demand", plate_radius), lambda: _demand(plate_radius))


# ----------------------------------------------------------------------------------------------------------------------


def _demand(plate_radius: float) -> PlateDemand | None:
    from lapwright.records import order_queries

    waiting = order_queries.orders_with_wafers_in(_TO_BE_LAPPED)
    asked = [_asked(order, plate_radius) for _, order in sorted(waiting.items())]
    return min((one for one in asked if one is not None), key=lambda one: one.dome, default=None)


def _asked(order: Order, plate_radius: float) -> PlateDemand | None:
    from lapwright.process.plate import dome_limit

    limits = [limit.upper for limit in (order.limit("flatness"), order.limit("ttv")) if limit is not None]
    forms = [upper for upper in limits if upper is not None and upper > 0.0]
    if not forms:
        return None
    return PlateDemand(
        order_id=order.order_id, dome=dome_limit(min(forms), _width(order.outline), plate_radius=plate_radius)
    )


def _width(outline: Outline) -> float:
    """Largest distance of two points of an outline [m]."""
    if isinstance(outline, Rectangle):
        return math.hypot(outline.width, outline.height)
    if isinstance(outline, Polygon):
        return max(math.dist(one, other) for one in outline.corners for other in outline.corners)
    return outline.diameter
