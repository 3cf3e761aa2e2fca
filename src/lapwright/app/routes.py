"""Use cases: proposing routes for an order, choosing one, and fitting it to each wafer."""

from __future__ import annotations

from datetime import datetime

from lapwright.model.job import RecordedRoute, RecordedStage
from lapwright.model.plan import Plan


def propose_routes(order_id: str, *, seed: int = 1) -> tuple[Plan, ...]:
    """Routes that keep the order's limits, best first, from the wafers as they were read. Raises `ImpossibleOrder`."""
    raise NotImplementedError


def choose_route(order_id: str, plan: Plan, *, by: str, reason: str, at: datetime) -> RecordedRoute:
    """Record the route the order follows; wafers with a kept bond get their stages at once, the others in turn.

    A later choice holds for the wafers on which no stage has begun.
    """
    raise NotImplementedError


def chosen_route(order_id: str) -> RecordedRoute | None:
    """The route an order follows, None while none is chosen."""
    raise NotImplementedError


def lay_out_stages(wafer_id: str, *, by: str, reason: str, at: datetime) -> tuple[RecordedStage, ...]:
    """Fit the chosen route to one wafer: removals and presets from its own map and the wedge its bond predicts."""
    raise NotImplementedError
