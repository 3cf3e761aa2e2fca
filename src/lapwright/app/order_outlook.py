"""Use case: an order while it is still being typed: can it be met, how likely, how long, how dear."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from lapwright.errors import LapwrightError
from lapwright.model.order import Order
from lapwright.model.plan import Plan

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
    import numpy as np

    from lapwright.app import gauges, prices, route_basis
    from lapwright.library import load
    from lapwright.process.feasibility import feasibility
    from lapwright.process.planning import Question, search_routes
    from lapwright.process.risks import order_proofs
    from lapwright.process.workplaces import ASSUMED_GAUGE

    known = [recorded.gauge for recorded in gauges.list_gauges(on=on)]
    gauge = min(known, key=lambda one: one.limit) if known else ASSUMED_GAUGE
    places, library = route_basis.workplaces(), load()
    plan, no_route = None, ""
    try:
        generator = np.random.default_rng(SEED)
        question = Question(
            workplaces=places,
            gauge=gauge,
            prices=prices.planning_prices(order.value_per_wafer),
            assumptions=prices.planning_assumptions(),
            draws=DRAWS,
        )
        plan = search_routes(order, library, question, generator=generator).plans[0]
    except LapwrightError as error:
        no_route = error.sentence
    return Outlook(
        feasibility=feasibility(order, library, workplaces=places, gauge=gauge),
        plan=plan,
        no_route=no_route,
        proofs=tuple((proof.is_enough, proof.sentence) for proof in order_proofs(order, known)),
    )
