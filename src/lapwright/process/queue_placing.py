"""A schedule moved along: the same loads in the same order, each as early as the shop as it is now lets it be."""

from __future__ import annotations

import math
from collections.abc import Sequence

from lapwright.model.queue import Booking, Shop, Task
from lapwright.process.queue_floor import Floor, allowed_places
from lapwright.process.queue_loads import loads_of


def tidied(shop: Shop, bookings: Sequence[Booking]) -> tuple[Booking, ...]:
    """The same loads in the same order on the same places, each as early as it can be.

    Parameters
    ----------
    shop : Shop
        The shop.
    bookings : sequence of Booking
        A schedule; its times give the order only.

    Returns
    -------
    tuple of Booking
        By start.

    Raises
    ------
    CannotAnswer
        The hours end before the work does.
    """
    floor = Floor(shop)
    for load in loads_of(bookings):
        todo = [floor.tasks[one.task_id] for one in load if one.task_id not in floor.ends]
        _put_load(floor, todo, load[0].place_id)
    return floor.bookings()


def kept_order(shop: Shop, bookings: Sequence[Booking]) -> tuple[Booking, ...]:
    """A schedule in force on a shop that has changed since: the same order on the same places, what is new behind it.

    Parameters
    ----------
    shop : Shop
        The shop as it is now.
    bookings : sequence of Booking
        The schedule in force; what is done by now is left out.

    Returns
    -------
    tuple of Booking
        Every task of the shop, by start.

    Raises
    ------
    CannotAnswer
        The hours end before the work does.
    """
    floor = Floor(shop)
    known = {task.task_id for task in shop.tasks}
    for load in loads_of([one for one in bookings if one.task_id in known]):
        todo = [floor.tasks[one.task_id] for one in load if one.task_id not in floor.ends]
        for task in todo:
            _put_all_before(floor, task, {one.task_id for one in todo})
        _put_load(floor, [one for one in todo if one.task_id not in floor.ends], load[0].place_id)
    due = {job.job_id: math.inf if job.due is None else job.due for job in shop.jobs}
    for task in sorted(shop.tasks, key=lambda one: due[one.job_id]):
        if task.task_id not in floor.ends:
            _put_all_before(floor, task, set())
            _put_load(floor, [task], "")
    return floor.bookings()


# ----------------------------------------------------------------------------------------------------------------------


def _put_all_before(floor: Floor, task: Task, beside: set[str], under: frozenset[str] = frozenset()) -> None:
    """Place what must be done before a task and is not placed yet."""
    for name in task.after:
        if name not in floor.ends and name not in beside:
            _put_all_before(floor, floor.tasks[name], beside, under)
            _put_load(floor, [floor.tasks[name]], "", under)


def _put_load(floor: Floor, todo: Sequence[Task], place_id: str, under: frozenset[str] = frozenset()) -> None:
    """Place tasks in one load, as far as there is room; on a place that is free first when theirs is not allowed."""
    todo = sorted(todo, key=lambda task: -task.duration)
    while todo:
        first, room = todo[0], 0
        _bring_kits(floor, first, under)
        if first.task_id in floor.ends:  # what was done for its kits had it before
            todo = todo[1:]
            continue
        allowed = allowed_places(floor, first)
        place = place_id if place_id in allowed else min(allowed, key=floor.free)
        together: list[Task] = []
        rest: list[Task] = []
        for task in todo:
            room += len(task.pieces)
            fits = room <= floor.positions[place] and place in allowed_places(floor, task)
            fits = fits and not math.isinf(floor.kits_free([one.task_id for one in (*together, task)]))
            (together if fits or task is first else rest).append(task)
        floor.put([task.task_id for task in together], place)
        todo = [task for task in rest if task.task_id not in floor.ends]


def _bring_kits(floor: Floor, task: Task, under: frozenset[str]) -> None:
    """Place what gives back the kits that a task waits for, as long as nothing placed does."""
    while math.isinf(floor.kits_free([task.task_id])):
        wanted = {hold.kit_id for hold in floor.takes(task.task_id)}
        back = next(
            (
                floor.tasks[hold.last]
                for hold in floor.shop.holds
                if hold.kit_id in wanted
                and (not hold.first or hold.first in floor.ends)
                and hold.last not in floor.ends
                and hold.last not in under
            ),
            None,
        )
        if back is None:
            return  # placing it will say so
        within = under | {back.task_id, task.task_id}
        _put_all_before(floor, back, set(), within)
        if back.task_id not in floor.ends:
            _put_load(floor, [back], "", within)
