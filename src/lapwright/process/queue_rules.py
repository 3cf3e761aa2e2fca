"""Schedules by a rule: whenever a place is free, of the tasks that wait for it the first by the rule.

The plain rules (who came first, who is due first) are what every schedule is compared with; the weighing one is where
the search starts.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from lapwright.model.queue import Booking, Shop, Task
from lapwright.process.queue_placing import Floor, allowed_places, by_start, tails_of

Rule = Literal["first_come", "due", "family"]


@dataclass(frozen=True, slots=True)
class Weighing:
    """A rule that weighs how soon a task must go on against the changeover it costs.

    The shorter the task and the less its slack, the more it counts; `patience` is the slack, in mean task times, at
    which it counts a third; `thrift` the same for the changeover. After the index of Lee, Bhaskaran and Pinedo (1997),
    from memory.
    """

    patience: float
    thrift: float
    nudges: Mapping[str, float] = field(default_factory=dict)


def dispatch(shop: Shop, rule: Rule | Weighing) -> tuple[Booking, ...]:
    """A schedule by a plain rule: whenever a place is free, of the tasks that wait for it the first by the rule.

    Parameters
    ----------
    shop : Shop
        Places, people, jobs, tasks.
    rule : str or Weighing
        ``first_come``: the one that waits longest; ``due``: the earliest due date; ``family``: one that needs no
        changeover, else the earliest due date; or slack weighed against changeovers.

    Returns
    -------
    tuple of Booking
        Every task, by start.

    Raises
    ------
    CannotAnswer
        The hours end before the work does.
    """
    floor = Floor(shop)
    order = {task.task_id: number for number, task in enumerate(shop.tasks)}
    due = {job.job_id: math.inf if job.due is None else job.due for job in shop.jobs}
    key = _KEYS[rule] if isinstance(rule, str) else _weighing_key(shop, rule)
    followers = _followers(shop)
    missing = {task.task_id: sum(one not in floor.booked for one in task.after) for task in shop.tasks}
    waiting = {task.task_id: task for task in shop.tasks if not task.running and missing[task.task_id] == 0}
    readiness = {name: floor.ready(task) for name, task in waiting.items()}
    while waiting:
        place_id, when = _next_place(floor, waiting, readiness)
        here = [
            one for one in waiting.values() if place_id in allowed_places(floor, one) and readiness[one.task_id] <= when
        ]
        first = min(here, key=lambda one: key(_Ask(floor, place_id, one, readiness[one.task_id], when, due, order)))
        load = [floor.put(first, place_id)]
        beside = sorted(here, key=lambda one: (due[one.job_id], order[one.task_id]))
        load += [
            floor.join(other, place_id) for other in beside if other is not first and floor.may_join(other, place_id)
        ]
        for booking in load:
            del waiting[booking.task_id]
            for name in followers[booking.task_id]:
                missing[name] -= 1
                if missing[name] == 0:
                    waiting[name] = floor.tasks[name]
                    readiness[name] = floor.ready(floor.tasks[name])
    return by_start(floor.booked.values())


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Ask:
    """A task that waits for a place."""

    floor: Floor
    place_id: str
    task: Task
    ready: float
    when: float
    due: Mapping[str, float]
    order: Mapping[str, int]


_KEYS: dict[Rule, Callable[[_Ask], tuple[float, ...]]] = {
    "first_come": lambda ask: (ask.ready, ask.order[ask.task.task_id]),
    "due": lambda ask: (ask.due[ask.task.job_id], ask.ready, ask.order[ask.task.task_id]),
    "family": lambda ask: (
        ask.floor.setup(ask.place_id, ask.task.setting)[0],
        ask.due[ask.task.job_id],
        ask.ready,
        ask.order[ask.task.task_id],
    ),
}


def _weighing_key(shop: Shop, rule: Weighing) -> Callable[[_Ask], tuple[float, ...]]:
    mean = math.fsum(task.duration for task in shop.tasks) / len(shop.tasks)
    priority = {job.job_id: job.priority for job in shop.jobs}
    tails = tails_of(shop)

    def key(ask: _Ask) -> tuple[float, ...]:
        task = ask.task
        setup = ask.floor.setup(ask.place_id, task.setting)[0]
        due = ask.due[task.job_id]
        slack = 0.0 if math.isinf(due) else max(0.0, due - ask.when - task.duration - tails[task.task_id])
        if math.isinf(due):
            worth = (task.duration + tails[task.task_id]) / mean
        else:
            worth = priority[task.job_id] * mean / (task.duration + 0.1 * mean)
        count = math.log(worth) - slack / (rule.patience * mean) - setup / (rule.thrift * mean)
        return (-count - rule.nudges.get(task.task_id, 0.0), due, ask.order[task.task_id])

    return key


def _next_place(floor: Floor, waiting: Mapping[str, Task], readiness: Mapping[str, float]) -> tuple[str, float]:
    """The place that can take something first, and when."""
    when, _, place_id = min(
        (max(readiness[name], floor.free(place_id)), number, place_id)
        for number, (name, task) in enumerate(waiting.items())
        for place_id in allowed_places(floor, task)
    )
    return place_id, when


def _followers(shop: Shop) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {task.task_id: [] for task in shop.tasks}
    for task in shop.tasks:
        for one in task.after:
            found[one].append(task.task_id)
    return found
