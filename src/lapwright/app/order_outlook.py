"""Use case: an order while it is still being typed: can it be met, how likely, how long, how dear."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from lapwright.model.order import Order
from lapwright.model.plan import Plan

if TYPE_CHECKING:
    from lapwright.process.feasibility import Feasibility


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
    from lapwright.app import route_basis, route_searches, typed_routes
    from lapwright.library import load
    from lapwright.process.feasibility import feasibility
    from lapwright.process.risks import order_proofs

    known = typed_routes.known_gauges(at.date())
    seen = route_searches.look(typed_routes.ask(order, on=at.date()), at)
    return Outlook(
        feasibility=feasibility(
            order, load(), workplaces=route_basis.workplaces(), gauge=typed_routes.best_gauge(known)
        ),
        plan=None if seen.findings is None else seen.findings.searched.plans[0],
        no_route="" if seen.refusal is None else seen.refusal.sentence,
        proofs=tuple((proof.is_enough, proof.sentence) for proof in order_proofs(order, known)),
        is_going=seen.is_going,
        is_given_up=seen.is_given_up,
    )
