"""Use cases: what a job costs and when it is done: reckoned for any order, recorded as a quotation for one on record.

A quotation keeps the route and the prices it was reckoned with; nothing that is recorded later changes it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from lapwright.app.kept_results import kept_until
from lapwright.errors import BadInput, Fault, ImpossibleOrder
from lapwright.model.order import Order
from lapwright.model.plan import Plan
from lapwright.model.prices import PriceList
from lapwright.model.quotation import Delivery, Quotation, RecordedQuotation, YieldTold
from lapwright.model.readings import Signature

if TYPE_CHECKING:
    from lapwright.process.costing import JobCost
    from lapwright.process.route_cost import Prices
    from lapwright.reports.words import Language

SEED = 1
VALID_DAYS = 30
CONFIDENCE = 0.90  # with which the quantity is to be delivered in full
MEASURE_IN, BOND, TAKE_OFF = "measure in", "bond", "take off and measure"


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """How a quotation is asked for: chance of delivering all, wafers started if set by hand, days that it holds."""

    confidence: float = CONFIDENCE
    started: int | None = None
    valid_days: int = VALID_DAYS

    def __post_init__(self) -> None:
        faults = []
        if not 0.0 < self.confidence < 1.0:
            sentence = f"The chance must be more than 0 and less than 100 %; found {100.0 * self.confidence:g} %."
            faults.append(Fault(sentence=sentence, field="confidence"))  # fmt: skip
        if self.started is not None and not 1 <= self.started <= 10_000:
            faults.append(Fault(sentence=f"Wafers started: expected 1 to 10 000; found {self.started}.",
                                field="started"))  # fmt: skip
        if not 1 <= self.valid_days <= 3650:
            faults.append(Fault(sentence=f"An offer holds 1 to 3650 days; found {self.valid_days}.",
                                field="valid_days"))  # fmt: skip
        if faults:
            raise BadInput(faults, subject="The quotation")


USUAL_OFFER = Offer()


def reckoned(order: Order, plan: Plan, *, on: date, offer: Offer = USUAL_OFFER, version: int = 1) -> Quotation:
    """What an order costs by a route, with the prices, hours and own wafers on record; nothing is recorded.

    All in hundredths, as an invoice has it: the lines add up to what is expected, and pieces times their price to each
    of the two prices, which are rounded up.
    Raises `ImpossibleOrder` when too few wafers pass to promise the quantity, `BadInput` for fewer started than wanted.
    """
    from lapwright.app import own_spreads, prices, queue_settings
    from lapwright.process.spare_wafers import chance_of_enough, lab_doubt, prior_wafers, spare_advice, yield_belief

    good, lost = own_wafers(order.material)
    doubt = lab_doubt(own_spreads.learned_assumptions(prices.planning_assumptions()))
    belief = yield_belief(plan.chance_in_tolerance, good=good, lost=lost, prior=prior_wafers(doubt))
    advice = spare_advice(order.quantity, belief, chance=offer.confidence)
    started = advice.started if offer.started is None else offer.started
    if started < order.quantity:
        sentence = f"{started} wafers cannot give {order.quantity} good ones; start at least as many."
        raise BadInput([Fault(sentence=sentence, field="started")])
    recorded, held, times = prices.recorded_prices(), prices.price_list(), queue_settings.times()
    own = prices.planning_prices(order.value_per_wafer)
    bench = {
        MEASURE_IN: 2.0 * held.measuring_time,  # the wafer, and the carrier it goes on
        BOND: times.bonding,
        TAKE_OFF: times.taking_off + held.measuring_time,
    }
    cost = _cost(plan, own, held, bench, started=started, belief=(belief.good, belief.lost))
    lines = tuple(replace(line, cost=round(line.cost, 2)) for line in cost.lines)
    return Quotation(
        order_id=order.order_id,
        version=version,
        issued=on,
        valid_until=on + timedelta(days=offer.valid_days),
        quantity=order.quantity,
        started=started,
        chance_of_enough=chance_of_enough(started, order.quantity, belief),
        chance_with_fewer=chance_of_enough(started - 1, order.quantity, belief),
        told=YieldTold(chance=plan.chance_in_tolerance, good=good, lost=lost, expected=belief.mean),
        lines=lines,
        expected=round(math.fsum(line.cost for line in lines), 2),
        even=_invoiced(cost.even, order.quantity),
        sure=_invoiced(cost.sure, order.quantity),
        low=cost.low,
        high=cost.high,
        time=cost.time,
        time_even=cost.time_even,
        time_sure=cost.time_sure,
        delivery=_delivery(order.order_id, cost, on),
        plan=plan,
        prices=held,
        price_version=0 if recorded is None else recorded.number,
        plate_hours=tuple(own.plates.items()),
        wafer_price=own.wafer,
        bonding=times.bonding,
        taking_off=times.taking_off,
    )


def reckon_request(order: Order, *, on: date, offer: Offer = USUAL_OFFER) -> Quotation:
    """What an order that is not on record costs by its best route. Raises `ImpossibleOrder` when there is none."""
    from lapwright.app import typed_routes

    plan, why_not = typed_routes.best_route(order, on=on)
    if plan is None:
        raise ImpossibleOrder(why_not)
    return reckoned(order, plan, on=on, offer=offer)


def reckon_file(path: str, *, on: date, offer: Offer = USUAL_OFFER) -> Quotation:
    """What the order in a file costs by its best route."""
    from pathlib import Path

    from lapwright.formats.order_toml import read_order

    return reckon_request(read_order(Path(path)), on=on, offer=offer)


def reckon_order(order_id: str, *, on: date, offer: Offer = USUAL_OFFER) -> Quotation:
    """What an order on record costs by the route chosen for it, by the best one while none is; nothing is recorded."""
    from lapwright.app import route_basis, route_questions, routes
    from lapwright.records import queries, quotation_queries

    order = queries.order(order_id).order
    chosen = routes.chosen_route(order_id)
    plan = route_questions.ask(order_id).searched.plans[0] if chosen is None else chosen.plan
    version = len(quotation_queries.quotations(order_id)) + 1
    return reckoned(route_basis.as_read(order), plan, on=on, offer=offer, version=version)


def record_quotation(
    order_id: str,
    *,
    offer: Offer = USUAL_OFFER,
    language: Language | None = None,
    by: str,
    reason: str,
    at: datetime,
) -> RecordedQuotation:
    """Reckon an order, record the quotation as its next version, and keep its page as PDF with the order."""
    from lapwright import records
    from lapwright.app.documents import store_document
    from lapwright.records import queries, quotation_queries, writer
    from lapwright.reports.quotation import quotation_pdf

    quotation = reckon_order(order_id, on=at.date(), offer=offer)
    settings, order = records.current_settings(), queries.order(order_id)
    pdf = quotation_pdf(
        quotation,
        order.order,
        laboratory=settings.laboratory or "Laboratory not named in the settings",
        simulated=order.simulated,
        language=language or settings.language,  # type: ignore[arg-type]
    )
    with writer.transaction():
        writer.add_quotation(quotation, Signature(by=by, at=at, reason=reason))
        store_document(
            order_id, f"{quotation.number}.pdf", pdf, kind="quotation_pdf", by=by, reason=reason, at=at,
        )  # fmt: skip
        return quotation_queries.quotations(order_id)[-1]


def quotations(order_id: str) -> tuple[RecordedQuotation, ...]:
    """All quotations of an order, the earliest first. Raises `NotFound`."""
    from lapwright.records import quotation_queries

    return quotation_queries.quotations(order_id)


def own_wafers(material: str) -> tuple[int, int]:
    """Finished wafers of a material by the lab's own records: those that keep their limits, and those that do not."""
    from lapwright.records import quotation_queries

    tables = frozenset({"wafer", "verdict", "order"})
    return kept_until(tables, ("own wafers", material), lambda: quotation_queries.finished_wafers(material))


