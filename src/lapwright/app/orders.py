"""Use cases: orders and their wafers."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from datetime import date, datetime

from lapwright.app import steps
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.job import NoteKind, RecordedNote, RecordedOrder, RecordedWafer, WaferState
from lapwright.model.order import Order
from lapwright.model.readings import Moment, Signature
from lapwright.model.request import GivenWafer
from lapwright.model.story import OrderBrief, OrderLine, OrdersShown, OrderStanding, OrderStory, SetHead, WaferStory
from lapwright.model.wafer import Wafer

MOST_LETTERS = 10_000  # of a note
_NAME = re.compile(r"[\w.+-][\w.+ -]*")


def receive_order(
    order: Order,
    *,
    wafer_ids: Sequence[str] = (),
    given: Sequence[GivenWafer] = (),
    simulated: bool = False,
    by: str,
    reason: str,
    at: datetime,
) -> RecordedOrder:
    """Record an order and its wafers.

    `given` names them with their thickness and which are spares, where the customer's list tells; a thickness that is
    not told is that of the order. Without it and without `wafer_ids` they are numbered after the order (AP-2407-01 …).
    Where nothing tells the spares they come last. Raises `Conflict` when the order or a wafer is known already,
    `BadInput` with every fault.
    """
    from lapwright.records import writer

    named = tuple(given) or tuple(GivenWafer(name=name) for name in tuple(wafer_ids) or _numbered(order))
    _check(order, named)
    wafers = [
        Wafer(
            wafer_id=one.name,
            material=order.material,
            outline=order.outline,
            nominal_thickness=order.start_thickness if one.thickness is None else one.thickness,
            orientation=order.orientation,
            spare=number >= order.quantity if one.spare is None else one.spare,
        )
        for number, one in enumerate(named)
    ]
    return writer.add_order(order, wafers, simulated=simulated, signature=Signature(by=by, at=at, reason=reason))


def gauge_doubts(order: Order, *, on: date) -> tuple[str, ...]:
    """What of an order the gauges on record cannot prove, or only just, in sentences."""
    from lapwright.app import gauges
    from lapwright.process.risks import order_proofs

    known = [recorded.gauge for recorded in gauges.list_gauges(on=on)]
    return tuple(proof.sentence for proof in order_proofs(order, known) if not proof.is_enough)


def copy_order(
    source_id: str,
    order: Order,
    *,
    wafer_ids: Sequence[str] = (),
    given: Sequence[GivenWafer] = (),
    by: str,
    reason: str,
    at: datetime,
) -> RecordedOrder:
    """Record a new order made after an earlier one; its note says after which. Raises `NotFound`, `Conflict`."""
    from lapwright.records import queries, writer

    queries.order(source_id)
    with writer.transaction():
        recorded = receive_order(order, wafer_ids=wafer_ids, given=given, by=by, reason=reason, at=at)
        add_note(order.order_id, f"Made after order {source_id}.", by=by, reason=reason, at=at)
        return recorded


def amend_order(order: Order, *, version: int, by: str, reason: str, at: datetime) -> RecordedOrder:
    """Record changed terms of an order. Raises `Conflict`, saying what changed, when `version` is not the latest.

    Outline, quantity and start thickness cannot change once a wafer has been read.
    """
    from lapwright.records import queries, writer

    with writer.transaction():
        known = queries.order(order.order_id).order
        started = any(wafer.state != "received" for wafer in queries.wafers(order.order_id))
        fixed = ("outline", "quantity", "spares", "start_thickness", "material")
        changed = [name for name in fixed if getattr(order, name) != getattr(known, name)]
        if changed and (started or "quantity" in changed or "spares" in changed):
            raise Conflict(
                f"The {', '.join(changed).replace('_', ' ')} of order {order.order_id!r} cannot change any more."
                " Record a new order for it (copy this one)."
            )
        return writer.change_order(order, version=version, signature=Signature(by=by, at=at, reason=reason))


def list_orders(
    which: OrdersShown = "all", *, find_text: str = "", start: int = 0, count: int | None = None
) -> tuple[OrderLine, ...]:
    """Orders, the earliest due first, those without a date last; finished ones alone the latest due first."""
    from lapwright.records import order_queries

    return order_queries.order_lines(which=which, find_text=find_text, start=start, count=count)


def count_orders(which: OrdersShown, *, find_text: str = "") -> int:
    """How many orders `list_orders` would give without a limit."""
    from lapwright.records import order_queries

    return order_queries.orders_count(which, find_text)


def recorded_order(order_id: str) -> RecordedOrder:
    """An order without what happened to its wafers. Raises `NotFound` with the nearest name."""
    from lapwright.records import queries

    return queries.order(order_id)


def order_wafers(order_id: str) -> tuple[RecordedWafer, ...]:
    """The wafers of an order, where each stands now."""
    from lapwright.records import queries

    return queries.wafers(order_id)


def recorded_wafer(wafer_id: str) -> RecordedWafer:
    """One wafer, where it stands now. Raises `NotFound`."""
    from lapwright.records import queries

    return queries.wafer(wafer_id)


def order_notes(order_id: str) -> tuple[RecordedNote, ...]:
    """The notes of an order as a whole."""
    from lapwright.records import story_queries

    return story_queries.order_notes(order_id)


def list_sets(order_id: str) -> tuple[SetHead, ...]:
    """The sets of readings of an order's wafers, and of carriers for it, without the readings, the earliest first."""
    from lapwright.records import story_queries

    return story_queries.set_heads(order_id)


def open_sets_of(piece: str) -> tuple[tuple[int, str | None, Moment], ...]:
    """The open sets of a wafer or carrier: number, order and moment."""
    from lapwright.records import story_queries

    return story_queries.open_sets_of(piece)


