"""What comes before what, and who stands behind whom on a place."""

from __future__ import annotations

import bisect
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from lapwright.model.queue import Booking, Shop, Task
from lapwright.process.queue_loads import in_order


def led_by_first(bookings: Sequence[Booking], names: Sequence[str]) -> list[Booking]:
    """The schedule with every load led by the first of its tasks by name order, as the model has it.

    Parameters
    ----------
    bookings : sequence of Booking
        A schedule.
    names : sequence of str
        All tasks in order.

    Returns
    -------
    list of Booking
    """
    number = {name: index for index, name in enumerate(names)}
    first: dict[tuple[str, float], str] = {}
    for one in sorted(bookings, key=lambda each: number[each.task_id]):
        first.setdefault((one.place_id, one.start), one.task_id)
    return [replace(one, leads=first[(one.place_id, one.start)] == one.task_id) for one in bookings]


class Ranks:
    """The loads of one place in the order of a schedule."""

    def __init__(self, leading: Sequence[Booking]) -> None:
        self.order = [one.task_id for one in leading]
        self._starts = [one.start for one in leading]
        self._rank = {name: index for index, name in enumerate(self.order)}

    def of(self, booking: Booking) -> int:
        """Where a load stands, or would stand by its start."""
        return self._rank.get(booking.task_id, bisect.bisect_left(self._starts, booking.start))

    def next_kept(self, name: str, free: frozenset[str]) -> str | None:
        """The next load that is not free."""
        return next((one for one in self.order[self._rank[name] + 1 :] if one not in free), None)


def ranks(bookings: Sequence[Booking]) -> dict[str, Ranks]:
    """The loads of every place in the order of a schedule; a place without any has none."""
    leading: dict[str, list[Booking]] = defaultdict(list)
    for one in sorted(bookings, key=lambda each: (each.start, each.task_id)):
        if one.leads:
            leading[one.place_id].append(one)
    found: dict[str, Ranks] = defaultdict(lambda: Ranks([]))
    found.update({place_id: Ranks(listed) for place_id, listed in leading.items()})
    return found


def is_never(lit: Any) -> bool:
    """Whether a literal is the constant 0."""
    return isinstance(lit, int) and lit == 0


def all_before(shop: Shop) -> dict[str, frozenset[str]]:
    """By task, all that must be done before it."""
    found: dict[str, frozenset[str]] = {}
    for task in in_order(shop):
        found[task.task_id] = frozenset(task.after).union(*(found[one] for one in task.after))
    return found


def strands(shop: Shop) -> list[list[Task]]:
    """Tasks that follow each other without a branch, from first to last."""
    after: dict[str, list[Task]] = defaultdict(list)
    for task in shop.tasks:
        for name in task.after:
            after[name].append(task)
    found = []
    for task in shop.tasks:
        if task.after:
            continue
        strand = [task]
        while len(after[strand[-1].task_id]) == 1 and len(after[strand[-1].task_id][0].after) == 1:
            strand.append(after[strand[-1].task_id][0])
        if not after[strand[-1].task_id]:
            found.append(strand)
    return found


def sequences(bookings: Sequence[Booking]) -> dict[str, list[str]]:
    """By place, the tasks that lead loads, in order."""
    found: dict[str, list[str]] = defaultdict(list)
    for one in sorted(bookings, key=lambda each: (each.start, each.task_id)):
        if one.leads:
            found[one.place_id].append(one.task_id)
    return found
