"""Schedules by a rule: whenever a place is free, of the tasks that wait for it the first by the rule.

The plain rules (who came first, who is due first) are what every schedule is compared with; the weighing one is where
the search starts. It looks ahead: what will be there soon counts too, and a load may wait to be filled.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from lapwright.model.queue import Booking, Shop, Task
from lapwright.process.queue_floor import Floor, allowed_places
from lapwright.process.queue_loads import tails_of

Rule = Literal["first_come", "due", "family"]


@dataclass(frozen=True, slots=True)
class Weighing:
    """A rule that weighs how soon a task must go on against the time in which its place stands still for it.

    The shorter the task and the less its slack, the more it counts; `patience` is the slack, in mean task times, at
    which it counts a third; `thrift` the same for the time lost to a changeover or to waiting. After the index of Lee,
    Bhaskaran and Pinedo (1997), from memory. `look`, in mean task times, is how far ahead tasks are looked for, `fill`
    how long a load waits for what would fill it. `nudges` are added to what single tasks count; `only` names the places
    of tasks that may not go to all of theirs.
    """

    patience: float
    thrift: float
    look: float = 0.0
    fill: float = 0.0
    nudges: Mapping[str, float] = field(default_factory=dict)
    only: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


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
        The hours end before the work does, or a kit that is waited for never comes back.
    """
    return Dispatcher(shop).by(rule)


