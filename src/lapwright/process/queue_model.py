"""The schedule as a model for the constraint solver, in whole ticks of time.

On each place the loads follow each other in a circuit, so that the changeover before each depends on what ran before;
tasks of one setting may share a load up to the positions of the place. People are a resource in whose absence nothing
begins; what runs unattended may run on. All times are rounded so that what the model allows the shop can do.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from lapwright.errors import CannotAnswer
from lapwright.model.queue import Booking, Place, Shop, Task
from lapwright.process.queue_limits import add_kits, add_people, keep_alike
from lapwright.process.queue_loads import by_start
from lapwright.process.queue_order import all_before, is_never, led_by_first, ranks
from lapwright.process.queue_setup import changeover, states_before
from lapwright.process.queue_solver import solver_library
from lapwright.process.queue_terms import lateness_of, makespan_of, moved_in

#: How many places in the order a free task may move past tasks that are not free.
_REACH = 5


@dataclass(slots=True)
class _Spot:
    """A task on one of its places: whether it is there, whether it leads its load, whom it joins."""

    present: Any
    leads: Any
    occupies: Any
    joins: dict[str, Any] = field(default_factory=dict)


class QueueModel:
    """A shop as variables and constraints; `tick` [s] is the grain of time, `horizon` [s] the latest end.

    `base` is a schedule to start from. With `free`, only those tasks may change place or order; the others keep theirs
    among themselves, at whatever times. `least_end` [ticks] is proved: no schedule ends before.
    """

    def __init__(
        self,
        shop: Shop,
        *,
        tick: float,
        horizon: float,
        base: Sequence[Booking],
        free: frozenset[str] | None = None,
        previous: Sequence[Booking] = (),
        least_end: int = 0,
    ) -> None:
        self.cp = solver_library()
        self.model = self.cp.CpModel()
        self.shop, self.tick = shop, tick
        self.horizon, self.least_end = self.up(horizon), least_end
        self.tasks = {task.task_id: task for task in shop.tasks}
        self.previous = {one.task_id: one for one in previous if one.task_id in self.tasks}
        self.starts: dict[str, Any] = {}
        self.ends: dict[str, Any] = {}
        self.begins: dict[str, Any] = {}
        self.setups: dict[str, Any] = {}
        self.spots: dict[str, dict[str, _Spot]] = {}
        self.arcs: dict[str, dict[tuple[str | None, str | None], Any]] = {}
        self.idle: dict[str, Any] = {}
        self.leading: dict[str, Any] = {}
        self.spans: dict[tuple[str, str, str], Any] = {}
        self.late: dict[str, Any] = {}
        self.due: dict[str, int] = {}
        self._whys: dict[tuple[str, str | None, str], tuple[int, str]] = {}
        self.fixes = {fix.task_id: fix for fix in shop.fixes}
        self._states = states_before(shop)
        self.free = frozenset(self.tasks) if free is None else free
        self._is_part = free is not None
        self.base = {one.task_id: one for one in led_by_first(base, list(self.tasks))}
        self._ranks = ranks(list(self.base.values()))
        self._before = all_before(shop)
        for task in shop.tasks:
            self._add_task(task)
        self._after_each_other()
        for place in shop.places:
            self._fill_place(place)
        add_people(self)
        add_kits(self)
        if not self._is_part:
            keep_alike(self)
        self.makespan = makespan_of(self)
        self.lateness = lateness_of(self)
        self.changeovers = sum(lit for arcs in self._changing().values() for lit in arcs)
        self.moved = moved_in(self)

    # ------------------------------------------------------------------------------------------------------------------

    def read(self, solver: Any) -> tuple[Booking, ...]:
        """The schedule that a solver found, by start."""
        found = []
        for name in self.tasks:
            place_id, spot = next(
                (key, one) for key, one in self.spots[name].items() if solver.boolean_value(one.present)
            )
            start, end = solver.value(self.starts[name]), solver.value(self.ends[name])
            setup = solver.value(self.setups[name])
            leads = bool(solver.boolean_value(spot.leads))
            why = self._why(solver, place_id, name) if leads and setup else ""
            found.append(
                Booking(
                    task_id=name,
                    place_id=place_id,
                    begin=(start - setup) * self.tick,
                    start=start * self.tick,
                    end=end * self.tick,
                    why=why,
                    leads=leads,
                )
            )
        return by_start(found)

    # ------------------------------------------------------------------------------------------------------------------

    def _add_task(self, task: Task) -> None:
        model, name = self.model, task.task_id
        length = self.up(task.duration)
        fix = self.fixes.get(name)
        earliest = self.up(max(0.0, task.release, 0.0 if fix is None else fix.start))
        domain = [(0, 0)] if task.running else self._start_domain(task, earliest)
        self.starts[name] = model.new_int_var_from_domain(self.cp.Domain.from_intervals(domain), f"start {name}")
        longest = length if task.running else max(length, self._longest_alike(task))
        if longest > length:
            self.ends[name] = model.new_int_var(length, self.horizon, f"end {name}")
            model.add(self.ends[name] >= self.starts[name] + length)
            model.add(self.ends[name] <= self.starts[name] + longest)
        else:
            self.ends[name] = self.starts[name] + length
            model.add(self.ends[name] <= self.horizon)
        most = 0 if task.running else self._longest_setup(task)
        self.setups[name] = model.new_int_var(0, most, f"setup {name}") if most else 0
        self.begins[name] = self.starts[name]
        if most:
            self.begins[name] = model.new_int_var(0, self.horizon, f"begin {name}")
            model.add(self.begins[name] + self.setups[name] == self.starts[name])
        places = task.places[:1] if task.running else task.places
        places = places if fix is None or task.running else (fix.place_id,)
        places = places if name in self.free else (self.base[name].place_id,)
        lits = {place_id: 1 if len(places) == 1 else model.new_bool_var(f"{name} at {place_id}") for place_id in places}
        if len(places) > 1:
            model.add_exactly_one(lits.values())
        self.spots[name] = {key: _Spot(present=lit, leads=lit, occupies=None) for key, lit in lits.items()}

    def _start_domain(self, task: Task, earliest: int) -> list[tuple[int, int]]:
        inside = task.duration if task.in_hours else min(task.hands, task.duration)
        if not self.shop.shifts or (task.hands == 0.0 and not task.in_hours):
            return [(earliest, self.horizon)]
        spans = [(max(earliest, self.up(one.start)), self.down(one.end) - self.up(inside)) for one in self.shop.shifts]
        spans = [(first, min(last, self.horizon)) for first, last in spans if first <= min(last, self.horizon)]
        if not spans:
            raise CannotAnswer(
                f"No shift is long enough, or late enough, for {task.name or task.task_id}: it needs"
                f" {inside / 60.0:.0f} min with somebody there. Enter longer or later hours."
            )
        return spans

    def _after_each_other(self) -> None:
        for task in self.shop.tasks:
            for name in task.after:
                self.model.add(self.starts[task.task_id] >= self.ends[name] + self.up(self.tasks[name].rest))

    # ------------------------------------------------------------------------------------------------------------------

    def _fill_place(self, place: Place) -> None:
        here = [task for task in self.shop.tasks if place.place_id in self.spots[task.task_id]]
        if not here:
            return
        if place.positions > 1:
            self._share_loads(place, here)
        here = [task for task in here if not is_never(self.spots[task.task_id][place.place_id].leads)]
        intervals = [self._occupied(place.place_id, task) for task in here]
        runs_until = max((self.up(task.duration) for task in here if task.running), default=0)
        for closure in place.closed:
            first, last = max(runs_until, self.down(closure.start)), self.up(closure.end)
            if last > first:
                intervals.append(
                    self.model.new_fixed_size_interval_var(first, last - first, f"closed {place.place_id}")
                )
        self.model.add_no_overlap(intervals)
        if self._needs_order(place, here):
            self._order(place, here)
            return
        for task in here:
            if not isinstance(self.setups[task.task_id], int):
                present = self.spots[task.task_id][place.place_id].present
                self.model.add(self.setups[task.task_id] == 0).only_enforce_if(present)

    def _needs_order(self, place: Place, here: Sequence[Task]) -> bool:
        """Whether what ran before matters: there are changeovers, or an earlier order to keep."""
        settings = {task.setting for task in here} | {self._states[place.place_id]}
        some = any(changeover(one, other, self.shop.changeovers)[0] for one in settings for other in settings)
        return some or any(self.previous.get(task.task_id) for task in here)

    def _occupied(self, place_id: str, task: Task) -> Any:
        name = task.task_id
        spot = self.spots[name][place_id]
        begin = self.begins[name]
        is_fixed = isinstance(self.setups[name], int) and not isinstance(self.ends[name], self.cp.IntVar)
        if is_fixed and isinstance(spot.leads, int):
            size = self.up(task.duration)
            return self.model.new_interval_var(begin, size, self.ends[name], f"{name} on {place_id}")
        size = spot.occupies = self.model.new_int_var(0, self.horizon, f"{name} takes on {place_id}")
        if isinstance(spot.leads, int):
            return self.model.new_interval_var(begin, size, self.ends[name], f"{name} on {place_id}")
        return self.model.new_optional_interval_var(begin, size, self.ends[name], spot.leads, f"{name} on {place_id}")

    def _share_loads(self, place: Place, here: Sequence[Task]) -> None:
        """Tasks of one setting may run in one load; the first by name leads it."""
        groups: dict[Any, list[Task]] = defaultdict(list)
        for task in here:
            groups[(task.setting, task.hands, task.in_hours, task.running)].append(task)
        for group in groups.values():
            if len(group) > 1:
                self._share_in_group(place, group)

    def _share_in_group(self, place: Place, group: Sequence[Task]) -> None:
        model, place_id = self.model, place.place_id
        for task in group:
            spot = self.spots[task.task_id][place_id]
            if task.task_id in self.free:
                spot.leads = model.new_bool_var(f"{task.task_id} leads on {place_id}")
            else:
                spot.leads = int(self.base[task.task_id].leads)
        for number, task in enumerate(group):
            spot = self.spots[task.task_id][place_id]
            for leader in group[:number]:
                if self._may_join(place, leader, task):
                    spot.joins[leader.task_id] = self._join(place_id, leader, task)
            if task.task_id in self.free:
                model.add(spot.leads + sum(spot.joins.values()) == spot.present)
        for leader in group:
            joining = [(one, self.spots[one.task_id][place_id].joins.get(leader.task_id)) for one in group]
            if any(lit is not None for _, lit in joining):
                taken = sum(len(one.pieces) * lit for one, lit in joining if lit is not None)
                model.add(taken <= place.positions - len(leader.pieces))

    def _may_join(self, place: Place, leader: Task, task: Task) -> bool:
        if len(leader.pieces) + len(task.pieces) > place.positions or leader.task_id in self._before[task.task_id]:
            return False
        one, other = self.base[leader.task_id], self.base[task.task_id]
        if task.task_id not in self.free:
            return one.leads and (one.place_id, one.start) == (other.place_id, other.start)
        if leader.task_id not in self.free and not one.leads:
            return False
        return not self._is_part or self._is_near(place.place_id, leader.task_id, task.task_id)

    def _join(self, place_id: str, leader: Task, task: Task) -> Any:
        if task.task_id not in self.free:
            lit = self.model.new_constant(1)
        else:
            lit = self.model.new_bool_var(f"{task.task_id} with {leader.task_id} on {place_id}")
        leads = self.spots[leader.task_id][place_id].leads
        if not isinstance(leads, int):
            self.model.add_implication(lit, leads)
        self.model.add(self.starts[task.task_id] == self.starts[leader.task_id]).only_enforce_if(lit)
        self.model.add(self.ends[task.task_id] == self.ends[leader.task_id]).only_enforce_if(lit)
        if not isinstance(self.setups[task.task_id], int):
            self.model.add(self.setups[task.task_id] == self.setups[leader.task_id]).only_enforce_if(lit)
        return lit

    def _order(self, place: Place, here: Sequence[Task]) -> None:
        """The loads of a place one after the other, each with the changeover from the one before."""
        model, place_id = self.model, place.place_id
        before = self._states[place_id]
        number = {task.task_id: index for index, task in enumerate(here, start=1)}
        arcs: dict[tuple[str | None, str | None], Any] = {}
        listed = []
        self.idle[place_id] = model.new_bool_var(f"{place_id} is idle")
        listed.append((0, 0, self.idle[place_id]))
        runs_now = any(task.running for task in here)
        for task in here:
            name = task.task_id
            leads = self.spots[name][place_id].leads
            if not isinstance(leads, int):
                listed.append((number[name], number[name], leads.negated()))
            if self._may_follow(place_id, None, name) and (task.running or not runs_now):
                first = arcs[(None, name)] = model.new_bool_var(f"{place_id} first {name}")
                listed.append((0, number[name], first))
                self._changed_over(place_id, None, task, changeover(before, task.setting, self.shop.changeovers), first)
            if self._may_follow(place_id, name, None):
                last = arcs[(name, None)] = model.new_bool_var(f"{place_id} last {name}")
                listed.append((number[name], 0, last))
            for other in here:
                if other is task or other.running or other.task_id in self._before[name]:
                    continue
                if self._may_follow(place_id, name, other.task_id):
                    arc = arcs[(name, other.task_id)] = model.new_bool_var(f"{place_id} {name} then {other.task_id}")
                    listed.append((number[name], number[other.task_id], arc))
                    setup = changeover(task.setting, other.setting, self.shop.changeovers)
                    self._changed_over(place_id, task, other, setup, arc)
        model.add_circuit(listed)
        self.arcs[place_id] = arcs

    def _may_follow(self, place_id: str, one: str | None, other: str | None) -> bool:
        """Whether a load may come right behind another there; what is not free keeps its neighbours."""
        if not self._is_part:
            return True
        ranks = self._ranks[place_id]
        if one is None or other is None:
            name = one or other or ""
            kept = [task for task in ranks.order if task not in self.free]
            edge = kept[:1] if one is None else kept[-1:]
            at = ranks.of(self.base[name])
            near = at < _REACH if one is None else at > len(ranks.order) - _REACH
            return [name] == edge or (name in self.free and near) or (not edge)
        if one not in self.free and other not in self.free:
            return ranks.next_kept(one, self.free) == other
        return self._is_near(place_id, one, other)

    def _is_near(self, place_id: str, one: str, other: str) -> bool:
        ranks = self._ranks[place_id]
        return abs(ranks.of(self.base[one]) - ranks.of(self.base[other])) <= _REACH

    def _changed_over(self, place_id: str, before: Task | None, task: Task, setup: tuple[float, str], arc: Any) -> None:
        name = task.task_id
        ticks = 0 if task.running else self.up(setup[0])
        if not isinstance(self.setups[name], int):
            self.model.add(self.setups[name] == ticks).only_enforce_if(arc)
        if before is not None:
            self.model.add(self.starts[name] >= self.ends[before.task_id] + ticks).only_enforce_if(arc)
        if ticks:
            self._whys[(place_id, None if before is None else before.task_id, name)] = (ticks, setup[1])

    def _changing(self) -> dict[str, list[Any]]:
        """By place, the arcs over which it is changed over."""
        return {
            place_id: [arc for (one, other), arc in arcs.items() if other and (place_id, one, other) in self._whys]
            for place_id, arcs in self.arcs.items()
        }

    # ------------------------------------------------------------------------------------------------------------------

    def _why(self, solver: Any, place_id: str, name: str) -> str:
        for (place, before, after), (_, words) in self._whys.items():
            if place == place_id and after == name and solver.boolean_value(self.arcs[place_id][(before, after)]):
                return words
        return ""

    def _longest_alike(self, task: Task) -> int:
        """The longest task that this one could share a load with [ticks]."""
        room = {place.place_id: place.positions for place in self.shop.places}
        shared = {place_id for place_id in task.places if room[place_id] > 1}
        return max(
            (
                self.up(one.duration)
                for one in self.shop.tasks
                if one.setting == task.setting and shared & set(one.places)
            ),
            default=0,
        )

    def _longest_setup(self, task: Task) -> int:
        others = {one.setting for one in self.shop.tasks if set(one.places) & set(task.places)}
        others |= {self._states[place_id] for place_id in task.places}
        return max(self.up(changeover(one, task.setting, self.shop.changeovers)[0]) for one in others)

    def up(self, time: float) -> int:
        """A time in ticks, rounded up."""
        return math.ceil(time / self.tick - 1e-9)

    def down(self, time: float) -> int:
        """A time in ticks, rounded down."""
        return math.floor(time / self.tick + 1e-9)
