"""When things can be at the earliest and the latest, and how long a place can be at work between two moments.

All of it forgets the other jobs, so it holds for every schedule; the bounds are built on it. Nothing that a person
begins begins in the night, and what runs on into it is one load for each place and night.
"""

from __future__ import annotations

import bisect
import math
from collections.abc import Sequence
from itertools import pairwise

from lapwright.model.queue import Shop, Task
from lapwright.process.queue_loads import in_order

Spans = list[tuple[float, float]]


def attended(shop: Shop) -> Spans:
    """The stretches in which somebody is there, those that touch as one.

    Parameters
    ----------
    shop : Shop
        The shop.

    Returns
    -------
    list of tuple of float [s]
        From and to, in order; empty without shifts.
    """
    found: Spans = []
    for shift in sorted(shop.shifts, key=lambda one: one.start):
        if found and shift.start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], shift.end))
        else:
            found.append((shift.start, shift.end))
    return found


def heads(shop: Shop) -> dict[str, float]:
    """The earliest start of each task, were its job alone in the shop.

    Parameters
    ----------
    shop : Shop
        The shop.

    Returns
    -------
    dict of str to float [s]
        By task; infinite when no hours are left in which it could begin.
    """
    spans = attended(shop)
    named = {task.task_id: task for task in shop.tasks}
    found: dict[str, float] = {}
    for task in in_order(shop):
        done = [found[one] + named[one].duration + named[one].rest for one in task.after]
        start = 0.0 if task.running else max(task.release, 0.0, max(done, default=0.0))
        inside = _inside(task)
        if spans and inside > 0.0 and not task.running:
            start = next((max(start, one) for one, end in spans if max(start, one) + inside <= end), math.inf)
        found[task.task_id] = start
    return found


def latest_ends(shop: Shop, until: float) -> dict[str, float]:
    """The latest end of each task with which all that comes after it can still be over by a moment.

    Parameters
    ----------
    shop : Shop
        The shop.
    until : float [s]
        By when all ends.

    Returns
    -------
    dict of str to float [s]
        By task; minus infinity where it cannot be.
    """
    spans = attended(shop)
    opens = [start for start, _ in spans]
    found = {task.task_id: until for task in shop.tasks}
    rests = {task.task_id: task.rest for task in shop.tasks}
    for task in reversed(in_order(shop)):
        start, inside = found[task.task_id] - task.duration, _inside(task)
        if spans and inside > 0.0 and not task.running:
            start = _latest_within(spans, opens, start, inside)
        for name in task.after:
            found[name] = min(found[name], start - rests[name])
    return found


class Room:
    """How long a place can be at work, changeovers included, on some tasks, from a moment to another.

    Of a night only what a load began before it runs into it; each load holds another task, so over so many nights it is
    no more than the longest of so many tasks, each night no longer than it is.
    """

    def __init__(self, shop: Shop, place_id: str, tasks: Sequence[Task], start: float) -> None:
        closed = next(one.closed for one in shop.places if one.place_id == place_id)
        self._closed = [(one.start, one.end) for one in closed]
        self._start = start
        begun_by_hand = all(_inside(task) > 0.0 for task in tasks)
        self._spans = attended(shop) if begun_by_hand else []
        self._over = sorted(
            (0.0 if task.in_hours else task.duration - min(task.hands, task.duration) for task in tasks), reverse=True
        )

    def until(self, end: float) -> float:
        """Seconds of work from the start to a moment."""
        if not self._spans:
            return max(0.0, end - self._start - self._shut(self._start, end))
        day, nights = 0.0, []
        for (one, close), (after, _) in pairwise([*self._spans, (math.inf, math.inf)]):
            first, last = max(one, self._start), min(close, end)
            if last > first:
                day += last - first - self._shut(first, last)
            night = min(after, end) - max(close, self._start)
            if night > 0.0 and close > self._start:
                nights.append(night)
        nights.sort(reverse=True)
        return day + math.fsum(min(pair) for pair in zip(nights, self._over, strict=False))

    def _shut(self, start: float, end: float) -> float:
        edges = sorted((max(one, start), min(other, end)) for one, other in self._closed)
        total, at = 0.0, start
        for one, other in edges:
            total += max(0.0, other - max(one, at))
            at = max(at, other)
        return total


def least_spans(shop: Shop) -> dict[tuple[str, str], float]:
    """For each kit in use, the least time from the start of the task that takes it to the end of the one that gives it.

    Parameters
    ----------
    shop : Shop
        The shop.

    Returns
    -------
    dict of tuple of str to float [s]
        By first and last task.
    """
    named = {task.task_id: task for task in shop.tasks}
    ordered = in_order(shop)
    found = {}
    for hold in shop.holds:
        if not hold.first:
            continue
        ends = {hold.first: named[hold.first].duration}
        for task in ordered:
            done = [ends[one] + named[one].rest for one in task.after if one in ends]
            if done:
                ends[task.task_id] = max(done) + task.duration
        found[(hold.first, hold.last)] = ends.get(hold.last, 0.0)
    return found


# ----------------------------------------------------------------------------------------------------------------------


def _latest_within(spans: Spans, opens: Sequence[float], start: float, inside: float) -> float:
    """The latest start, not after another, with so long left in its span; minus infinity for none."""
    for number in range(bisect.bisect_right(opens, start) - 1, -1, -1):
        latest = min(start, spans[number][1] - inside)
        if latest >= opens[number]:
            return latest
    return -math.inf


def _inside(task: Task) -> float:
    """How long somebody must be there from the start of a task on."""
    return task.duration if task.in_hours else min(task.hands, task.duration)
