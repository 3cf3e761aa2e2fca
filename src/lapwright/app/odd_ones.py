"""Use cases: wafers that do not keep their limits. What can be done, at what cost and chance, and what was decided.

A decision is a record with a name and a reason; a later one stands beside it. No certificate is written while a judged
wafer of the order waits for one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING, Literal

from lapwright.app import standing
from lapwright.app.standing import WayToBeSure
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.odd_ones import OddChoice, OddWafer, RecordedDecision
from lapwright.model.order import Order
from lapwright.model.plan import Plan
from lapwright.model.readings import Signature

if TYPE_CHECKING:
    from lapwright.metrology.thickness import ThicknessResult

CHOICES: tuple[OddChoice, ...] = ("read_again", "rework", "spare", "ask_customer", "customer_accepts", "scrap")
MOST_LETTERS = 10_000
Impossible = Literal["", "below_limit", "nothing_to_take", "no_route", "not_read", "no_doubt"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OddOption:
    """One thing that could be done: chance that it helps, what it costs, how long it takes; None where none can be had.

    `impossible` says why it cannot be done, with `sentence` where the planning said it. `short` counts the pieces that
    the delivery would lack afterwards; `below` [m] is how far the wafer lies under its lower limit.
    """

    choice: OddChoice
    chance: float | None = None
    cost: float | None = None
    time: float | None = None
    impossible: Impossible = ""
    sentence: str = ""
    plan: Plan | None = None
    way: WayToBeSure | None = None
    short: int | None = None
    below: float | None = None


def odd_wafers(*, most: int | None = None) -> tuple[OddWafer, ...]:
    """Judged wafers that do not keep a limit, or cannot be shown to, and those set aside; the longest waiting first."""
    from lapwright.records import odd_queries

    return odd_queries.odd_wafers(most=most)


def odd_count() -> int:
    """How many there are at most, counted without looking at each."""
    from lapwright.records import odd_queries

    return odd_queries.odd_count()


def decided_wafers(count: int) -> tuple[OddWafer, ...]:
    """Those that were decided about or ended last, the latest first."""
    from lapwright.records import odd_queries

    return odd_queries.decided_wafers(count)


def show_odd(wafer_id: str) -> OddWafer:
    """One wafer with its standing verdicts, photographs and decisions. Raises `NotFound`."""
    from lapwright.records import odd_queries

    return odd_queries.odd_wafer(wafer_id)


def odd_mark(odd: OddWafer) -> str:
    """A short text that changes with state, verdicts and decisions of a wafer; given back with a decision."""
    last = max((one.verdict_id for one in odd.verdicts), default=0)
    return f"{odd.wafer.version}.{last}.{len(odd.decisions)}"


def decide(wafer_id: str, choice: OddChoice, *, seen: str = "", by: str, reason: str, at: datetime) -> RecordedDecision:
    """Record what is done about a wafer that does not keep its limits, and move it where that leads.

    One to be worked again or kept as a spare is set aside, one to be scrapped is rejected; the others stay. `seen` is
    the `odd_mark` that the person saw. Raises `Conflict` for a wafer that keeps its limits, is not judged, or has
    changed since; `BadInput` for a choice that is none, or without a reason.
    """
    from lapwright.records import odd_queries, writer

    _check(choice, reason)
    signature = Signature(by=by, at=at, reason=reason.strip())
    with writer.transaction():
        odd = odd_queries.odd_wafer(wafer_id)
        _need_same(odd, seen)
        _need_odd(odd, choice)
        failed = tuple(one.verdict.limit.quantity for one in odd.failed)
        recorded = writer.add_decision(wafer_id, choice, failed, signature)
        after = {"rework": "set_aside", "spare": "set_aside", "scrap": "rejected"}.get(choice)
        if after is not None and after != odd.wafer.state:
            writer.move_wafer(wafer_id, after, signature)  # type: ignore[arg-type]
        return recorded


def leaving(wafer_ids: Sequence[str]) -> dict[str, OddWafer]:
    """Those of some judged or certified wafers that may leave, by name.

    Raises `Conflict` naming those that do not keep their limits and wait for a decision: nothing leaves before it.
    """
    from lapwright.records import odd_queries

    found = odd_queries.odd_of(wafer_ids)
    waiting = [name for name, one in found.items() if one.is_waiting]
    if waiting:
        raise Conflict(
            f"Nothing is decided yet about {', '.join(waiting)}, which do not keep their limits or cannot be shown to."
            " Decide on the page Odd ones first; nothing leaves without a decision.",
            waiting=waiting,
        )
    return {name: one for name, one in found.items() if one.may_leave or one.wafer.state == "certified"}


def final_result(wafer_id: str) -> ThicknessResult:
    """What the last closed final set of a wafer says. Raises `NotFound`, and `Conflict` without such a set."""
    from lapwright.records import queries

    queries.wafer(wafer_id)
    result = _final(wafer_id)
    if result is None:
        raise Conflict(f"Wafer {wafer_id!r} has no closed final set: its thickness is not known. Read it free first.")
    return result


def options(odd: OddWafer, order: Order, *, on: date) -> tuple[OddOption, ...]:
    """What can be done about a wafer, each with what it costs and how likely it helps as far as that can be computed.

    Reading again is judged by the budget of the last set, rework by routes from the thickness as read last.
    """
    short = _short_without(odd, order)
    value = order.value_per_wafer
    return (
        _read_again(odd, order, on),
        replace(_rework(odd.wafer.wafer.wafer_id, order, on), short=short),
        OddOption(choice="spare", cost=0.0 if short == 0 else value, short=short),
        OddOption(choice="ask_customer", cost=0.0),
        OddOption(choice="customer_accepts", cost=0.0),
        OddOption(choice="scrap", cost=value, short=short),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _check(choice: str, reason: str) -> None:
    faults = []
    if choice not in CHOICES:
        sentence = f"Found {choice!r}, expected one of {', '.join(CHOICES)}."
        faults.append(Fault(sentence=sentence, field="choice"))
    if not reason.strip():
        faults.append(Fault(sentence="A decision needs its reason; say why this and not another.", field="reason"))
    if len(reason) > MOST_LETTERS:
        sentence = f"The reason is {len(reason)} letters long; at most {MOST_LETTERS} can be kept. Shorten it."
        faults.append(Fault(sentence=sentence, field="reason"))
    if faults:
        raise BadInput(faults, subject="The decision")


def _need_same(odd: OddWafer, seen: str) -> None:
    if not seen or seen == odd_mark(odd):
        return
    last = odd.decisions[-1].signature if odd.decisions else odd.stopped or odd.wafer.signature
    what = f"decided on by {last.by}" if odd.decisions else "changed"
    raise Conflict(
        f"Wafer {odd.wafer.wafer.wafer_id!r} was {what} at {last.at:%Y-%m-%d %H:%M} UTC, after this page was made."
        " Nothing was recorded; look at it again, then decide."
    )


def _need_odd(odd: OddWafer, choice: OddChoice) -> None:
    name, state = odd.wafer.wafer.wafer_id, odd.wafer.state
    if state == "set_aside" and choice == "scrap":
        return
    if state != "judged":
        where = state.replace("_", " ")
        advice = "Take it up again first." if state == "set_aside" else "A decision is made about a judged wafer."
        raise Conflict(f"Wafer {name!r} is {where}, not among the judged ones. {advice}", state=state)
    if not odd.failed:
        raise Conflict(
            f"Wafer {name!r} keeps all its limits; there is nothing to decide. It goes with the certificate."
        )
    if choice == "read_again" and not any(one.verdict.outcome == "cannot_be_decided" for one in odd.failed):
        raise Conflict(f"Every limit of wafer {name!r} is decided; reading it again would only repeat that.")


def _short_without(odd: OddWafer, order: Order) -> int:
    """How many pieces the delivery would lack without this wafer, if every other one turns out well."""
    from lapwright.records import odd_queries

    name = odd.wafer.wafer.wafer_id
    others = [one for one in odd_queries.wafers_of(odd.wafer.order_id) if one.wafer.wafer.wafer_id != name]
    return max(0, order.quantity - sum(_may_be_good(one) for one in others))


def _may_be_good(one: OddWafer) -> bool:
    if one.wafer.state in ("rejected", "set_aside"):
        return False
    return one.wafer.state == "certified" or all(each.verdict.outcome != "does_not_conform" for each in one.failed)


def _read_again(odd: OddWafer, order: Order, on: date) -> OddOption:
    found = standing.wafer_standing(odd, order, latest_final=None, on=on)
    doubtful = [one for one in found.limits if one.standing == "doubtful"]
    if not doubtful or any(one.standing == "fails" for one in found.limits):
        return OddOption(choice="read_again", impossible="no_doubt")
    ways = [one.ways[0] for one in doubtful if one.ways]
    if len(ways) < len(doubtful):
        return OddOption(choice="read_again")
    longest = max(ways, key=lambda way: way.readings)
    return OddOption(
        choice="read_again", chance=math.prod(way.chance_accepted for way in ways), time=longest.time, way=longest
    )


def _rework(wafer_id: str, order: Order, on: date) -> OddOption:
    """Routes from the present thickness, with the same terms; chance, time and cost of the best."""
    result = _final(wafer_id)
    if result is None:
        return OddOption(choice="rework", impossible="not_read")
    limit = order.limit("thickness")
    lower = order.target_thickness if limit is None or limit.lower is None else limit.lower
    if result.mean <= lower:
        return OddOption(choice="rework", impossible="below_limit", below=lower - result.mean)
    if result.mean <= order.target_thickness:
        return OddOption(choice="rework", impossible="nothing_to_take")
    return _planned(replace(order, quantity=1, spares=0, start_thickness=result.mean, start_ttv=result.ttv), on)


def _final(wafer_id: str) -> ThicknessResult | None:
    """What the last closed final set says; None without one."""
    from lapwright.app import set_values
    from lapwright.records import queries

    final = queries.latest_set(wafer_id, "wafer", "final")
    return None if final is None else set_values.result_of(final)


def _planned(order: Order, on: date) -> OddOption:
    from lapwright.app.typed_routes import best_route

    plan, sentence = best_route(order, on=on)
    if plan is None:
        return OddOption(choice="rework", impossible="no_route", sentence=sentence)
    return OddOption(
        choice="rework", chance=plan.chance_in_tolerance, cost=plan.total_cost, time=plan.total_time, plan=plan
    )
