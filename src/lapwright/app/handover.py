"""Use case: what must the next shift know? A card derived from the records, signed by who gives it and who reads it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from lapwright.app import clean_checks, orders, tasks
from lapwright.errors import BadInput, Fault
from lapwright.model.handover import Card, CardPart, RecordedHandover
from lapwright.model.job import RecordedRun
from lapwright.model.readings import Signature
from lapwright.model.story import OrderLine, Task
from lapwright.model.wafer_names import named_together

MOST_LETTERS = 10_000
PROMISED_WITHIN = timedelta(days=3)
KEPT_IN_SIGHT = 10


def card_now(station_id: str = "", *, now: datetime) -> Card:
    """What runs, waits, is unsafe and is promised now, at one station or everywhere.

    Nothing that runs is missing: runs are those of the records, whether a gauge follows them or not. Raises `NotFound`
    for an unknown station.
    """
    from lapwright.records import queries

    if station_id:
        queries.station(station_id)
    runs = [run for run in queries.running_runs() if station_id in ("", run.station_id)]
    waiting = tasks.waiting_tasks(now=now)
    here = {run.wafer_id for run in runs}
    at_place = [one for one in waiting if not station_id or one.station_id == station_id or one.wafer_id in here]
    blocked = clean_checks.blocked_stages().values() if not station_id else ()
    parts: list[tuple[CardPart, Iterable[str]]] = [
        ("unsafe", [*(_told(one) for one in at_place if one.warning), *(_blocked(one.stage_id) for one in blocked)]),
        ("running", [*(_running(run) for run in runs), *(() if station_id else _cooling(now))]),
        (
            "waiting",
            [
                *_told_together([one for one in at_place if not one.warning and one.wafer_id not in here]),
                *(() if station_id else _studied()),
            ],
        ),
        ("promised", () if station_id else _promised(now.date())),
    ]
    return tuple((part, tuple(lines)) for part, lines in parts)


def give(station_id: str, note: str, *, by: str, reason: str, at: datetime) -> RecordedHandover:
    """Record the card as it stands, with words beside it. Raises `BadInput` for a note that is too long."""
    from lapwright.records import writer

    if len(note) > MOST_LETTERS:
        sentence = f"The note is {len(note)} letters long; at most {MOST_LETTERS} are kept. Shorten it."
        raise BadInput([Fault(sentence=sentence, field="note")])
    card = card_now(station_id, now=at)
    return writer.add_handover(station_id, card, note.strip(), Signature(by=by, at=at, reason=reason))


def take(handover_id: int, *, by: str, reason: str, at: datetime) -> RecordedHandover:
    """Record that it was read. Raises `NotFound`; `Conflict` when it was before; `BadInput` by who gave it."""
    from lapwright.records import shift_queries, writer

    given = shift_queries.handover(handover_id)
    if given.given.by == by:
        sentence = f"{by} gave this handover; whoever takes over signs it. Choose who works here first."
        raise BadInput([Fault(sentence=sentence, field="by")])
    return writer.take_handover(handover_id, Signature(by=by, at=at, reason=reason))


def latest() -> tuple[RecordedHandover, ...]:
    """The latest handovers, the newest first."""
    from lapwright.records import shift_queries

    return shift_queries.handovers(KEPT_IN_SIGHT)


# ----------------------------------------------------------------------------------------------------------------------


def _running(run: RecordedRun) -> str:
    return f"{run.station_id}: {run.wafer_id} runs, started {_clock(run.started)} by {run.started_by.by}"


def _clock(moment: datetime) -> str:
    from lapwright.app.queue_shop import laboratory_zone

    return f"{moment.astimezone(laboratory_zone()):%H:%M}"


def _cooling(now: datetime) -> Iterable[str]:
    """Stacks that were bonded so lately that they still cool, by the time the Board plans with."""
    from lapwright.app import queue_settings
    from lapwright.records import queries

    cooling = timedelta(seconds=queue_settings.times().cooling)
    bonded = queries.wafers_in_states(("bonded",))
    bonds = queries.bonds(one.bond_id for one in bonded if one.bond_id is not None)
    for bond in sorted(bonds.values(), key=lambda one: one.made.at):
        until = bond.made.at + cooling
        if until > now:
            yield f"{bond.wafer_id} cools on {bond.carrier_id} until {_clock(until)}"


def _studied() -> Iterable[str]:
    """Studies of gauges that were begun and are not through: their lines must be read in their order."""
    from lapwright.app import gauge_studies

    for one in gauge_studies.list_studies():
        if one.is_open and one.readings and one.next_line is not None:
            read, asked = len(one.standing), len(one.plan.sheet)
            yield f"{one.plan.gauge_id}: study {one.plan.study_id} goes on, {read} of {asked} lines are read"


def _told(task: Task) -> str:
    about = ", ".join(filter(None, (task.station_id, task.wafer_id or task.order_id)))
    return f"{about}: {task.verb} ({task.why})" if about else f"{task.verb} ({task.why})"


def _told_together(waiting: Iterable[Task]) -> Iterable[str]:
    """Tasks in their order; wafers of one order that wait for the same in one line, which names them all."""
    together: dict[tuple[str | None, ...], list[Task]] = {}
    for task in waiting:
        alone = task.wafer_id if task.wafer_id is None or task.number is not None else None
        together.setdefault((task.verb, task.order_id, task.station_id, task.piece, alone), []).append(task)
    for group in together.values():
        if len(group) == 1:
            yield _told(group[0])
        else:
            names = named_together(one.wafer_id for one in group if one.wafer_id)
            yield f"{names}: {group[0].verb}"


def _blocked(stage_id: int) -> str:
    from lapwright.records import queries

    stage = queries.stage(stage_id)
    return f"{stage.wafer_id}: not clean before the next step, {stage.stage.name}"


def _promised(today: date) -> Iterable[str]:
    for line in orders.list_orders("going"):
        if line.due is not None and line.due <= today + PROMISED_WITHIN:
            yield _due(line, today)


def _due(line: OrderLine, today: date) -> str:
    assert line.due is not None
    late = "late since" if line.due < today else "due"
    return f"{line.order_id} for {line.customer}: {late} {line.due:%d %b}"
