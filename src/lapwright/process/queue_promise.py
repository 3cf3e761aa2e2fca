"""By when a job will be done, with its chance: the schedule played many times with durations as uncertain as they are.

Durations are lognormal with the planned one as median: a part of its own for every task, and a part common to all tasks
of one combination, whose rate is not known exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.model.queue import Booking, Shop
from lapwright.process.queue_playing import played


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
    return played(shop, bookings, _lengths(shop, draws, generator))


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