def show_order(order_id: str) -> OrderStory:
    """All that is recorded of an order. Raises `NotFound` with the nearest name."""
    from lapwright.records import story_queries

    return story_queries.order_story(order_id)


def order_brief(order_id: str) -> OrderBrief:
    """What was done on an order, without its readings. Raises `NotFound` with the nearest name."""
    from lapwright.records import brief_queries

    return brief_queries.order_brief(order_id)


def order_standing(order_id: str) -> OrderStanding:
    """Where an order stands, without the readings that led there. Raises `NotFound` with the nearest name."""
    from lapwright.records import story_queries

    return story_queries.order_standing(order_id)


def show_wafer(wafer_id: str) -> WaferStory:
    """All that is recorded of a wafer. Raises `NotFound` with the nearest name."""
    from lapwright.records import story_queries

    return story_queries.wafer_story(wafer_id)


def add_note(
    order_id: str,
    text: str,
    *,
    wafer_id: str | None = None,
    kind: NoteKind = "note",
    by: str,
    reason: str,
    at: datetime,
) -> RecordedNote:
    """Record words about an order or one of its wafers; a warning is shown until the order is closed."""
    from lapwright.records import writer

    if not text.strip():
        raise BadInput([Fault(sentence="The note is empty; write what the next person must know.", field="text")])
    if len(text) > MOST_LETTERS:
        sentence = f"The note is {len(text)} letters long; at most {MOST_LETTERS} are kept. Shorten it."
        raise BadInput([Fault(sentence=sentence, field="text")])
    signature = Signature(by=by, at=at, reason=reason)
    return writer.add_note(order_id, text, wafer_id=wafer_id, kind=kind, signature=signature)


def set_aside(wafer_id: str, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedWafer:
    """Take a wafer out of the work until it is taken up again; it keeps its place."""
    return _move(wafer_id, "set_aside", Signature(by=by, at=at, reason=reason), version)


def take_up(wafer_id: str, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedWafer:
    """Go on with a wafer that was set aside, where it stood."""
    from lapwright.records import queries, writer

    with writer.transaction():
        wafer = queries.wafer(wafer_id)
        steps.need_state(wafer, ("set_aside",), "Taking up")
        place = next(event.before for event in reversed(queries.events(wafer_id)) if event.after == "set_aside")
        return writer.move_wafer(wafer_id, place, Signature(by=by, at=at, reason=reason), version=version)


def reject_wafer(wafer_id: str, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedWafer:
    """End the work on a wafer that will not be delivered: broken, or out of its limits. The reason must say why."""
    if not reason.strip():
        raise BadInput([Fault(sentence="A rejected wafer needs its reason; say what happened to it.", field="reason")])
    return _move(wafer_id, "rejected", Signature(by=by, at=at, reason=reason), version)


# ----------------------------------------------------------------------------------------------------------------------


def _move(wafer_id: str, after: WaferState, signature: Signature, version: int | None) -> RecordedWafer:
    from lapwright.records import queries, writer

    with writer.transaction():
        steps.need_step(queries.wafer(wafer_id), after)
        return writer.move_wafer(wafer_id, after, signature, version=version)


def _numbered(order: Order) -> tuple[str, ...]:
    return tuple(f"{order.order_id}-{number:02d}" for number in range(1, order.quantity + order.spares + 1))


def _check(order: Order, named: Sequence[GivenWafer]) -> None:
    names = [one.name for one in named]
    faults = [*_count_faults(order, named)]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        faults.append(
            Fault(sentence=f"Named twice: {', '.join(twice)}. Give every wafer its own name.", field="wafer_ids")
        )
    faults += [
        Fault(sentence=f"The {what} is {len(name)} letters long; at most 60 can be kept.", field=what)
        for what, name in [("order_id", order.order_id), *(("wafer_ids", name) for name in names)]
        if not 0 < len(name.strip()) <= 60
    ]
    faults += [
        Fault(
            sentence=f"The name {name!r} has signs that cannot stand in an address. Use letters, digits, dots, dashes,"
            " underscores, plus signs and blanks.",
            field=what,
        )
        for what, name in [("order_id", order.order_id), *(("wafer_ids", name) for name in names)]
        if name.strip() and not _NAME.fullmatch(name)
    ]
    faults += [_thin_fault(order, one) for one in named if (one.thickness or math.inf) <= order.target_thickness]
    if not order.customer.strip():
        faults.append(Fault(sentence="The order names no customer; give one.", field="customer"))
    if not order.start_thickness > order.target_thickness:
        faults.append(Fault(
            sentence="The target is not thinner than the start; lapping can only take away. Mend one of the two.",
            field="target_thickness",
        ))  # fmt: skip
    if faults:
        raise BadInput(faults, subject="The order")


def _count_faults(order: Order, named: Sequence[GivenWafer]) -> Iterator[Fault]:
    wanted = order.quantity + order.spares
    if len(named) != wanted:
        sentence = f"{len(named)} wafers are named; the order is for {order.quantity} and {order.spares} spare."
        yield Fault(sentence=f"{sentence} Name {wanted}.", field="wafer_ids")
    told = [one.spare for one in named if one.spare is not None]
    if told and sum(told) != order.spares:
        sentence = f"The list marks {sum(told)} as spare; the order says {order.spares}. Mend one of the two."
        yield Fault(sentence=sentence, field="wafer_ids")


def _thin_fault(order: Order, one: GivenWafer) -> Fault:
    from lapwright.units import printed

    found, target = printed(one.thickness or 0.0, "µm", "length"), printed(order.target_thickness, "µm", "length")
    sentence = f"Wafer {one.name} is listed with {found}, not thicker than the {target} wanted. Look at its unit."
    return Fault(sentence=sentence, field="wafer_ids")
