"""What no schedule of a shop can beat: the least lateness, changeovers and end of all work, by counting alone.

Each bound forgets most rules and keeps one, so it holds for every schedule: the way of a job alone, the work of places
that share it, people's hands. Nights and week-ends count where something must be begun by a person.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from itertools import pairwise

from lapwright.model.queue import Shop, Task
from lapwright.process.queue_placing import in_order, tails_of
from lapwright.process.queue_setup import changeover, states_before


def least_lateness(shop: Shop) -> float:
    """The least sum of lateness times priority: every job as if it were alone.

    Parameters
    ----------
    shop : Shop
        The shop.

    Returns
    -------
    float [s]
    """
    heads = _heads(shop)
    done: dict[str, float] = defaultdict(float)
    for task in shop.tasks:
        done[task.job_id] = max(done[task.job_id], heads[task.task_id] + task.duration + task.rest)
    return math.fsum(
        job.priority * max(0.0, done[job.job_id] - job.due)
        for job in shop.jobs
        if job.due is not None and job.job_id in done
    )


def least_changeovers(shop: Shop) -> int:
    """The least number of changeovers: places come to every setting that must be run on them.

    Parameters
    ----------
    shop : Shop
        The shop.

    Returns
    -------
    int
    """
    states = states_before(shop)
    total = 0
    for places, tasks in _by_places(shop).items():
        settings = {task.setting for task in tasks if not task.running}
        starts = [states[one] for one in places]
        # a setting is had for nothing only where a place is set up for it or it needs nothing after another one
        free = sum(
            any(changeover(other, one, shop.changeovers)[0] == 0.0 for other in {*starts, *settings} - {one})
            or one in starts
            for one in settings
        )
        total += max(0, len(settings) - free)
    return total


def least_makespan(shop: Shop) -> float:
    """The earliest moment by which all can be done.

    Parameters
    ----------
    shop : Shop
        The shop.

    Returns
    -------
    float [s]
    """
    heads, tails = _heads(shop), tails_of(shop)
    alone = max(
        (heads[task.task_id] + task.duration + tails[task.task_id] - task.rest for task in shop.tasks), default=0.0
    )
    room = {place.place_id: place.positions for place in shop.places}
    found = [alone]
    for places in _unions(shop):
        mine = [task for task in shop.tasks if set(task.places) <= set(places)]
        spare = min(tails[task.task_id] - task.rest for task in mine)
        first = min(heads[task.task_id] for task in mine)
        work = max(_batched_work(mine, [room[one] for one in places]), 0.0) + _setup_work(shop, places, mine)
        end = first + work / len(places)
        if all(task.hands > 0.0 or task.running for task in mine) and shop.shifts:
            end = max(end, _by_calendar(shop, work / len(places), first, max(task.duration for task in mine)))
        found.append(end + spare)
    found.append(_hands_end(shop, room))
    return max(found)


# ----------------------------------------------------------------------------------------------------------------------


def _heads(shop: Shop) -> dict[str, float]:
    """The earliest start of each task, were its job alone in the shop, in the hours in which somebody is there."""
    heads: dict[str, float] = {}
    named = {task.task_id: task for task in shop.tasks}
    for task in in_order(shop):
        done = [heads[one] + named[one].duration + named[one].rest for one in task.after]
        start = 0.0 if task.running else max(task.release, 0.0, max(done, default=0.0))
        heads[task.task_id] = start if task.running else _in_hours(shop, task, start)
    return heads


def _in_hours(shop: Shop, task: Task, start: float) -> float:
    inside = task.duration if task.in_hours else min(task.hands, task.duration)
    if not shop.shifts or inside == 0.0:
        return start
    fits = [max(start, one.start) for one in shop.shifts if max(start, one.start) + inside <= one.end]
    return min(fits, default=start)


def _by_places(shop: Shop) -> dict[tuple[str, ...], list[Task]]:
    found: dict[tuple[str, ...], list[Task]] = defaultdict(list)
    for task in shop.tasks:
        found[tuple(sorted(task.places[:1] if task.running else task.places))].append(task)
    return {places: tasks for places, tasks in found.items() if len(places) == 1}


def _unions(shop: Shop) -> list[tuple[str, ...]]:
    """Sets of places that tasks may choose of, and their unions where they meet."""
    sets = {frozenset(task.places) for task in shop.tasks}
    grown = set(sets)
    for one in sets:
        union = one
        while True:
            wider = union.union(*(other for other in sets if other & union))
            if wider == union:
                break
            union = wider
        grown.add(union)
    return sorted(tuple(sorted(one)) for one in grown)


def _batched_work(tasks: Sequence[Task], positions: Sequence[int]) -> float:
    """The least time of places that all these loads take: as full as they can be, the long ones together."""
    by_setting: dict[object, list[float]] = defaultdict(list)
    for task in tasks:
        by_setting[(task.setting, task.running)] += [task.duration] * len(task.pieces)
    most = max(positions)
    total = math.fsum(math.fsum(sorted(times, reverse=True)[::most]) for times in by_setting.values())
    share = math.fsum(math.fsum(times) for times in by_setting.values()) * len(positions) / sum(positions)
    return max(total, share)


def _setup_work(shop: Shop, places: Sequence[str], tasks: Sequence[Task]) -> float:
    """The least time of changeovers: each setting beyond one for each place is come to once."""
    settings = {task.setting for task in tasks if not task.running}
    if len(settings) <= len(places):
        return 0.0
    cheapest = sorted(
        min(changeover(other, one, shop.changeovers)[0] for other in settings if other != one) for one in settings
    )
    return math.fsum(cheapest[: len(settings) - len(places)])


def _by_calendar(shop: Shop, work: float, first: float, longest: float) -> float:
    """The earliest end of work on one place where every load is begun by a person: nothing begins in the night."""
    end, left = first, work
    shifts = sorted((one for one in shop.shifts if one.end > first), key=lambda one: one.start)
    at = first
    for number, shift in enumerate(shifts):
        at = max(at, shift.start)
        until = shifts[number + 1].start if number + 1 < len(shifts) else math.inf
        possible = min(shift.end + longest, until) - at
        if left <= possible:
            return at + left
        left -= possible
        end = at + possible
        at = end
    return end + left


def _hands_end(shop: Shop, room: dict[str, int]) -> float:
    """The earliest moment by which people's hands have done all that binds them."""
    if not shop.shifts:
        return 0.0
    left = 0.0
    for task in shop.tasks:
        if not task.running:
            left += min(task.hands, task.duration) * len(task.pieces) / max(room[one] for one in task.places)
    edges = sorted({0.0, *(one.start for one in shop.shifts), *(one.end for one in shop.shifts)})
    for one, other in pairwise(edges):
        if other <= 0.0:
            continue
        begin = max(one, 0.0)
        people = sum(shift.people for shift in shop.shifts if shift.start <= begin and shift.end >= other)
        if people and left <= people * (other - begin):
            return begin + left / people
        left -= people * (other - begin)
    return edges[-1]
