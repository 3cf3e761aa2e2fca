"""Routes for terms that are no order yet: the question they have, and the best of them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from lapwright.errors import LapwrightError
from lapwright.model.order import Order
from lapwright.model.plan import Plan
from lapwright.model.readings import Gauge

if TYPE_CHECKING:
    from lapwright.app.route_questions import Asked

DRAWS = 500  # imagined jobs; a chance to about two percentage points, in the time between two keys


def best_route(order: Order, *, on: date) -> tuple[Plan | None, str]:
    """The best route for the terms of an order, recorded or not; None with the sentence why there is none."""
    try:
        return ask(order, on=on).searched.plans[0], ""
    except LapwrightError as error:
        return None, error.sentence


def ask(order: Order, *, on: date) -> Asked:
    """The question which routes terms have that are still being typed, with the best gauge of the day."""
    from lapwright.app import own_spreads, prices, route_basis
    from lapwright.app.route_questions import Asked
    from lapwright.library import load
    from lapwright.process.route_making import Question
    from lapwright.records.coding import to_plain

    question = Question(
        workplaces=route_basis.workplaces(),
        gauge=best_gauge(known_gauges(on)),
        prices=prices.planning_prices(order.value_per_wafer),
        assumptions=own_spreads.learned_assumptions(prices.planning_assumptions()),
        draws=DRAWS,
    )
    told = {"terms": to_plain(order), "on": on.isoformat()}
    return Asked(order=order, library=load(), question=question, state=None, told=told, is_typed=True)


def asked_again(told: Mapping[str, Any]) -> Asked:
    """The question anew from how it was told."""
    from lapwright.records.coding import from_plain

    return ask(from_plain(told["terms"]), on=date.fromisoformat(told["on"]))


def known_gauges(on: date) -> list[Gauge]:
    """The gauges that are on record on a day."""
    from lapwright.app import gauges

    return [recorded.gauge for recorded in gauges.list_gauges(on=on)]


def best_gauge(known: list[Gauge]) -> Gauge:
    """The one of them with the narrowest limit; the assumed one while there is none."""
    from lapwright.process.workplaces import ASSUMED_GAUGE

    return min(known, key=lambda one: one.limit) if known else ASSUMED_GAUGE
