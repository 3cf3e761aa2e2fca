"""Why a job is done when it is done: for what each of its tasks waits, and how long.

Of a job of several pieces the way that ends last is told. Its waiting is cut into stretches, each with one cause: the
place is busy, is being changed over, is closed; every one of a kit is in use; nobody is there; all hands are bound.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from lapwright.model.queue import Booking, Shop, Task
from lapwright.process.queue_loads import loads_of

Cause = Literal["busy", "changeover", "closed", "kit", "hours", "hands", "rest", "held"]
_SHORT = 60.0  # s; shorter stretches are not told


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """A stretch in which a task waits [s from now]; `other` is the task that is in the way.

    `why` is what is done then, or the kit that is waited for.
    """

    task_id: str
    place_id: str
    cause: Cause
    start: float
    end: float
    other: str = ""
    why: str = ""

    @property
    def length(self) -> float:
        """How long it waits [s]."""
        return self.end - self.start


def waits_of(shop: Shop, bookings: Sequence[Booking], job_id: str) -> tuple[Wait, ...]:
    """For what a job waits on the way that ends last, from now on.

    Parameters
    ----------
    shop : Shop
        The shop.
    bookings : sequence of Booking
        Its schedule.
    job_id : str
        The job.

    Returns
    -------
    tuple of Wait
        In order of time; empty when it never waits.
    """
    booked = {one.task_id: one for one in bookings}
    tasks = {task.task_id: task for task in shop.tasks}
    mine = [task for task in shop.tasks if task.job_id == job_id]
    if not mine:
        return ()
    task = max(mine, key=lambda one: (booked[one.task_id].end + one.rest, one.task_id))
    found: list[Wait] = []
    while True:
        before = max(task.after, key=lambda name: booked[name].end + tasks[name].rest, default=None)
        ready = 0.0 if before is None else booked[before].end + tasks[before].rest
        found += reversed(list(_stretches(shop, bookings, task, ready)))
        if before is None:
            break
        if tasks[before].rest >= _SHORT:
            rest = Wait(task_id=before, place_id="", cause="rest", start=booked[before].end, end=ready)
            found.append(rest)
        task = tasks[before]
    return tuple(reversed(found))


# ----------------------------------------------------------------------------------------------------------------------


def _stretches(shop: Shop, bookings: Sequence[Booking], task: Task, ready: float) -> Iterator[Wait]:
    """The time from when a task is ready until it starts, cut by cause."""
    mine = next(one for one in bookings if one.task_id == task.task_id)
    leader = next(one for one in bookings if (one.place_id, one.start) == (mine.place_id, mine.start) and one.leads)
    ready = max(ready, 0.0)
    if mine.start - ready < _SHORT or task.running:
        return
    spans = _spans(shop, bookings, mine, leader)
    fixed = next((fix.start for fix in shop.fixes if fix.task_id == task.task_id), 0.0)
    at = ready
    edges = sorted({ready, mine.start, *(edge for one in spans for edge in one[:2] if ready < edge < mine.start)})
    if ready < fixed < mine.start:
        edges = sorted({*edges, fixed})
    last: Wait | None = None
    for at, end in pairwise(edges):
        hit = next((one for one in spans if one[0] <= at and end <= one[1]), None)
        cause, other, why = hit[2:] if hit is not None else ("held" if end <= fixed else "hands", "", "")
        if last is not None and last.cause == "hands" and cause == "hours":
            last = replace(last, cause="hours")  # what is left of the shift is too short to begin it
        if last is not None and (last.cause, last.other, last.why) == (cause, other, why):
            last = Wait(
                task_id=task.task_id, place_id=mine.place_id, cause=cause, start=last.start, end=end, other=other,
                why=why,
            )  # fmt: skip
            continue
        if last is not None and last.length >= _SHORT:
            yield last
        last = Wait(task_id=task.task_id, place_id=mine.place_id, cause=cause, start=at, end=end, other=other, why=why)
    if last is not None and last.length >= _SHORT:
        yield last


def _spans(
    shop: Shop, bookings: Sequence[Booking], mine: Booking, leader: Booking
) -> list[tuple[float, float, Cause, str, str]]:
    """Everything that keeps a place or its people, the stronger cause first."""
    spans = list(_kit_spans(shop, bookings, mine))
    spans.append((leader.begin, leader.start, "changeover", "", leader.why))
    here = [load for load in loads_of(bookings) if load[0].place_id == mine.place_id and load[0].start < mine.start]
    spans += [(load[0].start, max(one.end for one in load), "busy", load[0].task_id, "") for load in here]
    spans += [(load[0].begin, load[0].start, "changeover", load[0].task_id, load[0].why) for load in here]
    place = next(one for one in shop.places if one.place_id == mine.place_id)
    spans += [(one.start, one.end, "closed", "", one.reason) for one in place.closed]
    shifts = sorted(shop.shifts, key=lambda one: one.start)
    if shifts:
        edges = [0.0, *(edge for one in shifts for edge in (one.start, one.end)), mine.start]
        spans += [
            (one, other, "hours", "", "") for one, other in zip(edges[::2], edges[1::2], strict=False) if one < other
        ]
    return spans


def _kit_spans(
    shop: Shop, bookings: Sequence[Booking], mine: Booking
) -> Iterator[tuple[float, float, Cause, str, str]]:
    """The times before a task in which too few are free of a kit that it takes."""
    booked = {one.task_id: one for one in bookings}
    kits = {kit.kit_id: kit for kit in shop.kits}
    for taken in shop.holds:
        if taken.first != mine.task_id:
            continue
        uses = [
            (booked[one.first].start if one.first else 0.0, booked[one.last].end, one.count)
            for one in shop.holds
            if one.kit_id == taken.kit_id and one is not taken
        ]
        kit = kits[taken.kit_id]
        edges = sorted({0.0, mine.start, *(edge for use in uses for edge in use[:2] if edge < mine.start)})
        for one, other in pairwise(edges):
            used = sum(count for start, end, count in uses if start <= one and end >= other)
            if used + taken.count > kit.count:
                yield one, other, "kit", "", kit.name or kit.kit_id
