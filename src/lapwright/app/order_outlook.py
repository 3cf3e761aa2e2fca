"""Use case: an order while it is still being typed: can it be met, how likely, how long, how dear."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from lapwright.errors import LapwrightError
from lapwright.model.order import Order
from lapwright.model.plan import Plan
from lapwright.model.readings import Gauge

if TYPE_CHECKING:
    from lapwright.process.feasibility import Feasibility

DRAWS = 500  # imagined jobs; a chance to about two percentage points, in the time between two keys
SEED = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What is known of an order before it is taken.

    `plan` is the best route, None when there is none, with the sentence why in `no_route`. `proofs` say of each limit
    whether the gauges on record can prove it; each has a sentence and whether it is enough.
    """

    feasibility: Feasibility
    plan: Plan | None
    no_route: str
    proofs: tuple[tuple[bool, str], ...]


def order_outlook(order: Order, *, on: date) -> Outlook:
    """The outlook of an order with the stations and the gauges on record. Raises `NotFound` for a foreign material."""
    from lapwright.app import route_basis
    from lapwright.library import load
    from lapwright.process.feasibility import feasibility
    from lapwright.process.risks import order_proofs

    known = _gauges(on)
    plan, no_route = best_route(order, on=on)
    return Outlook(
        feasibility=feasibility(order, load(), workplaces=route_basis.workplaces(), gauge=_best(known)),
        plan=plan,
        no_route=no_route,
        proofs=tuple((proof.is_enough, proof.sentence) for proof in order_proofs(order, known)),
    )


def best_route(order: Order, *, on: date) -> tuple[Plan | None, str]:
    """The best route for the terms of an order, recorded or not; None with the sentence why there is none."""
    import numpy as np

    from lapwright.app import own_spreads, prices, route_basis
    from lapwright.library import load
    from lapwright.process.planning import Question, search_routes

    question = Question(
        workplaces=route_basis.workplaces(),
        gauge=_best(_gauges(on)),
        prices=prices.planning_prices(order.value_per_wafer),
        assumptions=own_spreads.learned_assumptions(prices.planning_assumptions()),
        draws=DRAWS,
    )
    try:
        plans = search_routes(order, load(), question, generator=np.random.default_rng(SEED)).plans
    except LapwrightError as error:
        return None, error.sentence
    return plans[0], ""


# ----------------------------------------------------------------------------------------------------------------------


def _gauges(on: date) -> list[Gauge]:
    from lapwright.app import gauges

    return [recorded.gauge for recorded in gauges.list_gauges(on=on)]


def _best(known: list[Gauge]) -> Gauge:
    from lapwright.process.workplaces import ASSUMED_GAUGE

    return min(known, key=lambda one: one.limit) if known else ASSUMED_GAUGE