class Dispatcher:
    """Schedules of one shop by many rules, one after the other."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.floor = Floor(shop)
        self.due = {job.job_id: math.inf if job.due is None else job.due for job in shop.jobs}
        self._order = {task.task_id: number for number, task in enumerate(shop.tasks)}
        self._followers: dict[str, list[Task]] = defaultdict(list)
        for task in shop.tasks:
            for name in task.after:
                self._followers[name].append(task)
        self._places = {task.task_id: allowed_places(self.floor, task) for task in shop.tasks}
        self._mean = math.fsum(task.duration for task in shop.tasks) / max(1, len(shop.tasks))
        self._tails = tails_of(shop)
        self._worth = self._worths()
        self._positions = self.floor.positions

    def by(self, rule: Rule | Weighing) -> tuple[Booking, ...]:
        """Every task, by start. Raises as `dispatch`."""
        floor = self.floor
        floor.clear()
        missing = {
            task.task_id: sum(one not in floor.ends for one in task.after)
            for task in self.shop.tasks
            if not task.running
        }
        places = self._places if isinstance(rule, str) or not rule.only else {**self._places, **rule.only}
        self._waiting = _Waiting(floor, places)
        for task in self.shop.tasks:
            if not task.running and missing[task.task_id] == 0:
                self._waiting.add(task)
        key = self._weighing_key(rule) if isinstance(rule, Weighing) else self._plain_key(rule)
        while self._waiting.ready:
            place_id, when = self._waiting.next_place()
            load = self._load(rule, key, place_id, when)
            self._waiting.take(load)
            for task in load:
                for other in self._followers.get(task.task_id, ()):
                    missing[other.task_id] -= 1
                    if missing[other.task_id] == 0:
                        self._waiting.add(other)
        return floor.bookings()

    # ------------------------------------------------------------------------------------------------------------------

    def _load(self, rule: Rule | Weighing, key: _Key, place_id: str, when: float) -> list[Task]:
        """What is put on a place next: the first by the rule, with what may share its load."""
        floor, ready = self.floor, self._waiting.ready
        seen = when if isinstance(rule, str) else when + rule.look * self._mean
        here = [task for task in self._waiting.at[place_id].values() if ready[task.task_id] <= seen]
        first = here[0] if len(here) == 1 else min(here, key=lambda task: key(task, place_id, when))
        if self._positions[place_id] == 1:
            floor.put([first.task_id], place_id)
            return [first]
        if isinstance(rule, Weighing):
            return self._filled(rule, key, place_id, when, first)
        load = [first]
        floor.put([first.task_id], place_id)
        for other in sorted(here, key=lambda task: (self.due[task.job_id], self._order[task.task_id])):
            if other is not first and floor.may_join(other.task_id, place_id):
                floor.join(other.task_id, place_id)
                load.append(other)
        return load

    def _filled(self, rule: Weighing, key: _Key, place_id: str, when: float, first: Task) -> list[Task]:
        """A load of what is there, and of what comes while it may wait; the longest leads it."""
        floor, ready = self.floor, self._waiting.ready
        begins = max(when + floor.setup(place_id, first.task_id), ready[first.task_id])
        until = begins + rule.fill * self._mean
        alike = [
            task
            for task in self._waiting.at[place_id].values()
            if task.setting == first.setting
            and ready[task.task_id] <= until
            and (task.hands, task.in_hours) == (first.hands, first.in_hours)
            and task is not first
        ]
        alike.sort(
            key=lambda task: (
                max(ready[task.task_id], begins) - begins + abs(task.duration - first.duration),
                key(task, place_id, when),
            )
        )
        chosen, room = [first], self._positions[place_id] - len(first.pieces)
        for task in alike:
            if len(task.pieces) <= room:
                chosen.append(task)
                room -= len(task.pieces)
        chosen.sort(key=lambda task: -task.duration)
        while len(chosen) > 1 and math.isinf(floor.kits_free([task.task_id for task in chosen])):
            chosen.pop()
        floor.put([task.task_id for task in chosen], place_id)
        return chosen

    def _worths(self) -> dict[str, float]:
        """What a task counts by itself: the shorter the more; without a date, the more work hangs on it."""
        priority = {job.job_id: job.priority for job in self.shop.jobs}
        mean, found = self._mean, {}
        for task in self.shop.tasks:
            if math.isinf(self.due[task.job_id]):
                found[task.task_id] = math.log((task.duration + self._tails[task.task_id]) / mean)
            else:
                found[task.task_id] = math.log(priority[task.job_id] * mean / (task.duration + 0.1 * mean))
        return found

    def _plain_key(self, rule: Rule) -> _Key:
        ready, due, order = self._waiting.ready, self.due, self._order
        if rule == "first_come":
            return lambda task, _place, _when: (ready[task.task_id], order[task.task_id])
        if rule == "due":
            return lambda task, _place, _when: (due[task.job_id], ready[task.task_id], order[task.task_id])
        return lambda task, place_id, _when: (
            self.floor.setup(place_id, task.task_id), due[task.job_id], ready[task.task_id], order[task.task_id],
        )  # fmt: skip

    def _weighing_key(self, rule: Weighing) -> _Key:
        ready, nudges, setup = self._waiting.ready, rule.nudges, self.floor.setup
        patience, thrift = rule.patience * self._mean, rule.thrift * self._mean
        due, tails, worth, order = self.due, self._tails, self._worth, self._order

        def key(task: Task, place_id: str, when: float) -> tuple[float, ...]:
            name, date = task.task_id, due[task.job_id]
            lost = max(ready[name] - when, setup(place_id, name))
            count = worth[name] - lost / thrift + nudges.get(name, 0.0)
            if date != math.inf:
                count -= max(0.0, date - when - task.duration - tails[name]) / patience
            return (-count, date, order[name])

        return key


# ----------------------------------------------------------------------------------------------------------------------

_Key = Callable[[Task, str, float], tuple[float, ...]]


class _Waiting:
    """Tasks whose predecessors are placed: when each is ready, by place, and which place can take one first."""

    def __init__(self, floor: Floor, places: Mapping[str, tuple[str, ...]]) -> None:
        self._floor, self._places = floor, places
        self.ready: dict[str, float] = {}
        self.at: dict[str, dict[str, Task]] = {place_id: {} for place_id in floor.positions}
        self._next = dict.fromkeys(floor.positions, math.inf)
        self._stale: set[str] = set()

    def add(self, task: Task) -> None:
        """A task that may be placed from now on."""
        at = self.ready[task.task_id] = self._floor.ready(task.task_id)
        for place_id in self._places[task.task_id]:
            self.at[place_id][task.task_id] = task
            self._next[place_id] = min(self._next[place_id], max(at, self._floor.free(place_id)))

    def take(self, load: Sequence[Task]) -> None:
        """Tasks that were placed; what waits for the kits that they took or gave back is looked at again."""
        for task in load:
            del self.ready[task.task_id]
            for place_id in self._places[task.task_id]:
                del self.at[place_id][task.task_id]
                self._stale.add(place_id)
        self._stale.add(self._floor.loads[-1].place_id)
        if self._floor.shop.holds:
            self._look_again(load)

    def next_place(self) -> tuple[str, float]:
        """The place that can take something first, and when."""
        for place_id in self._stale:
            here = self.at[place_id]
            least = min((self.ready[name] for name in here), default=math.inf)
            self._next[place_id] = max(least, self._floor.free(place_id))
        self._stale.clear()
        place_id = min(self._next, key=self._next.__getitem__)
        when = self._next[place_id]
        if math.isinf(when):
            waits = next(self._floor.tasks[name] for name in self.ready)
            self._floor.put([waits.task_id], self._places[waits.task_id][0])  # says for which kit it waits
        return place_id, when

    def _look_again(self, load: Sequence[Task]) -> None:
        floor = self._floor
        changed = {hold.kit_id for task in load for hold in floor.takes(task.task_id) + floor.gives(task.task_id)}
        if not changed:
            return
        for name in self.ready:
            if any(hold.kit_id in changed for hold in floor.takes(name)):
                self.ready[name] = floor.ready(name)
                self._stale.update(self._places[name])
