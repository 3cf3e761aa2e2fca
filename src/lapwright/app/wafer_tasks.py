"""What each wafer waits for, by where it stands: the verb, the number to dial in, why, and the cautions."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from lapwright.app import cautions, clean_checks, looks
from lapwright.app.gauge_biases import gauge_bias
from lapwright.app.kept_results import TALK, kept_until_write
from lapwright.app.next_stages import NextStage, stage_ahead, wafer_at_work
from lapwright.errors import LapwrightError
from lapwright.model.clean_check import RecordedLook
from lapwright.model.job import RecordedBond, RecordedVerdict, RecordedWafer, WaferState
from lapwright.model.odd_ones import RecordedDecision
from lapwright.model.order import Quantity
from lapwright.model.shelf import RecordedCarrier
from lapwright.model.story import DialNumber, Page, Task, WaferAtWork, ZeroedTravel
from lapwright.units import printed

#: States in which it matters which carriers were read.
NEAR_BOND: tuple[WaferState, ...] = ("measured_in", "stack_read")


def tasks_of_wafers(wafers: Sequence[RecordedWafer]) -> list[Task]:
    """The task of each wafer that waits for somebody; all that they rest on is looked up once for all of them.

    What follows from runs of other orders is left to `settled`.
    """
    if not wafers:
        return []
    standing = _standing_of(wafers)
    return [task for wafer in wafers if (task := _task_of(wafer, standing)) is not None]


def settled(task: Task, now: datetime) -> Task:
    """A task with the number that follows from what runs of any order have taught until now."""
    if task.by_clock and task.wafer_id is not None:
        name, verb = task.wafer_id, task.verb
        told = kept_until_write(("by the clock", name, verb), lambda: _by_clock(name, verb, now), besides=TALK)
        return replace(task, verb=told[0], number=told[1])
    if task.travel is not None:
        bias = gauge_bias(task.travel.station_id, task.travel.jig_id)
        missed = 0.0 if bias is None else bias.learned.correction
        return replace(task, number=_dial(task.travel.length * (1.0 - missed)))
    return task


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Standing:
    """What the tasks of several wafers rest on, looked up once for all of them."""

    opened: Mapping[str, datetime]
    bonds: Mapping[int, RecordedBond]
    routed: frozenset[str]
    at_work: Mapping[str, WaferAtWork]
    verdicts: Mapping[str, tuple[RecordedVerdict, ...]]
    decisions: Mapping[str, RecordedDecision]
    carriers: tuple[RecordedCarrier, ...]
    unmeasured: Mapping[str, tuple[Quantity, ...]]
    blocked: Mapping[int, RecordedLook]


def _standing_of(wafers: Sequence[RecordedWafer]) -> _Standing:
    from lapwright.records import odd_queries, order_queries, queries, story_queries

    in_work = [one.wafer.wafer_id for one in wafers if one.state in ("ready", "in_work")]
    judged = [one.wafer.wafer_id for one in wafers if one.state == "judged"]
    found = [wafer_at_work(in_work[0])] if len(in_work) == 1 else story_queries.wafers_at_work(in_work)
    return _Standing(
        opened=queries.open_since(),
        bonds=queries.bonds(one.bond_id for one in wafers if one.bond_id is not None),
        routed=order_queries.orders_with_route({one.order_id for one in wafers}),
        at_work={one.wafer.wafer.wafer_id: one for one in found},
        verdicts=queries.verdicts_of(judged),
        blocked=clean_checks.blocked_stages(),
        decisions=odd_queries.decisions_of(judged),
        unmeasured=_unmeasured([one for one in wafers if one.state == "read_free"]),
        carriers=queries.carriers() if any(one.state in NEAR_BOND for one in wafers) else (),
    )


def _unmeasured(wafers: Sequence[RecordedWafer]) -> dict[str, tuple[Quantity, ...]]:
    """Wafer -> the limited quantities that nobody has measured yet and no set answers."""
    from lapwright.app.verdicts import not_measured
    from lapwright.records import queries, story_queries

    if not wafers:
        return {}
    names = [one.wafer.wafer_id for one in wafers]
    found = story_queries.quantities_found(names)
    orders = {name: queries.order(name).order for name in {one.order_id for one in wafers}}
    return {
        one.wafer.wafer_id: not_measured(orders[one.order_id], found.get(one.wafer.wafer_id, frozenset()))
        for one in wafers
    }


def _task_of(wafer: RecordedWafer, standing: _Standing) -> Task | None:
    opened = standing.opened.get(wafer.wafer.wafer_id)
    if opened is not None:
        why = "a set was begun and not closed"
        shown = _cautions(wafer, "measure")
        return _task(wafer, "finish reading the sites", "readings", why=why, since=opened, shown=shown)
    make = _MAKERS.get(wafer.state)
    return None if make is None else make(wafer, standing)


def _task(
    wafer: RecordedWafer,
    verb: str,
    page: Page,
    *,
    why: str,
    shown: tuple[str, ...] = (),
    number: DialNumber | None = None,
    since: datetime | None = None,
    warning: bool = False,
) -> Task:
    return Task(
        verb=verb,
        order_id=wafer.order_id,
        wafer_id=wafer.wafer.wafer_id,
        station_id=None,
        number=number,
        since=wafer.since if since is None else since,
        why=why,
        page=page,
        warning=warning,
        cautions=shown,
    )


def _cautions(wafer: RecordedWafer, step: str, bond: RecordedBond | None = None) -> tuple[str, ...]:
    adhesive = "" if bond is None else bond.adhesive
    return cautions.cautions_for(wafer.wafer.material, step=step, adhesive=adhesive)


def _received(wafer: RecordedWafer, _standing: _Standing) -> Task:
    return _task(wafer, "read it in", "readings", why="it has not been read yet", shown=_cautions(wafer, "measure"))


def _measured_in(wafer: RecordedWafer, standing: _Standing) -> Task:
    free = [one for one in standing.carriers if one.wafer_id is None]
    unread = next((one.carrier.carrier_id for one in free if one.set_id is None), None)
    if unread is not None and all(one.set_id is None for one in free):
        why = f"no free carrier has been read, and under a wafer {unread} cannot be"
        task = _task(wafer, "read a bare carrier", "carrier", why=why, shown=_cautions(wafer, "measure"))
        return replace(task, piece=unread)
    why = "it is read in and free" if free else "it is read in; no carrier is free: take a wafer off, or enter another"
    return _task(wafer, "bond it to a carrier", "bond", why=why, shown=_cautions(wafer, "bond"))


def _bonded(wafer: RecordedWafer, _standing: _Standing) -> Task:
    return _task(
        wafer, "read the stack", "readings", why="the bond is not known yet", shown=_cautions(wafer, "measure")
    )


def _stack_read(wafer: RecordedWafer, standing: _Standing) -> Task:
    bond = standing.bonds.get(wafer.bond_id or 0)
    if bond is None or bond.verdict is None:
        name = None if bond is None else bond.carrier_id
        if any(one.carrier.carrier_id == name and one.set_id is None for one in standing.carriers):
            why = f"{name} was bonded unread; enter what it measured before, or bond again on one that was read"
            task = _task(wafer, "enter the readings of its carrier", "carrier", why=why, warning=True)
            return replace(task, piece=name)
        return _task(wafer, "judge the bond", "bond", why="the stack is read")
    rebond = bond.verdict.advice == "rebond"
    verb = "decide: bond again or go on" if rebond else "decide: keep the bond"
    return _task(wafer, verb, "bond", why=bond.verdict.reason, warning=rebond)


def _rebond(wafer: RecordedWafer, standing: _Standing) -> Task:
    bond = standing.bonds.get(wafer.bond_id or 0)
    why = "" if bond is None or bond.decided is None else bond.decided.reason
    why = why or "it was decided to bond again"
    return _task(wafer, "take it off and bond it again", "bond", why=why, shown=_cautions(wafer, "debond", bond))


def _in_work(wafer: RecordedWafer, standing: _Standing) -> Task:
    if wafer.order_id not in standing.routed:
        return _task(wafer, "choose a route for the order", "route", why="the order has no route yet")
    at_work = standing.at_work[wafer.wafer.wafer_id]
    if wafer.state == "ready" and not at_work.stages:
        return _task(
            wafer, "lay out its stages", "route", why="the route is not fitted to this wafer yet", warning=True
        )
    try:
        ahead = stage_ahead(at_work)
    except LapwrightError as error:
        return _task(wafer, "look at its readings", "readings", why=error.sentence, warning=True)
    if ahead is None:
        return _task(
            wafer, "read it on the carrier", "readings", why="all stages are done", shown=_cautions(wafer, "measure")
        )
    return _stage_task(wafer, ahead, at_work, standing)


def _stage_task(wafer: RecordedWafer, ahead: NextStage, at_work: WaferAtWork, standing: _Standing) -> Task:
    planned = ahead.planned
    if looks.needs_look(ahead.stage, at_work.stages):
        return _look_task(wafer, ahead, at_work, standing.blocked.get(ahead.stage.stage_id))
    verb = "rinse and read the stack" if planned.kind == "measure" else planned.name
    number = None
    if ahead.preset is not None:
        number = _dial(ahead.preset)
    past = planned.removal > 0.0 and ahead.removal <= 0.0
    why = f"now {printed(ahead.thickness_now, 'µm', 'length')}"
    if planned.removal > 0.0:
        why += f", after this stage {printed(ahead.thickness_after, 'µm', 'length')}"
    if past:
        why += "; it is past this stage already: leave it out"
    task = _task(
        wafer, verb, "readings" if planned.kind == "measure" else "traveller", why=why,
        number=number, since=_stage_since(wafer, ahead, at_work), warning=past, shown=ahead.cautions,
    )  # fmt: skip
    zero, travel = ahead.zero, None
    if zero is not None and ahead.travel is not None:
        travel = ZeroedTravel(length=ahead.travel, station_id=zero.station_id, jig_id=zero.jig_id)
    return replace(task, travel=travel, by_clock=number is None and planned.kind == "polish" and bool(planned.rate))


def _dial(value: float) -> DialNumber:
    return DialNumber(label="dial in", value=value, dimension="length", symbol="µm")


def _look_task(wafer: RecordedWafer, ahead: NextStage, at_work: WaferAtWork, blocked: RecordedLook | None) -> Task:
    """A cleaning that ends with a look: before another abrasive, or before release."""
    _before, after = looks.around(ahead.stage, at_work.stages)
    if not after:
        verb, why = "clean it and look before it is released", "no more is worked; a film counts as thickness"
    else:
        following = next(one.stage for one in at_work.stages if one.number > ahead.stage.number and one.stage.abrasive)
        kind = "polish" if following.kind == "polish" else "next abrasive"
        verb, why = f"wash before the {kind}, and look", "a grain carried on scratches"
    if blocked is not None:
        verb, why = f"again: {verb}", f"not clean: {blocked.signature.reason}"
    since = _stage_since(wafer, ahead, at_work)
    return _task(wafer, verb, "changeover", why=why, since=since, warning=blocked is not None, shown=ahead.cautions)


def _by_clock(wafer_id: str, verb: str, now: datetime) -> tuple[str, DialNumber | None]:
    """What to do for a stage by the clock, and for how long."""
    from lapwright.app.clock_runs import clock_advice

    try:
        advice = clock_advice(wafer_id, at=now)
    except LapwrightError:
        return verb, None
    if advice.missing:
        return f"{verb}: rinse, and read the stack or weigh it", None
    if advice.two_steps is None:
        number = DialNumber(label="finish in", value=advice.one_step.time, dimension="time", symbol="min")
        return verb, number
    first = advice.two_steps.first.time
    return verb, DialNumber(label="polish first for", value=first, dimension="time", symbol="min")


def _stage_since(wafer: RecordedWafer, ahead: NextStage, at_work: WaferAtWork) -> datetime:
    """When the stage before ended, so that waiting counts from there."""
    ended = [one.ended for one in at_work.stages if one.ended and one.number < ahead.stage.number]
    return max([wafer.since, *ended])


def _worked(wafer: RecordedWafer, _standing: _Standing) -> Task:
    why = "all stages are done; after debonding there is no way back to the plate"
    return _task(wafer, "read it on the carrier", "readings", why=why, shown=_cautions(wafer, "measure"))


def _read_on_carrier(wafer: RecordedWafer, standing: _Standing) -> Task:
    return _task(
        wafer,
        "take it off the carrier",
        "bond",
        why="it is through and read on the carrier",
        shown=_cautions(wafer, "debond", standing.bonds.get(wafer.bond_id or 0)),
    )


def _debonded(wafer: RecordedWafer, _standing: _Standing) -> Task:
    shown = tuple(dict.fromkeys((*_cautions(wafer, "clean"), *_cautions(wafer, "measure"))))
    return _task(wafer, "clean it and read it free", "readings", why="it is off the carrier", shown=shown)


def _read_free(wafer: RecordedWafer, standing: _Standing) -> Task:
    missing = standing.unmeasured.get(wafer.wafer.wafer_id, ())
    if not missing:
        return _task(wafer, "judge it", "traveller", why="the final set is closed")
    word, page = _MEASURED_ON[missing[0]]
    why = f"its order limits the {word}, which nobody has measured yet"
    return _task(wafer, f"measure the {word}", page, why=why, shown=_cautions(wafer, "measure"))


def _judged(wafer: RecordedWafer, standing: _Standing) -> Task:
    from lapwright.app.verdicts import latest_verdicts

    verdicts = latest_verdicts(standing.verdicts.get(wafer.wafer.wafer_id, ()))
    odd = [one.verdict for one in verdicts if one.verdict.outcome != "conforms"]
    if not odd:
        return _task(wafer, "issue the certificate", "certificate", why="it conforms to every limit")
    failed = next((one for one in odd if one.outcome == "does_not_conform"), odd[0])
    why = f"{failed.limit.quantity.replace('_', ' ')}: {failed.reason}"
    decision = standing.decisions.get(wafer.wafer.wafer_id)
    choice = None
    if decision is not None and decision.signature.at >= max(one.signature.at for one in verdicts):
        choice = decision.choice
    if choice == "customer_accepts":
        return _task(wafer, "issue the certificate", "certificate", why="its customer accepts it as it is")
    if choice == "ask_customer":
        return _task(wafer, "hear what the customer says", "odd", why=why)
    if choice == "read_again" or failed.outcome == "cannot_be_decided":
        return _task(wafer, "read it again", "readings", why=why, warning=True, shown=_cautions(wafer, "measure"))
    return _task(wafer, "decide what to do with it", "odd", why=why, warning=True)


#: What no set of readings answers -> its word, and the page on which it is measured.
_MEASURED_ON: dict[Quantity, tuple[str, Page]] = {
    "roughness_ra": ("Ra", "profiles"),
    "roughness_sq": ("Sq", "profiles"),
    "flatness": ("flatness", "surfaces"),
    "bow": ("bow", "traveller"),
    "warp": ("warp", "traveller"),
}
_MAKERS: dict[WaferState, Callable[[RecordedWafer, _Standing], Task]] = {
    "received": _received,
    "measured_in": _measured_in,
    "bonded": _bonded,
    "stack_read": _stack_read,
    "rebond": _rebond,
    "ready": _in_work,
    "in_work": _in_work,
    "worked": _worked,
    "read_on_carrier": _read_on_carrier,
    "debonded": _debonded,
    "read_free": _read_free,
    "judged": _judged,
}

#: States in which a wafer waits for somebody.
WAITING: tuple[WaferState, ...] = tuple(_MAKERS)
