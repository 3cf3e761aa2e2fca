"""Use case: an order while it is still being typed: can it be met, how likely, how long, how dear."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from lapwright.errors import LapwrightError
from lapwright.model.order import Order
from lapwright.model.plan import Plan
from lapwright.model.readings import Gauge

if TYPE_CHECKING:
    from lapwright.app.route_questions import Asked
    from lapwright.process.feasibility import Feasibility

DRAWS = 500  # imagined jobs; a chance to about two percentage points, in the time between two keys


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What is known of an order before it is taken.

    `plan` is the best route, None when there is none, with the sentence why in `no_route`, and None while routes are
    being searched. `proofs` say of each limit whether the gauges on record can prove it; each has a sentence and
    whether it is enough.
    """

    feasibility: Feasibility
    plan: Plan | None
    no_route: str
    proofs: tuple[tuple[bool, str], ...]
    is_going: bool = False
    is_given_up: bool = False


def order_outlook(order: Order, *, at: datetime) -> Outlook:
    """The outlook of an order with the stations and the gauges on record. Raises `NotFound` for a foreign material.

    Where pages are served its best route is searched beside them; what was not found yet comes the next time.
    """
    from lapwright.app import route_basis, route_searches
    from lapwright.library import load
    from lapwright.process.feasibility import feasibility
    from lapwright.process.risks import order_proofs

    known = _gauges(at.date())
    seen = route_searches.look(ask(order, on=at.date()), at)
    return Outlook(
        feasibility=feasibility(order, load(), workplaces=route_basis.workplaces(), gauge=_best(known)),
        plan=None if seen.findings is None else seen.findings.searched.plans[0],
        no_route="" if seen.refusal is None else seen.refusal.sentence,
        proofs=tuple((proof.is_enough, proof.sentence) for proof in order_proofs(order, known)),
        is_going=seen.is_going,
        is_given_up=seen.is_given_up,
    )


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
    from lapwright.process.planning import Question
    from lapwright.records.coding import to_plain

    question = Question(
        workplaces=route_basis.workplaces(),
        gauge=_best(_gauges(on)),
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


# ----------------------------------------------------------------------------------------------------------------------


def _gauges(on: date) -> list[Gauge]:
    from lapwright.app import gauges

    return [recorded.gauge for recorded in gauges.list_gauges(on=on)]


def _best(known: list[Gauge]) -> Gauge:
    from lapwright.process.workplaces import ASSUMED_GAUGE

    return min(known, key=lambda one: one.limit) if known else ASSUMED_GAUGE
