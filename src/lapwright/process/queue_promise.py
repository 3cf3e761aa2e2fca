"""By when a job will be done, with its chance: the schedule played many times with durations as uncertain as they are.

Places and people keep the order of the schedule, whatever comes early or late; so a shop that re-plans does a little
better than promised. Durations are lognormal with the planned one as median: a part of its own for every task, and a
part common to all tasks of one combination, whose rate is not known exactly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.model.queue import Booking, Shop, Task
from lapwright.process.queue_placing import loads_of
from lapwright.process.queue_setup import changeover, states_before


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
    tasks = {task.task_id: task for task in shop.tasks}
    lengths = _lengths(shop, draws, generator)
    calendar = _Calendar(shop)
    states = states_before(shop)
    free = {place.place_id: np.zeros(draws) for place in shop.places}
    closed = {place.place_id: sorted((one.start, one.end) for one in place.closed) for place in shop.places}
    hands = _Hands(shop, draws)
    ends: dict[str, NDArray[np.float64]] = {}
    for load in loads_of(bookings):
        members = [tasks[one.task_id] for one in load]
        place_id, first = load[0].place_id, members[0]
        length = np.max([lengths[task.task_id] for task in members], axis=0)
        if first.running:
            for task in members:
                ends[task.task_id] = lengths[task.task_id]
            free[place_id] = np.maximum(free[place_id], length)
            continue
        setup = changeover(states[place_id], first.setting, shop.changeovers)[0]
        start = np.maximum(_ready(members, tasks, ends, draws), np.maximum(free[place_id], 0.0) + setup)
        fixed = max((fix.start for fix in shop.fixes if fix.task_id in {task.task_id for task in members}), default=0.0)
        start = np.maximum(start, fixed)
        bound = np.minimum(first.hands, length)
        start, person = hands.taken(load[0], start, setup)
        inside = length if first.in_hours else bound
        start = _allowed(
            calendar, closed[place_id], start, setup, inside, length, needs=first.hands + setup > 0.0 or first.in_hours
        )
        hands.give(person, start + bound)
        for task in members:
            ends[task.task_id] = start + length
        free[place_id] = start + length
        states[place_id] = first.setting
    return ends


# ----------------------------------------------------------------------------------------------------------------------


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


def _allowed(
    calendar: _Calendar,
    closed: Sequence[tuple[float, float]],
    start: NDArray[np.float64],
    setup: float,
    inside: NDArray[np.float64],
    length: NDArray[np.float64],
    *,
    needs: bool,
) -> NDArray[np.float64]:
    """The earliest start from another one on that hours and closures allow."""
    while True:
        later = start
        for begin, end in closed:
            hit = (later - setup < end) & (begin < later + length)
            later = np.where(hit, end + setup, later)
        if needs:
            later = calendar.fit(later, setup, inside)
        if np.array_equal(later, start):
            return start
        start = later


class _Calendar:
    """Hours in which somebody is there."""

    def __init__(self, shop: Shop) -> None:
        shifts = sorted(shop.shifts, key=lambda one: one.start)
        self._starts = np.array([one.start for one in shifts] + [math.inf])
        self._ends = np.array([one.end for one in shifts] + [math.inf])
        self._longest = max((one.end - one.start for one in shifts), default=math.inf)

    def fit(self, start: NDArray[np.float64], setup: float, inside: NDArray[np.float64]) -> NDArray[np.float64]:
        """The earliest start at which changeover and what must be within hours fit into one shift.

        What became longer than any shift takes a whole one; beyond the last shift there are no hours to keep.
        """
        if self._starts.size == 1:
            return start
        inside = np.minimum(inside, self._longest - setup)
        number = np.searchsorted(self._ends, start - setup, side="right")
        while True:
            known = np.isfinite(self._starts[number])
            later = np.where(known, np.maximum(start, self._starts[number] + setup), start)
            over = known & (later + inside > self._ends[number] + 1e-6)
            if not over.any():
                return later
            number = np.where(over, number + 1, number)


class _Hands:
    """The people of the shop, each with what the schedule gives them, in its order."""

    def __init__(self, shop: Shop, draws: int) -> None:
        most = max((shift.people for shift in shop.shifts), default=0)
        self._free = [np.zeros(draws) for _ in range(most)]
        self._planned = [0.0] * most
        self._hands = {task.task_id: min(task.hands, task.duration) for task in shop.tasks}

    def taken(
        self, booking: Booking, start: NDArray[np.float64], setup: float
    ) -> tuple[NDArray[np.float64], int | None]:
        """The start once the person of the schedule has his hands free; and who it is."""
        bound = self._hands[booking.task_id]
        if not self._free or bound + setup == 0.0:
            return start, None
        fits = [number for number, until in enumerate(self._planned) if until <= booking.begin + 1e-6]
        person = max(fits, key=lambda one: self._planned[one]) if fits else int(np.argmin(self._planned))
        self._planned[person] = booking.start + bound
        return np.maximum(start, self._free[person] + setup), person

    def give(self, person: int | None, until: NDArray[np.float64]) -> None:
        """Hands bound until then."""
        if person is not None:
            self._free[person] = until