def quoted_prices(quotation: Quotation) -> Prices:
    """The prices a quotation was reckoned with, as routes and costs take them."""
    from lapwright.process.route_cost import Prices

    held = quotation.prices
    return Prices(
        person=held.labour, machine=held.station_hour, plates=dict(quotation.plate_hours),
        slurry=dict(held.slurry_hours), pad=held.pad, pad_life=held.pad_life, piece_price=held.piece_price,
        wafer=quotation.wafer_price, are_own=quotation.price_version > 0,
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _cost(
    plan: Plan,
    own: Prices,
    held: PriceList,
    bench: Mapping[str, float],
    *,
    started: int,
    belief: tuple[float, float],
) -> JobCost:
    import numpy as np

    from lapwright.library import load
    from lapwright.process.costing import JobTerms, job_cost, work_lines
    from lapwright.process.spare_wafers import YieldBelief

    lines = work_lines(plan, own, load(), bench=bench, before=BOND)
    terms = JobTerms(started=started, set_up=held.set_up_time, overhead=held.overhead)
    good, lost = belief
    return job_cost(lines, own, terms, YieldBelief(good=good, lost=lost), generator=np.random.default_rng(SEED))


def _invoiced(total: float, quantity: int) -> float:
    """A sum of so many pieces at a price in hundredths, no less than `total`.

    >>> _invoiced(4527.80, 6)
    4527.84
    """
    piece = math.ceil(100.0 * total / quantity - 1e-6) / 100.0
    return round(piece * quantity, 2)


def _delivery(order_id: str, cost: JobCost, on: date) -> Delivery:
    """By the schedule in force where the order is in it, else by the hours of work over those of the shop."""
    from lapwright.app import queue, queue_settings
    from lapwright.app.queue_shop import laboratory_zone
    from lapwright.app.quotation_days import day_done

    promise = queue.promised().get(order_id)
    if promise is not None:
        even, sure = (datetime.fromtimestamp(one, laboratory_zone()).date() for one in (promise.even, promise.sure_90))
        if even > on:
            return Delivery(even=even, sure=sure, basis="board")
    hours = queue_settings.hours()
    found = [day_done(on, work, hours) for work in (cost.time_even, cost.time_sure)]
    if found[0] is None or found[1] is None:
        raise ImpossibleOrder(
            f"The work of {cost.time_sure / 3600.0:.0f} h is not done within ten years of the hours entered."
            " Enter on the Board when people are there."
        )
    return Delivery(even=found[0], sure=found[1], basis="hours")
