"""What a schedule comes to: lateness, changeovers, the end of all work, and how near the best each is."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from lapwright.model.queue import Booking, Shop

Aim = Literal["lateness", "moves", "changeovers", "makespan"]
AIMS: tuple[Aim, ...] = ("lateness", "moves", "changeovers", "makespan")


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How long is searched: `work` in the solver's own deterministic unit (about a second of one core), and a wall.

    The wall is `wall` [s] by `clock`; both None for none. With one, an answer may differ from that of a faster machine.
    """

    work: float = 10.0
    seed: int = 2407
    workers: int = 1
    wall: float | None = None
    clock: Callable[[], float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """One aim: what was reached and what is proved that nothing can beat. Lateness and makespan in s, else a count."""

    aim: Aim
    value: float
    bound: float

    @property
    def gap(self) -> float:
        """How far the value may be from the best, as a share of the value; zero when it is proved best."""
        return 0.0 if self.value <= self.bound else (self.value - self.bound) / self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Scheduled:
    """A schedule by start, what was reached in the order of the aims, and whether the wall cut the search short."""

    bookings: tuple[Booking, ...]
    reached: tuple[Reached, ...]
    cut_short: bool = False

    def value(self, aim: Aim) -> float | None:
        """What was reached of an aim, None when it was none."""
        return next((one.value for one in self.reached if one.aim == aim), None)


def measures(shop: Shop, bookings: Sequence[Booking]) -> dict[str, float]:
    """What a schedule comes to.

    Parameters
    ----------
    shop : Shop
        The shop.
    bookings : sequence of Booking
        Its schedule.

    Returns
    -------
    dict of str to float
        ``lateness`` [s] summed over jobs with their priority, ``mean_lateness`` [s] of the jobs with a date,
        ``late_jobs``, ``changeovers``, ``makespan`` [s].
    """
    done = completions(shop, bookings)
    late = {
        job.job_id: max(0.0, done[job.job_id] - job.due)
        for job in shop.jobs
        if job.due is not None and job.job_id in done
    }
    priority = {job.job_id: job.priority for job in shop.jobs}
    return {
        "lateness": math.fsum(priority[name] * one for name, one in late.items()),
        "mean_lateness": math.fsum(late.values()) / len(late) if late else 0.0,
        "late_jobs": float(sum(one > 0.0 for one in late.values())),
        "changeovers": float(sum(one.leads and one.start > one.begin for one in bookings)),
        "makespan": max((one.end for one in bookings), default=0.0),
    }


def completions(shop: Shop, bookings: Sequence[Booking]) -> dict[str, float]:
    """When each job is done, rests after its tasks included.

    Parameters
    ----------
    shop : Shop
        The shop.
    bookings : sequence of Booking
        Its schedule.

    Returns
    -------
    dict of str to float [s]
        By job; a job without a task is missing.
    """
    tasks = {task.task_id: task for task in shop.tasks}
    done: dict[str, float] = {}
    for one in bookings:
        task = tasks[one.task_id]
        done[task.job_id] = max(done.get(task.job_id, 0.0), one.end + task.rest)
    return done
