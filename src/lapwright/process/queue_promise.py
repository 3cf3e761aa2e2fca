"""By when a job will be done, with its chance: the schedule played many times with durations as uncertain as they are.

Places keep the order of the schedule, whatever comes early or late. People take what comes next in it in two thirds of
the plays, and whatever is ready in the others: real ones do something between. Durations are lognormal with the
planned one as median: a part of its own for every task, and a part common to all tasks of one combination, whose rate
is not known exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.model.queue import Booking, Shop, Task
from lapwright.process.queue_kits import KitsPlayed
from lapwright.process.queue_loads import loads_of
from lapwright.process.queue_people import Orderly, Times, Willing
from lapwright.process.queue_setup import changeover, states_before

_ORDERLY = 2.0 / 3.0  # of the plays; set on four simulated shops, tried on others in the campaign
_SLACK = 1e-6  # s; times nearer than this are one


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """When a job will be done [s from now]: with even chance, with 80 and 90 %, from 5 to 95 %; `chance` of its date.

    `chance` is None without a date.
    """

    job_id: str
    even: float
    sure_80: float
    sure_90: float
    low: float
    high: float
    chance: float | None


def promises(
    shop: Shop, bookings: Sequence[Booking], *, draws: int, generator: np.random.Generator
) -> tuple[Promise, ...]:
    """When each job will be done, by playing the schedule.

    Parameters
    ----------
    shop : Shop
        The shop.
    bookings : sequence of Booking
        Its schedule.
    draws : int
        How many times it is played.
    generator : numpy.random.Generator
        Seeded by the caller.

    Returns
    -------
    tuple of Promise
        In the order of the jobs; those without a task are left out.
    """
    ends = simulated_ends(shop, bookings, draws=draws, generator=generator)
    found = []
    for job in shop.jobs:
        mine = [ends[task.task_id] + task.rest for task in shop.tasks if task.job_id == job.job_id]
        if not mine:
            continue
        done = np.max(mine, axis=0)
        low, even, sure_80, sure_90, high = (float(one) for one in np.quantile(done, (0.05, 0.5, 0.8, 0.9, 0.95)))
        chance = None if job.due is None else float(np.mean(done <= job.due))
        found.append(
            Promise(job_id=job.job_id, even=even, sure_80=sure_80, sure_90=sure_90, low=low, high=high, chance=chance)
        )
    return tuple(found)


def simulated_ends(
    shop: Shop, bookings: Sequence[Booking], *, draws: int, generator: np.random.Generator
) -> dict[str, NDArray[np.float64]]:
    """When each task ends, each time the schedule is played.

    Parameters
    ----------
    shop : Shop
        The shop.
    bookings : sequence of Booking
        Its schedule.
    draws : int
        How many times it is played.
    generator : numpy.random.Generator
        Seeded by the caller.

    Returns
    -------
    dict of str to float array, shape (draws,) [s]
        By task.
    """
    lengths = _lengths(shop, draws, generator)
    part = round(_ORDERLY * draws)
    orderly = _played(shop, bookings, {name: one[:part] for name, one in lengths.items()}, Orderly(shop, part))
    willing = _played(shop, bookings, {name: one[part:] for name, one in lengths.items()}, Willing(shop, draws - part))
    return {name: np.concatenate([orderly[name], willing[name]]) for name in lengths}


# ----------------------------------------------------------------------------------------------------------------------


def _played(
    shop: Shop, bookings: Sequence[Booking], lengths: dict[str, Times], people: Orderly | Willing
) -> dict[str, Times]:
    """When each task ends, in as many plays as there are lengths."""
    draws = len(next(iter(lengths.values()), ()))
    tasks = {task.task_id: task for task in shop.tasks}
    states = states_before(shop)
    free = {place.place_id: np.zeros(draws) for place in shop.places}
    closed = {place.place_id: sorted((one.start, one.end) for one in place.closed) for place in shop.places}
    ends: dict[str, NDArray[np.float64]] = {}
    kits = KitsPlayed(shop, draws)
    for load in loads_of(bookings):
        members = [tasks[one.task_id] for one in load]
        place_id, first = load[0].place_id, members[0]
        length = np.max([lengths[task.task_id] for task in members], axis=0)
        if first.running:
            for task in members:
                ends[task.task_id] = lengths[task.task_id]
            kits.hand_over(members, length)
            free[place_id] = np.maximum(free[place_id], length)
            continue
        setup = changeover(states[place_id], first.setting, shop.changeovers)[0]
        start = np.maximum(_ready(members, tasks, ends, draws), np.maximum(free[place_id], 0.0) + setup)
        start = kits.ready(members, start)
        fixed = max((fix.start for fix in shop.fixes if fix.task_id in {task.task_id for task in members}), default=0.0)
        start = np.maximum(start, fixed)
        bound = np.minimum(first.hands, length)
        by_hand = first.hands + setup > 0.0
        number = None
        while True:
            later = _past_closures(closed[place_id], start, setup, length)
            if shop.shifts and (by_hand or first.in_hours):
                inside = length if first.in_hours else bound
                later, number = people.fit(later, setup, inside, min(first.hands, first.duration))
            if np.array_equal(later, start):
                break
            start = later
        if by_hand and number is not None:
            people.bind(number, start - setup, start + bound)
        for task in members:
            ends[task.task_id] = start + length
        kits.hand_over(members, start + length)
        free[place_id] = start + length
        states[place_id] = first.setting
    return ends


def _lengths(shop: Shop, draws: int, generator: np.random.Generator) -> dict[str, NDArray[np.float64]]:
    common: dict[str, NDArray[np.float64]] = {}
    for task in shop.tasks:
        if task.shares and task.shares not in common:
            common[task.shares] = generator.standard_normal(draws)
    found = {}
    for task in shop.tasks:
        log = task.spread * generator.standard_normal(draws)
        if task.shares:
            log = log + task.shared_spread * common[task.shares]
        found[task.task_id] = task.duration * np.exp(log)
    return found


def _ready(
    members: Sequence[Task], tasks: dict[str, Task], ends: dict[str, NDArray[np.float64]], draws: int
) -> NDArray[np.float64]:
    ready = np.zeros(draws)
    for task in members:
        ready = np.maximum(ready, task.release)
        for name in task.after:
            ready = np.maximum(ready, ends[name] + tasks[name].rest)
    return ready


def _past_closures(closed: Sequence[tuple[float, float]], start: Times, setup: float, length: Times) -> Times:
    for begin, end in closed:
        hit = (start - setup < end - _SLACK) & (begin < start + length - _SLACK)
        start = np.where(hit, end + setup, start)
    return start
