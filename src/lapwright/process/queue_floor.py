"""The shop while it is being filled: the earliest time at which place, people, hours and kits are free for a load.

Every load is placed behind what is placed already on its place. Whatever makes schedules without the solver stands on
this: the rules, the turning over of loads, the tidying of what the solver finds.
"""

from __future__ import annotations

import bisect
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lapwright.errors import CannotAnswer
from lapwright.model.queue import Booking, Closure, Hold, Setting, Shop, Task
from lapwright.process.queue_loads import by_start
from lapwright.process.queue_setup import changeover, states_before

#: Times nearer than this [s] are one; without it sums of odd durations never meet.
_SLACK = 1e-6


@dataclass(slots=True)
class _Known:
    """What placing needs to know of a task, at hand."""

    duration: float
    hands: float
    in_hours: bool
    earliest: float
    after: tuple[tuple[str, float], ...]
    setting: int
    takes: tuple[Hold, ...]
    gives: tuple[Hold, ...]


@dataclass(slots=True)
class Placed:
    """A load that is placed: where, its members (the first leads), and its times [s]."""

    place_id: str
    members: list[str]
    begin: float
    start: float
    end: float
    pieces: int
    before: int
    is_running: bool = False


class Floor:
    """The shop while it is being filled, load by load; each is placed behind what is placed already."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.tasks = {task.task_id: task for task in shop.tasks}
        self.positions = {place.place_id: place.positions for place in shop.places}
        self.fixes = {fix.task_id: fix for fix in shop.fixes}
        self._settings: dict[Setting, int] = {}
        self._known = self._look_over(shop)
        first = {place_id: self._number(setting) for place_id, setting in states_before(shop).items()}
        self._first_states = first
        self._table = self._changeovers()
        self._closed: dict[str, list[Closure]] = {
            place.place_id: sorted(place.closed, key=lambda one: one.start) for place in shop.places if place.closed
        }
        self._shifts = sorted(shop.shifts, key=lambda shift: shift.start)
        self._shift_ends = [shift.end for shift in self._shifts]
        self._running = [task for task in shop.tasks if task.running]
        self.clear()

    def clear(self) -> None:
        """Take all away again but what runs."""
        self.ends: dict[str, float] = {}
        self.loads: list[Placed] = []
        self._last: dict[str, Placed] = {}
        self._states = dict(self._first_states)
        self._free = dict.fromkeys(self.positions, 0.0)
        self._busy: list[list[tuple[float, float]]] = [[] for _ in self._shifts]
        self._longest = [0.0] * len(self._shifts)
        self._kits = self._kits_now()
        for task in self._running:
            self._run_on(task)

    def bookings(self) -> tuple[Booking, ...]:
        """All that is placed, by start."""
        settings = {number: setting for setting, number in self._settings.items()}
        found = []
        for load in self.loads:
            setting = self.tasks[load.members[0]].setting
            why = "" if load.is_running else changeover(settings[load.before], setting, self.shop.changeovers)[1]
            found += [
                Booking(
                    task_id=name, place_id=load.place_id, begin=load.begin, start=load.start, end=load.end,
                    why="" if number else why, leads=number == 0,
                )
                for number, name in enumerate(load.members)
            ]  # fmt: skip
        return by_start(found)

    def ready(self, name: str) -> float:
        """When the tasks before one, their rests and its kits are over or free [s]; all before it must be placed.

        Infinite while every one of a kit that it needs is in use, and nothing placed gives one back.
        """
        known = self._known[name]
        at = known.earliest
        for before, rest in known.after:
            done = self.ends[before] + rest
            at = max(at, done)
        return max(at, self.kits_free((name,))) if known.takes else at

    def kits_free(self, names: Iterable[str]) -> float:
        """When all the kits that tasks take together are free [s]; infinite while nothing placed gives them back."""
        needed: dict[str, int] = defaultdict(int)
        for name in names:
            for hold in self._known[name].takes:
                needed[hold.kit_id] += hold.count
        at = 0.0
        for kit_id, count in needed.items():
            free = self._kits[kit_id]
            at = max(at, free[count - 1] if count <= len(free) else math.inf)
        return at

    def takes(self, name: str) -> tuple[Hold, ...]:
        """The kits that a task takes."""
        return self._known[name].takes

    def gives(self, name: str) -> tuple[Hold, ...]:
        """The kits that are free again after a task."""
        return self._known[name].gives

    def free(self, place_id: str) -> float:
        """When the last load placed on a place ends [s]."""
        return self._free[place_id]

    def setup(self, place_id: str, name: str) -> float:
        """The changeover that a task would need there now [s]."""
        return self._table[self._states[place_id]][self._known[name].setting]

    def put(self, names: Sequence[str], place_id: str, held: float = 0.0) -> Placed:
        """Place tasks in one load behind the last of a place, as early as possible, not before `held`; the first leads.

        Raises `CannotAnswer`.
        """
        first = self._known[names[0]]
        state = self._states[place_id]
        setup = self._table[state][first.setting]
        length, earliest = 0.0, max(held, self._free[place_id] + setup)
        takes = False
        for name in names:
            known = self._known[name]
            length = max(length, known.duration)
            earliest = max(earliest, known.earliest)
            for before, rest in known.after:
                earliest = max(earliest, self.ends[before] + rest)
            takes = takes or bool(known.takes)
        if takes:
            earliest = max(earliest, self.kits_free(names))
            if math.isinf(earliest):
                raise CannotAnswer(self._never(names))
        start = self._slot(names[0], place_id, setup, length, earliest)
        load = Placed(place_id, list(names), start - setup, start, start + length, 0, state)
        self._states[place_id] = first.setting
        self._stand(load)
        return load

    def may_join(self, name: str, place_id: str) -> bool:
        """Whether a task could run in the load that was placed last on a place, without delaying its start."""
        load = self._last.get(place_id)
        if load is None or load.is_running or self.tasks[name].running:
            return False
        task, leader = self.tasks[name], self.tasks[load.members[0]]
        fix = self.fixes.get(name)
        if fix is not None and load.start < fix.start:
            return False
        alike = (task.setting, task.in_hours, task.hands) == (leader.setting, leader.in_hours, leader.hands)
        room = load.pieces + len(task.pieces) <= self.positions[place_id]
        return alike and room and task.duration <= load.end - load.start and self.ready(name) <= load.start

    def join(self, name: str, place_id: str) -> None:
        """Place a task in the load that was placed last on a place."""
        load = self._last[place_id]
        load.members.append(name)
        self._end(load, name)

    # ------------------------------------------------------------------------------------------------------------------

    def _look_over(self, shop: Shop) -> dict[str, _Known]:
        takes: dict[str, list[Hold]] = defaultdict(list)
        gives: dict[str, list[Hold]] = defaultdict(list)
        for hold in shop.holds:
            gives[hold.last].append(hold)
            if hold.first:
                takes[hold.first].append(hold)
        rests = {task.task_id: task.rest for task in shop.tasks}
        found = {}
        for task in shop.tasks:
            fix = self.fixes.get(task.task_id)
            found[task.task_id] = _Known(
                duration=task.duration,
                hands=min(task.hands, task.duration),
                in_hours=task.in_hours,
                earliest=max(0.0, task.release, 0.0 if fix is None else fix.start),
                after=tuple((name, rests[name]) for name in task.after),
                setting=self._number(task.setting),
                takes=tuple(takes[task.task_id]),
                gives=tuple(gives[task.task_id]),
            )
        return found

    def _number(self, setting: Setting) -> int:
        return self._settings.setdefault(setting, len(self._settings))

    def _changeovers(self) -> list[list[float]]:
        return [
            [changeover(before, after, self.shop.changeovers)[0] for after in self._settings]
            for before in self._settings
        ]

    def _kits_now(self) -> dict[str, list[float]]:
        """By kit, when those that are not in use come free, in order."""
        held: dict[str, int] = defaultdict(int)
        for hold in self.shop.holds:
            held[hold.kit_id] += 0 if hold.first else hold.count
        return {kit.kit_id: [0.0] * max(0, kit.count - held[kit.kit_id]) for kit in self.shop.kits}

    def _run_on(self, task: Task) -> None:
        place_id = task.places[0]
        load = self._last.get(place_id)
        if load is None:
            setting = self._known[task.task_id].setting
            load = Placed(place_id, [task.task_id], 0.0, 0.0, task.duration, 0, setting, is_running=True)
            self._stand(load)
            return
        load.members.append(task.task_id)
        load.end = max(load.end, task.duration)
        self._end(load, task.task_id)
        self._free[place_id] = load.end

    def _stand(self, load: Placed) -> None:
        self._last[load.place_id] = load
        self._free[load.place_id] = load.end
        self.loads.append(load)
        for name in load.members:
            self._end(load, name)

    def _end(self, load: Placed, name: str) -> None:
        """What the end of a task in a load settles: its own, and that of the kits that it takes and gives back."""
        end = self.ends[name] = self.tasks[name].duration if load.is_running else load.end
        load.pieces += len(self.tasks[name].pieces)
        known = self._known[name]
        for hold in known.takes:
            free = self._kits[hold.kit_id]
            last = bisect.bisect_right(free, load.start + _SLACK)
            del free[max(0, last - hold.count) : last]
        for hold in known.gives:
            for _ in range(hold.count):
                bisect.insort(self._kits[hold.kit_id], end)

    def _never(self, names: Sequence[str]) -> str:
        said = {kit.kit_id: kit.name or kit.kit_id for kit in self.shop.kits}
        wanted = ", ".join(sorted({said[hold.kit_id] for name in names for hold in self._known[name].takes}))
        task = self.tasks[names[0]]
        return (
            f"{task.name or task.task_id} of job {task.job_id} waits for: {wanted}; and none ever comes back."
            " Enter more of them, or take off what is on them."
        )

    def _slot(self, name: str, place_id: str, setup: float, length: float, start: float) -> float:
        """The earliest start from a time on at which hours, people and place allow it; hands are bound from then."""
        known = self._known[name]
        by_hand = bool(self._shifts) and known.hands + setup > 0.0
        needs_person = by_hand or (bool(self._shifts) and known.in_hours)
        closed = self._closed.get(place_id)
        shift = None
        while True:
            later = start
            if closed is not None:
                for closure in closed:
                    if later - setup < closure.end - _SLACK and closure.start < later + length - _SLACK:
                        later = closure.end + setup
            if needs_person:
                shift, later = self._past_people(name, setup, length, later)
            if later == start or closed is None:
                break
            start = later
        if by_hand and shift is not None:
            bisect.insort(self._busy[shift], (later - setup, later + known.hands))
            self._longest[shift] = max(self._longest[shift], setup + known.hands)
        return later

    def _past_people(self, name: str, setup: float, length: float, start: float) -> tuple[int, float]:
        known = self._known[name]
        inside = length if known.in_hours else known.hands
        for number in range(bisect.bisect_right(self._shift_ends, start - setup), len(self._shifts)):
            shift = self._shifts[number]
            start = max(start, shift.start + setup)
            if known.hands + setup > 0.0:
                start = self._past_busy(number, shift.people, start, setup, known.hands)
            if start + inside <= shift.end + _SLACK:
                return number, start
        task = self.tasks[name]
        raise CannotAnswer(
            f"No shift is long enough, or late enough, for {task.name or task.task_id}: it needs"
            f" {(setup + inside) / 60.0:.0f} min with somebody there. Enter longer or later hours."
        )

    def _past_busy(self, number: int, people: int, start: float, setup: float, bound: float) -> float:
        """The earliest start from a time on at which somebody has his hands free for changeover and loading."""
        busy, longest = self._busy[number], self._longest[number]
        while True:
            begin, end = start - setup, start + bound
            first = bisect.bisect_left(busy, (begin - longest - _SLACK,))
            last = bisect.bisect_left(busy, (end - _SLACK,))
            meeting = [one for one in busy[first:last] if begin < one[1] - _SLACK]
            if len(meeting) < people:
                return start
            moments = [begin, *(one[0] for one in meeting if one[0] > begin)]
            crowded = [at for at in moments if _bound_at(meeting, at) >= people]
            if not crowded:
                return start
            at = max(crowded)
            start = min(one[1] for one in meeting if one[0] <= at + _SLACK and at < one[1] - _SLACK) + setup


def allowed_places(floor: Floor, task: Task) -> tuple[str, ...]:
    """Where a task may be placed: where it was set by hand, else at any of its places.

    Parameters
    ----------
    floor : Floor
        The shop.
    task : Task
        One of its tasks.

    Returns
    -------
    tuple of str
    """
    fix = floor.fixes.get(task.task_id)
    return task.places if fix is None else (fix.place_id,)


# ----------------------------------------------------------------------------------------------------------------------


def _bound_at(busy: Sequence[tuple[float, float]], at: float) -> int:
    """How many hands are bound at a moment."""
    return sum(one[0] <= at + _SLACK and at < one[1] - _SLACK for one in busy)
