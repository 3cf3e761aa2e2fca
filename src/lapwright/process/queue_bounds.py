"""What no schedule of a shop can beat: the least lateness, changeovers and end of all work, by counting alone.

Each bound forgets most rules and keeps a few, so it holds for every schedule: the way of a job alone, the work of
places that share it in the hours in which it can be begun, people's hands, the kits in use.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Sequence
from itertools import pairwise

from lapwright.model.queue import Shop, Task
from lapwright.process.queue_calendar import Room, heads, latest_ends, least_spans
from lapwright.process.queue_setup import changeover, states_before
from lapwright.process.queue_work import Workload

_FINEST = 1e-3  # s; how closely the moment is found before which all cannot be done
_STEPS = (0.2, 0.08, 0.03)  # by which weights of places are shifted


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
    earliest = heads(shop)
    done: dict[str, float] = defaultdict(float)
    for task in shop.tasks:
        done[task.job_id] = max(done[task.job_id], earliest[task.task_id] + task.duration + task.rest)
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
    r"""A moment before which all cannot be done.

    Parameters
    ----------
    shop : Shop
        The shop.

    Returns
    -------
    float [s]

    Notes
    -----
    The largest of these. (a) A job alone: its stages and rests, begun within hours. (b) A group of places: were all
    done by :math:`T`, the work :math:`W_m` of place :math:`m` would fit between the earliest start of a task there and
    the latest end with which its followers are over by :math:`T`, a room :math:`A_m(T)`. For any weights
    :math:`w_m \ge 0`,

    .. math:: \min \sum_m w_m W_m > \sum_m w_m A_m(T)

    shows that :math:`T` is too early, where the least is over all ways to share out the tasks, so that every schedule
    has at least that. (c) Hands: loads and changeovers bind people, of whom so many are there. (d) Kits: as in (b), a
    kit is in use from the task that takes it to the one that gives it back. The tests hold it against optima proved by
    the solver, which is not told it there, and against published ones. Pieces of one task count one by one.
    """
    if not shop.tasks:
        return 0.0
    earliest = heads(shop)
    ends = [earliest[task.task_id] + task.duration for task in shop.tasks]
    bound = max(ends)
    if math.isinf(bound):
        return max((one for one in ends if not math.isinf(one)), default=0.0)
    bound = _raised(bound, lambda until: all(
        earliest[name] + task.duration <= end + 1e-6
        for (name, end), task in zip(latest_ends(shop, until).items(), shop.tasks, strict=True)
    ))  # fmt: skip
    for places in _unions(shop):
        bound = _Group(shop, places, earliest).raised(bound)
    return max(bound, _hands_end(shop), _kits_end(shop, earliest))


# ----------------------------------------------------------------------------------------------------------------------


class _Group:
    """Places with the tasks that must be done on one of them."""

    def __init__(self, shop: Shop, places: Sequence[str], earliest: dict[str, float]) -> None:
        self._shop = shop
        room = {place.place_id: place.positions for place in shop.places}
        mine = [task for task in shop.tasks if set(task.places) <= set(places) and not task.running]
        self._here = {one: [task for task in mine if one in task.places] for one in places}
        self._here = {one: tasks for one, tasks in self._here.items() if tasks}
        runs = {task.places[0]: task.duration for task in shop.tasks if task.running}
        self._rooms = [
            Room(shop, one, tasks, max(runs.get(one, 0.0), min(earliest[task.task_id] for task in tasks)))
            for one, tasks in self._here.items()
        ]
        self._load = Workload(mine, {one: room[one] for one in self._here}, shop.changeovers) if mine else None
        self._least: dict[tuple[float, ...], float] = {}

    def raised(self, bound: float) -> float:
        """A bound, raised as far as this group shows that it is too low."""
        count = len(self._here)
        if count == 0:
            return bound
        weights = (1.0 / count,) * count
        bound = self._raised_by(bound, weights)
        if count > 4:
            return bound
        for step in _STEPS:
            weights = self._best_near(weights, step, bound)
            bound = self._raised_by(bound, weights)
        return bound

    def _raised_by(self, bound: float, weights: tuple[float, ...]) -> float:
        return _raised(bound, lambda until: self._wanting(weights, self._given(until)) <= 0.0)

    def _best_near(self, weights: tuple[float, ...], step: float, bound: float) -> tuple[float, ...]:
        """Weights, shifted between two places by a step as long as that makes more wanting."""
        given = self._given(bound)
        best = self._wanting(weights, given)
        better = True
        while better:
            better = False
            for one in range(len(weights)):
                for other in range(len(weights)):
                    if one == other or weights[other] < step:
                        continue
                    tried = list(weights)
                    tried[one], tried[other] = tried[one] + step, tried[other] - step
                    wanting = self._wanting(tuple(tried), given)
                    if wanting > best + 1e-6:
                        best, weights, better = wanting, tuple(tried), True
        return weights

    def _given(self, until: float) -> list[float]:
        latest = latest_ends(self._shop, until)
        return [
            room.until(max(latest[task.task_id] for task in tasks))
            for room, tasks in zip(self._rooms, self._here.values(), strict=True)
        ]

    def _wanting(self, weights: tuple[float, ...], given: Sequence[float]) -> float:
        """How much more work there is than room for it, both weighed."""
        assert self._load is not None
        if weights not in self._least:
            self._least[weights] = self._load.least(weights)
        return self._least[weights] - math.fsum(one * room for one, room in zip(weights, given, strict=True)) - 1e-6


def _raised(bound: float, may_be: Callable[[float], bool]) -> float:
    """The latest moment found that cannot be, from a bound on; the bound itself where it may be."""
    if may_be(bound):
        return bound
    low, step = bound, 3600.0
    while not may_be(low + step):
        low += step
        step *= 2.0
        if step > 1e9:
            return low
    high = low + step
    while high - low > _FINEST:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if may_be(middle) else (middle, high)
    return low


def _by_places(shop: Shop) -> dict[tuple[str, ...], list[Task]]:
    found: dict[tuple[str, ...], list[Task]] = defaultdict(list)
    for task in shop.tasks:
        found[tuple(sorted(task.places[:1] if task.running else task.places))].append(task)
    return {places: tasks for places, tasks in found.items() if len(places) == 1}


def _unions(shop: Shop) -> list[tuple[str, ...]]:
    """Sets of places that tasks may choose of, and their unions where they meet."""
    sets = {frozenset(task.places) for task in shop.tasks}
    return sorted(tuple(sorted(one)) for one in sets | _parted(shop))


def _parted(shop: Shop) -> set[frozenset[str]]:
    """The sets of places that share no task with each other."""
    sets = {frozenset(task.places) for task in shop.tasks}
    grown = set()
    for one in sets:
        union = one
        while True:
            wider = union.union(*(other for other in sets if other & union))
            if wider == union:
                break
            union = wider
        grown.add(union)
    return grown


def _hands_end(shop: Shop) -> float:
    """A moment before which people's hands cannot have done all that binds them."""
    if not shop.shifts:
        return 0.0
    room = {place.place_id: place.positions for place in shop.places}
    left = 0.0
    for places in _parted(shop):
        mine = [task for task in shop.tasks if set(task.places) <= places and not task.running]
        if mine:
            load = Workload(mine, {one: room[one] for one in sorted(places)}, shop.changeovers, hands_only=True)
            left += load.least([1.0] * len(places))
    edges = sorted({0.0, *(one.start for one in shop.shifts), *(one.end for one in shop.shifts)})
    for one, other in pairwise(edges):
        begin = max(one, 0.0)
        if other <= begin:
            continue
        people = sum(shift.people for shift in shop.shifts if shift.start <= begin and shift.end >= other)
        if people and left <= people * (other - begin):
            return begin + left / people
        left -= people * (other - begin)
    return edges[-1]


def _kits_end(shop: Shop, earliest: dict[str, float]) -> float:
    """A moment before which kits cannot have been through all that they are needed for."""
    spans = least_spans(shop)
    bound = 0.0
    for kit in shop.kits:
        mine = [hold for hold in shop.holds if hold.kit_id == kit.kit_id and hold.first]
        if mine:
            work = math.fsum(hold.count * spans[(hold.first, hold.last)] for hold in mine)
            bound = max(bound, min(earliest[hold.first] for hold in mine) + work / kit.count)
    return bound
