"""Placing tasks one after the other: the earliest time at which place, people and hours are free for each.

From it come the schedules by rules, the first answer that the solver starts from, and the tidying of what it answers.
"""

from __future__ import annotations

import bisect
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from lapwright.errors import BadInput, CannotAnswer, Fault
from lapwright.model.queue import Booking, Setting, Shop, Task
from lapwright.process.queue_setup import changeover, states_before

#: Times nearer than this [s] are one; without it sums of odd durations never meet.
_SLACK = 1e-6


@dataclass(slots=True)
class _Load:
    """The load that was placed last on a place."""

    setting: Setting
    begin: float
    start: float
    end: float
    why: str = ""
    pieces: int = 0
    members: list[str] = field(default_factory=list)
    is_running: bool = False


class Floor:
    """The shop while it is being filled, task by task; each is placed behind what is placed already."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.tasks = {task.task_id: task for task in shop.tasks}
        self.places = {place.place_id: place for place in shop.places}
        self.fixes = {fix.task_id: fix for fix in shop.fixes}
        self.booked: dict[str, Booking] = {}
        self._states = states_before(shop)
        self._loads: dict[str, _Load] = {}
        self._shifts = sorted(shop.shifts, key=lambda shift: shift.start)
        self._ends = [shift.end for shift in self._shifts]
        self._busy: list[list[tuple[float, float]]] = [[] for _ in self._shifts]
        for task in shop.tasks:
            if task.running:
                self._run_on(task)

    def ready(self, task: Task) -> float:
        """When the tasks before it and their rests are over [s]; all of them must be placed."""
        done = (self.booked[one].end + self.tasks[one].rest for one in task.after)
        return max(task.release, 0.0, max(done, default=0.0))

    def free(self, place_id: str) -> float:
        """When the last load placed on a place ends [s]."""
        load = self._loads.get(place_id)
        return 0.0 if load is None else load.end

    def is_loaded(self, place_id: str) -> bool:
        """Whether anything is placed there."""
        return place_id in self._loads

    def setup(self, place_id: str, setting: Setting) -> tuple[float, str]:
        """The changeover that a load would need there now [s], and its words."""
        load = self._loads.get(place_id)
        before = self._states[place_id] if load is None else load.setting
        return changeover(before, setting, self.shop.changeovers)

    def put(self, task: Task, place_id: str) -> Booking:
        """Place a task behind the last load of a place, as early as possible. Raises `CannotAnswer`."""
        setup, why = self.setup(place_id, task.setting)
        fix = self.fixes.get(task.task_id)
        earliest = max(self.ready(task), self.free(place_id) + setup, setup, 0.0 if fix is None else fix.start)
        start, shift = self._slot(task, place_id, setup, earliest)
        if task.hands + setup > 0.0 and shift is not None:
            bisect.insort(self._busy[shift], (start - setup, start + _bound(task)))
        self._loads[place_id] = _Load(
            setting=task.setting, begin=start - setup, start=start, end=start + task.duration, why=why,
            pieces=len(task.pieces), members=[task.task_id],
        )  # fmt: skip
        return self._book(task, place_id, leads=True)

    def may_join(self, task: Task, place_id: str) -> bool:
        """Whether a task could run in the load that was placed last on a place, without delaying its start."""
        load = self._loads.get(place_id)
        fix = self.fixes.get(task.task_id)
        if load is None or load.is_running or load.setting != task.setting or task.running:
            return False
        if fix is not None and load.start < fix.start:
            return False
        leader = self.tasks[load.members[0]]
        alike = (task.in_hours, task.hands) == (leader.in_hours, leader.hands) and task.duration <= leader.duration
        room = load.pieces + len(task.pieces) <= self.places[place_id].positions
        return alike and room and self.ready(task) <= load.start

    def join(self, task: Task, place_id: str) -> Booking:
        """Place a task in the load that was placed last on a place."""
        load = self._loads[place_id]
        load.pieces += len(task.pieces)
        load.members.append(task.task_id)
        return self._book(task, place_id, leads=False)

    # ------------------------------------------------------------------------------------------------------------------

    def _run_on(self, task: Task) -> None:
        place_id = task.places[0]
        load = self._loads.get(place_id)
        if load is None:
            load = _Load(setting=task.setting, begin=0.0, start=0.0, end=task.duration, is_running=True)
            self._loads[place_id] = load
        load.end = max(load.end, task.duration)
        is_first = not load.members
        load.members.append(task.task_id)
        self.booked[task.task_id] = Booking(
            task_id=task.task_id, place_id=place_id, begin=0.0, start=0.0, end=task.duration, leads=is_first
        )

    def _book(self, task: Task, place_id: str, *, leads: bool) -> Booking:
        load = self._loads[place_id]
        booking = Booking(
            task_id=task.task_id, place_id=place_id, begin=load.begin, start=load.start, end=load.end,
            why=load.why if leads else "", leads=leads,
        )  # fmt: skip
        self.booked[task.task_id] = booking
        return booking

    def _slot(self, task: Task, place_id: str, setup: float, start: float) -> tuple[float, int | None]:
        """The earliest start from a time on at which hours, people and place allow it, and its shift."""
        needs_person = task.hands + setup > 0.0 or task.in_hours
        shift = None
        while True:
            later = self._past_closures(place_id, start, setup, task.duration)
            if needs_person and self._shifts:
                shift, later = self._past_people(task, setup, later)
            if later == start:
                return start, shift
            start = later

    def _past_closures(self, place_id: str, start: float, setup: float, duration: float) -> float:
        for closure in sorted(self.places[place_id].closed, key=lambda one: one.start):
            if start - setup < closure.end - _SLACK and closure.start < start + duration - _SLACK:
                start = closure.end + setup
        return start

    def _past_people(self, task: Task, setup: float, start: float) -> tuple[int, float]:
        bound = _bound(task)
        inside = task.duration if task.in_hours else bound
        for number in range(bisect.bisect_right(self._ends, start - setup), len(self._shifts)):
            shift = self._shifts[number]
            start = max(start, shift.start + setup)
            if task.hands + setup > 0.0:
                start = _past_busy(self._busy[number], shift.people, start, setup, bound)
            if start + inside <= shift.end + _SLACK:
                return number, start
        raise CannotAnswer(
            f"No shift is long enough, or late enough, for {task.name or task.task_id}: it needs"
            f" {(setup + inside) / 60.0:.0f} min with somebody there. Enter longer or later hours."
        )


def tidied(shop: Shop, bookings: Sequence[Booking]) -> tuple[Booking, ...]:
    """The same loads in the same order on the same places, each as early as it can be.

    Parameters
    ----------
    shop : Shop
        The shop.
    bookings : sequence of Booking
        A schedule; its times give the order only.

    Returns
    -------
    tuple of Booking
        By start.

    Raises
    ------
    CannotAnswer
        The hours end before the work does.
    """
    floor = Floor(shop)
    for load in loads_of(bookings):
        todo = [floor.tasks[one.task_id] for one in load if one.task_id not in floor.booked]
        _put_load(floor, todo, load[0].place_id)
    return by_start(floor.booked.values())


def kept_order(shop: Shop, bookings: Sequence[Booking]) -> tuple[Booking, ...]:
    """A schedule in force on a shop that has changed since: the same order on the same places, what is new behind it.

    Parameters
    ----------
    shop : Shop
        The shop as it is now.
    bookings : sequence of Booking
        The schedule in force; what is done by now is left out.

    Returns
    -------
    tuple of Booking
        Every task of the shop, by start.

    Raises
    ------
    CannotAnswer
        The hours end before the work does.
    """
    floor = Floor(shop)
    known = {task.task_id for task in shop.tasks}
    for load in loads_of([one for one in bookings if one.task_id in known]):
        todo = [floor.tasks[one.task_id] for one in load if one.task_id not in floor.booked]
        for task in todo:
            _put_all_before(floor, task, {one.task_id for one in todo})
        _put_load(floor, [one for one in todo if one.task_id not in floor.booked], load[0].place_id)
    due = {job.job_id: math.inf if job.due is None else job.due for job in shop.jobs}
    for task in sorted(shop.tasks, key=lambda one: due[one.job_id]):
        if task.task_id not in floor.booked:
            _put_all_before(floor, task, set())
            _put_load(floor, [task], "")
    return by_start(floor.booked.values())


def rounded_shop(shop: Shop, tick: float) -> Shop:
    """The shop in whole ticks: what takes time rounded up, hours inwards, closures outwards, due dates down.

    Parameters
    ----------
    shop : Shop
        The shop.
    tick : float [s]
        Grain of time.

    Returns
    -------
    Shop
        A schedule of it is one of the shop.
    """

    def up(time: float) -> float:
        return math.ceil(time / tick - 1e-9) * tick

    def down(time: float) -> float:
        return math.floor(time / tick + 1e-9) * tick

    shifts = [(one, up(one.start), down(one.end)) for one in shop.shifts]
    return replace(
        shop,
        tasks=tuple(
            replace(one, duration=up(one.duration), hands=up(one.hands), rest=up(one.rest), release=up(one.release))
            for one in shop.tasks
        ),
        jobs=tuple(one if one.due is None else replace(one, due=down(one.due)) for one in shop.jobs),
        shifts=tuple(replace(one, start=start, end=end) for one, start, end in shifts if start < end),
        places=tuple(
            replace(one, closed=tuple(replace(each, start=down(each.start), end=up(each.end)) for each in one.closed))
            for one in shop.places
        ),
        changeovers=replace(
            shop.changeovers,
            **{name: up(getattr(shop.changeovers, name)) for name in ("plate_change", "wash", "cleaning", "templates")},
        ),
        fixes=tuple(replace(one, start=up(one.start)) for one in shop.fixes),
    )


def loads_of(bookings: Iterable[Booking]) -> list[list[Booking]]:
    """The loads of a schedule in the order of their starts, each with its tasks.

    Parameters
    ----------
    bookings : iterable of Booking
        A schedule.

    Returns
    -------
    list of list of Booking
    """
    grouped: dict[tuple[str, float], list[Booking]] = defaultdict(list)
    for one in bookings:
        grouped[(one.place_id, one.start)].append(one)
    listed = [sorted(load, key=lambda one: (not one.leads, one.task_id)) for load in grouped.values()]
    return sorted(listed, key=lambda load: (load[0].start, load[0].begin, load[0].place_id, load[0].task_id))


def by_start(bookings: Iterable[Booking]) -> tuple[Booking, ...]:
    """Bookings by start, then by place and name.

    Parameters
    ----------
    bookings : iterable of Booking
        In any order.

    Returns
    -------
    tuple of Booking
    """
    return tuple(sorted(bookings, key=lambda one: (one.start, one.place_id, one.task_id)))


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


def tails_of(shop: Shop) -> dict[str, float]:
    """The least time that what comes after each task takes, its own rest included.

    Parameters
    ----------
    shop : Shop
        The shop.

    Returns
    -------
    dict of str to float [s]
        By task.
    """
    tails = {task.task_id: task.rest for task in shop.tasks}
    named = {task.task_id: task for task in shop.tasks}
    for task in reversed(in_order(shop)):
        for name in task.after:
            tails[name] = max(tails[name], named[name].rest + task.duration + tails[task.task_id])
    return tails


def in_order(shop: Shop) -> list[Task]:
    """Tasks, each behind those before it.

    Parameters
    ----------
    shop : Shop
        The shop.

    Returns
    -------
    list of Task

    Raises
    ------
    BadInput
        Tasks wait for each other in a ring.
    """
    placed: dict[str, Task] = {}
    todo = list(shop.tasks)
    while todo:
        next_ones = [task for task in todo if all(one in placed for one in task.after)]
        if not next_ones:
            named = ", ".join(task.task_id for task in todo[:4])
            sentence = f"Tasks wait for each other in a ring: {named}. Mend what comes after what."
            raise BadInput([Fault(sentence=sentence)])
        placed |= {task.task_id: task for task in next_ones}
        todo = [task for task in todo if task.task_id not in placed]
    return list(placed.values())


# ----------------------------------------------------------------------------------------------------------------------


def _put_all_before(floor: Floor, task: Task, beside: set[str]) -> None:
    """Place what must be done before a task and is not placed yet."""
    for name in task.after:
        if name not in floor.booked and name not in beside:
            _put_all_before(floor, floor.tasks[name], beside)
            _put_load(floor, [floor.tasks[name]], "")


def _put_load(floor: Floor, todo: Sequence[Task], place_id: str) -> None:
    """Place tasks in one load, as far as there is room; on a place that is free first when theirs is not allowed."""
    todo = sorted(todo, key=lambda task: -task.duration)
    while todo:
        first, room = todo[0], 0
        allowed = allowed_places(floor, first)
        place = place_id if place_id in allowed else min(allowed, key=floor.free)
        together: list[Task] = []
        rest: list[Task] = []
        for task in todo:
            room += len(task.pieces)
            fits = room <= floor.places[place].positions and place in allowed_places(floor, task)
            (together if fits or task is first else rest).append(task)
        floor.put(_held(first, max(floor.ready(task) for task in together)), place)
        for task in together[1:]:
            floor.join(task, place)
        todo = rest


def _held(task: Task, ready: float) -> Task:
    """The task, not before a time at which all of its load are there."""
    return task if ready <= task.release else replace(task, release=ready)


def _bound(task: Task) -> float:
    """How long from its start a task binds a person [s]."""
    return min(task.hands, task.duration)


def _past_busy(busy: Sequence[tuple[float, float]], people: int, start: float, setup: float, bound: float) -> float:
    """The earliest start from a time on at which one of the people has his hands free for changeover and loading."""
    while True:
        begin, end = start - setup, start + bound
        meeting = [one for one in busy if one[0] < end - _SLACK and begin < one[1] - _SLACK]
        if len(meeting) < people:
            return start
        moments = [begin, *(one[0] for one in meeting if one[0] > begin)]
        crowded = [at for at in moments if _bound_at(meeting, at) >= people]
        if not crowded:
            return start
        at = max(crowded)
        start = min(one[1] for one in meeting if one[0] <= at + _SLACK and at < one[1] - _SLACK) + setup


def _bound_at(busy: Sequence[tuple[float, float]], at: float) -> int:
    """How many hands are bound at a moment."""
    return sum(one[0] <= at + _SLACK and at < one[1] - _SLACK for one in busy)
