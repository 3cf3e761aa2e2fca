"""Use cases: the schedule in force and how it stands now, what a change would do to it, and accepting one.

Nothing is re-planned by itself: a proposal shows what it would change and is recorded only when somebody accepts it.
The search has a deterministic limit and, here, one by the clock.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Literal

from lapwright.app import kept_results
from lapwright.app.queue_shop import ShopNow, shop_now
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.board import (
    BoardFacts,
    BoardPlan,
    ExtraShift,
    HeldTask,
    OrderPromise,
    OrderRank,
    OrderRanks,
    PlannedTask,
    RecordedPlan,
    ShopHours,
)
from lapwright.model.queue import Booking, Closure
from lapwright.model.readings import Signature

if TYPE_CHECKING:
    from lapwright.process.queue_measures import Scheduled
    from lapwright.process.queue_promise import Promise
    from lapwright.process.queue_words import Wait

TICK = 300.0  # s; grain of a schedule
WORK, WALL = 2.5, 6.0
DRAWS, SEED = 2000, 69
FIRST = 20  # what an order that goes first weighs
_MOVED = 900.0  # s; a shift of a start that is worth telling

ChangeKind = Literal["new", "gone", "place", "earlier", "later"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardQuestion:
    """What if: a place down, an order first, extra hours, a task set by hand or let go, or simply planned anew.

    `down` is (place, from, to, why), `extra` (from, to, people).
    """

    down: tuple[str, datetime, datetime, str] | None = None
    first: str | None = None
    extra: tuple[datetime, datetime, int] | None = None
    fix: HeldTask | None = None
    let_go: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderOutlook:
    """How an order stands in a schedule: when it is planned to be done, its promise, how late, and why it waits."""

    order_id: str
    planned: datetime
    due: datetime | None
    late: float
    even: datetime
    sure_80: datetime
    sure_90: datetime
    chance: float | None
    waits: tuple[Wait, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardChange:
    """One task that a proposal moves against the schedule in force."""

    kind: ChangeKind
    task_id: str
    order_id: str
    name: str
    before: PlannedTask | None
    after: PlannedTask | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """A schedule as of a moment. `in_force` is the one accepted; None while there is none, or for a proposal.

    `tasks` are in real time; `scheduled` says what a proposal reached and how far from the best it may be. `changes`
    are against the schedule in force, `was` how orders stand in that.
    """

    now: ShopNow
    bookings: tuple[Booking, ...]
    tasks: tuple[PlannedTask, ...]
    orders: tuple[OrderOutlook, ...]
    in_force: RecordedPlan | None = None
    scheduled: Scheduled | None = None
    changes: tuple[BoardChange, ...] = ()
    was: tuple[OrderOutlook, ...] = ()
    held: tuple[HeldTask, ...] = ()
    question: BoardQuestion = field(default_factory=BoardQuestion)


def moment(at: datetime) -> datetime:
    """The moment a Board is shown for: now, to five minutes; where all records are invented, the last of them.

    A demonstration ends on a day of its own; planned from today all of it would be late by months.
    """
    from lapwright.records import board_queries

    if board_queries.are_all_going_simulated():
        last = last_event()
        if last is not None and last < at - timedelta(days=1):
            at = last
    seconds = int(at.timestamp() // TICK * TICK)
    return datetime.fromtimestamp(seconds, tz=at.tzinfo)


def last_event() -> datetime | None:
    """When a wafer was last moved a step, or an order received; None before the first."""
    from lapwright.records import board_queries

    return board_queries.last_event()


def board(at: datetime) -> Board:
    """The schedule in force as it stands now; without one a first proposal, which nobody has accepted yet.

    Raises `CannotAnswer` when the solver is not installed or the hours do not suffice.
    """
    return kept_results.kept_until_write(("board", at), lambda: _standing(at), besides=kept_results.TALK)


def propose(question: BoardQuestion, at: datetime, *, work: float | None = None) -> Board:
    """What the schedule would be after a change, with what it moves. Nothing is recorded.

    With `work` the search ends there, however long the clock says it takes. Raises `BadInput` for a place, task or
    order that is not there, `CannotAnswer` as `board`.
    """
    return kept_results.kept_until_write(
        ("board", at, question, work), lambda: _proposed(question, at, work), besides=kept_results.TALK
    )


def accept(
    question: BoardQuestion,
    at: datetime,
    *,
    seen: int | None,
    by: str,
    reason: str,
    now: datetime,
    work: float | None = None,
    proposal: Board | None = None,
) -> RecordedPlan:
    """Record what was proposed for a question at a moment, and what the question changes of the shop itself.

    `proposal` is what was shown, worked out here without one; `seen` is the schedule in force that it was compared
    with. Raises `Conflict` when another one was accepted in the meantime.
    """
    from lapwright.records import board_queries, writer

    proposal = proposal or propose(question, at, work=work)
    signature = Signature(by=by, at=now, reason=reason)
    plan = BoardPlan(
        made_at=at.timestamp(),
        tasks=proposal.tasks,
        held=proposal.held,
        promises=tuple(
            OrderPromise(
                order_id=one.order_id, planned=one.planned.timestamp(), even=one.even.timestamp(),
                sure_80=one.sure_80.timestamp(), sure_90=one.sure_90.timestamp(), chance=one.chance,
            )
            for one in proposal.orders
        ),
    )  # fmt: skip
    with writer.transaction():
        before = board_queries.facts()
        after = _facts_after(before, question)
        for place in after.places:
            if place not in before.places:
                writer.put_board_setting(place, signature)
        if after.hours is not None and after.hours != before.hours:
            writer.put_board_setting(after.hours, signature)
        if after.ranks != before.ranks:
            writer.put_board_setting(after.ranks, signature)
        writer.add_board_plan(plan, signature, after=seen)
    found = board_queries.plan_in_force()
    assert found is not None
    return found


def promised() -> dict[str, OrderPromise]:
    """By order, what the schedule in force lets be promised."""
    from lapwright.records import board_queries

    recorded = board_queries.plan_in_force()
    return {} if recorded is None else {one.order_id: one for one in recorded.plan.promises}


# ----------------------------------------------------------------------------------------------------------------------


def _standing(at: datetime) -> Board:
    from lapwright.process.queue import keeps
    from lapwright.records import board_queries

    recorded = board_queries.plan_in_force()
    facts = board_queries.facts()
    if recorded is None:
        return _proposed(BoardQuestion(), at, None)
    now = shop_now(at, facts, recorded.plan.held)
    bookings = keeps(now.shop, _as_bookings(now, recorded.plan.tasks), tick=TICK)
    return replace(_told(now, bookings), in_force=recorded, held=recorded.plan.held)


def _proposed(question: BoardQuestion, at: datetime, work: float | None) -> Board:
    from lapwright.process.queue import schedule
    from lapwright.process.queue_measures import Effort
    from lapwright.records import board_queries

    recorded = board_queries.plan_in_force()
    before = board_queries.facts()
    held = _held_after(() if recorded is None else recorded.plan.held, question)
    now = shop_now(at, _facts_after(before, question), held)
    _need_known(now, question)
    previous = () if recorded is None else _as_bookings(now, recorded.plan.tasks)
    effort = Effort(work=WORK, wall=WALL, clock=time.monotonic) if work is None else Effort(work=work)
    scheduled = schedule(now.shop, effort=effort, tick=TICK, previous=previous)
    told = replace(_told(now, scheduled.bookings), scheduled=scheduled, held=held, question=question)
    if recorded is None:
        return told
    standing = board(at)
    return replace(told, in_force=recorded, changes=_changes(standing.tasks, told.tasks), was=standing.orders)


def _told(now: ShopNow, bookings: tuple[Booking, ...]) -> Board:
    import numpy as np

    from lapwright.process.queue_measures import completions
    from lapwright.process.queue_promise import promises
    from lapwright.process.queue_words import waits_of

    done = completions(now.shop, bookings)
    jobs = {job.job_id: job for job in now.shop.jobs}
    orders = []
    played: tuple[Promise, ...] = promises(now.shop, bookings, draws=DRAWS, generator=np.random.default_rng(SEED))
    for one in played:
        due = jobs[one.job_id].due
        late = 0.0 if due is None else max(0.0, done[one.job_id] - due)
        orders.append(
            OrderOutlook(
                order_id=one.job_id,
                planned=now.moment(done[one.job_id]),
                due=None if due is None else now.moment(due),
                late=late,
                even=now.moment(one.even),
                sure_80=now.moment(one.sure_80),
                sure_90=now.moment(one.sure_90),
                chance=one.chance,
                waits=waits_of(now.shop, bookings, one.job_id),
            )
        )
    orders.sort(key=lambda one: (-one.late, one.due or one.planned, one.order_id))
    return Board(now=now, bookings=bookings, tasks=_as_tasks(now, bookings), orders=tuple(orders))


def _as_tasks(now: ShopNow, bookings: Sequence[Booking]) -> tuple[PlannedTask, ...]:
    start = now.at.timestamp()
    tasks = {task.task_id: task for task in now.shop.tasks}
    return tuple(
        PlannedTask(
            task_id=one.task_id,
            order_id=tasks[one.task_id].job_id,
            name=tasks[one.task_id].name,
            place_id=one.place_id,
            begin=start + min(one.begin, now.ran_since.get(one.task_id, one.begin)),
            start=start + min(one.start, now.ran_since.get(one.task_id, one.start)),
            end=start + one.end,
            why=one.why,
            leads=one.leads,
        )
        for one in bookings
    )


def _as_bookings(now: ShopNow, tasks: Sequence[PlannedTask]) -> tuple[Booking, ...]:
    start = now.at.timestamp()
    return tuple(
        Booking(
            task_id=one.task_id, place_id=one.place_id, begin=one.begin - start, start=one.start - start,
            end=one.end - start, why=one.why, leads=one.leads,
        )
        for one in tasks
    )  # fmt: skip


def _held_after(held: tuple[HeldTask, ...], question: BoardQuestion) -> tuple[HeldTask, ...]:
    gone = {question.let_go, None if question.fix is None else question.fix.task_id}
    kept = tuple(one for one in held if one.task_id not in gone)
    return kept if question.fix is None else (*kept, question.fix)


def _facts_after(facts: BoardFacts, question: BoardQuestion) -> BoardFacts:
    """The settings of the Board with what a question changes of them."""
    from lapwright.app.queue_shop import USUAL_HOURS, known_places

    if question.down is not None:
        place_id, start, end, why = question.down
        closure = Closure(start=start.timestamp(), end=end.timestamp(), reason=why)
        places = known_places(facts)
        found = next((one for one in places if one.place_id == place_id), None)
        if found is None:
            raise BadInput([Fault(sentence=f"There is no place {place_id!r} on the Board.", field="down")])
        others = tuple(one for one in facts.places if one.place_id != place_id)
        facts = replace(facts, places=(*others, replace(found, closed=(*found.closed, closure))))
    if question.extra is not None:
        start, end, people = question.extra
        hours: ShopHours = facts.hours or USUAL_HOURS
        shift = ExtraShift(start=start.timestamp(), end=end.timestamp(), people=people)
        facts = replace(facts, hours=replace(hours, extra=(*hours.extra, shift)))
    if question.first is not None:
        others_ranked = tuple(one for one in facts.ranks.ranks if one.order_id != question.first)
        rank = OrderRank(order_id=question.first, priority=FIRST)
        facts = replace(facts, ranks=OrderRanks(ranks=(*others_ranked, rank)))
    return facts


def _need_known(now: ShopNow, question: BoardQuestion) -> None:
    tasks = {task.task_id: task for task in now.shop.tasks}
    faults = []
    if question.first is not None and question.first not in {job.job_id for job in now.shop.jobs}:
        faults.append(Fault(sentence=f"Order {question.first!r} is not on the Board.", field="first"))
    if question.fix is not None:
        task = tasks.get(question.fix.task_id)
        if task is None:
            faults.append(Fault(sentence=f"Task {question.fix.task_id!r} is not on the Board any more.", field="fix"))
        elif task.running:
            raise Conflict(f"{task.name} of {', '.join(task.pieces)} runs; what runs is not moved.")
        elif question.fix.place_id not in task.places:
            sentence = f"{task.name} cannot be done on {question.fix.place_id!r}; choose of: {', '.join(task.places)}."
            faults.append(Fault(sentence=sentence, field="fix"))
    if faults:
        raise BadInput(faults, subject="The change")


def _changes(before: Sequence[PlannedTask], after: Sequence[PlannedTask]) -> tuple[BoardChange, ...]:
    old = {one.task_id: one for one in before}
    found = []
    for one in after:
        was = old.pop(one.task_id, None)
        kind: ChangeKind | None = None
        if was is None:
            kind = "new"
        elif was.place_id != one.place_id:
            kind = "place"
        elif abs(one.start - was.start) >= _MOVED:
            kind = "later" if one.start > was.start else "earlier"
        if kind is not None:
            found.append(
                BoardChange(kind=kind, task_id=one.task_id, order_id=one.order_id, name=one.name, before=was, after=one)
            )
    found += [
        BoardChange(kind="gone", task_id=one.task_id, order_id=one.order_id, name=one.name, before=one, after=None)
        for one in old.values()
    ]
    return tuple(found)
