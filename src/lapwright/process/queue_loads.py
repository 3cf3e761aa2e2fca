"""A shop in whole ticks, the order of its tasks, and a schedule as loads: what all of scheduling builds on."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace

from lapwright.errors import BadInput, Fault
from lapwright.model.queue import Booking, Shop, Task


def rounded_shop(shop: Shop, tick: float) -> Shop:
    """The shop in whole ticks: what takes time rounded up, hours inwards, closures outwards, due dates down.

    Parameters
    ----------
    shop : Shop
        The shop.
    tick : float [s]
        Grain of time.

    Returns
    -------
    Shop
        A schedule of it is one of the shop.
    """

    def up(time: float) -> float:
        return math.ceil(time / tick - 1e-9) * tick

    def down(time: float) -> float:
        return math.floor(time / tick + 1e-9) * tick

    shifts = [(one, up(one.start), down(one.end)) for one in shop.shifts]
    return replace(
        shop,
        tasks=tuple(
            replace(one, duration=up(one.duration), hands=up(one.hands), rest=up(one.rest), release=up(one.release))
            for one in shop.tasks
        ),
        jobs=tuple(one if one.due is None else replace(one, due=down(one.due)) for one in shop.jobs),
        shifts=tuple(replace(one, start=start, end=end) for one, start, end in shifts if start < end),
        places=tuple(
            replace(one, closed=tuple(replace(each, start=down(each.start), end=up(each.end)) for each in one.closed))
            for one in shop.places
        ),
        changeovers=replace(
            shop.changeovers,
            **{name: up(getattr(shop.changeovers, name)) for name in ("plate_change", "wash", "cleaning", "templates")},
        ),
        fixes=tuple(replace(one, start=up(one.start)) for one in shop.fixes),
    )


def loads_of(bookings: Iterable[Booking]) -> list[list[Booking]]:
    """The loads of a schedule in the order of their starts, each with its tasks.

    Parameters
    ----------
    bookings : iterable of Booking
        A schedule.

    Returns
    -------
    list of list of Booking
    """
    grouped: dict[tuple[str, float], list[Booking]] = defaultdict(list)
    for one in bookings:
        grouped[(one.place_id, one.start)].append(one)
    listed = [sorted(load, key=lambda one: (not one.leads, one.task_id)) for load in grouped.values()]
    return sorted(listed, key=lambda load: (load[0].start, load[0].begin, load[0].place_id, load[0].task_id))


def by_start(bookings: Iterable[Booking]) -> tuple[Booking, ...]:
    """Bookings by start, then by place and name.

    Parameters
    ----------
    bookings : iterable of Booking
        In any order.

    Returns
    -------
    tuple of Booking
    """
    return tuple(sorted(bookings, key=lambda one: (one.start, one.place_id, one.task_id)))


def tails_of(shop: Shop) -> dict[str, float]:
    """The least time that what comes after each task takes, its own rest included.

    Parameters
    ----------
    shop : Shop
        The shop.

    Returns
    -------
    dict of str to float [s]
        By task.
    """
    tails = {task.task_id: task.rest for task in shop.tasks}
    named = {task.task_id: task for task in shop.tasks}
    for task in reversed(in_order(shop)):
        for name in task.after:
            tails[name] = max(tails[name], named[name].rest + task.duration + tails[task.task_id])
    return tails


def in_order(shop: Shop) -> list[Task]:
    """Tasks, each behind those before it.

    Parameters
    ----------
    shop : Shop
        The shop.

    Returns
    -------
    list of Task

    Raises
    ------
    BadInput
        Tasks wait for each other in a ring.
    """
    placed: dict[str, Task] = {}
    todo = list(shop.tasks)
    while todo:
        next_ones = [task for task in todo if all(one in placed for one in task.after)]
        if not next_ones:
            named = ", ".join(task.task_id for task in todo[:4])
            sentence = f"Tasks wait for each other in a ring: {named}. Mend what comes after what."
            raise BadInput([Fault(sentence=sentence)])
        placed |= {task.task_id: task for task in next_ones}
        todo = [task for task in todo if task.task_id not in placed]
    return list(placed.values())
