"""The search for a schedule: the aims one after the other, each held while the next is sought.

A shop that is small is given to the solver whole, and what it finds can be proved best. A larger one is sought through
in turns: what a few tasks count is nudged and all is dispatched anew; then the solver places the loads of a stretch of
time, of a few jobs or of one place anew, while the rest keep their order.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from itertools import product
from typing import Any

import numpy as np

from lapwright.errors import CannotAnswer, LapwrightError
from lapwright.model.queue import Booking, Shop
from lapwright.process.queue_bounds import least_changeovers, least_lateness, least_makespan
from lapwright.process.queue_check import schedule_faults
from lapwright.process.queue_hints import Hints
from lapwright.process.queue_judging import Judge
from lapwright.process.queue_loads import loads_of, rounded_shop
from lapwright.process.queue_measures import Aim, Effort, Reached, Scheduled, completions
from lapwright.process.queue_model import QueueModel
from lapwright.process.queue_placing import kept_order, tidied
from lapwright.process.queue_plans import Plan, Planner
from lapwright.process.queue_rules import Dispatcher, Rule, Weighing
from lapwright.process.queue_solver import solver_library
from lapwright.process.queue_turning import Turning

_RULES: tuple[Rule | Weighing, ...] = (
    "due", "family", "first_come", *(Weighing(*each) for each in product((0.3, 1.0, 3.0, 8.0, 20.0), (0.1, 0.3, 1.0)))
)  # fmt: skip
#: Pairs of tasks on the same places up to which everything is sought at once.
_SMALL = 4000
#: Loads in a window, the solver's work on one, and what building one counts as.
_WINDOW, _WINDOW_WORK, _WINDOW_COST = 14, 0.25, 0.2
#: What a schedule by a rule, and one turned over, count as for each task.
_DISPATCH, _TURN = 2e-5, 2.5e-6
#: Shares of an aim's work: for plans, of it for fresh ones, and for turning over; the rest is the solver's.
_CLIMB, _FRESH, _TURNED = 0.5, 0.12, 0.25
#: How warm turning over begins, as a share of the energy, and how much colder it ends.
_HOT, _COLD = 0.001, 0.05
#: Share of the work for each aim before the last takes the rest.
_SHARES = {"lateness": 0.5, "moves": 0.4, "changeovers": 0.5, "makespan": 1.0}


class Search:
    """The aims one after the other, each held while the next is sought."""

    def __init__(
        self, shop: Shop, tick: float, effort: Effort, aims: Sequence[Aim], previous: Sequence[Booking]
    ) -> None:
        self.shop, self.tick, self.effort = shop, tick, effort
        self.rounded = rounded_shop(shop, tick)
        self.previous = [one for one in previous if one.task_id in {task.task_id for task in shop.tasks}]
        self.aims = [aim for aim in aims if self._is_sought(aim)]
        starts = _first_answers(self.rounded, self.previous)
        self.horizon = max(max(one.end for one in start) for start in starts) + tick
        self.least_end = least_makespan(self.rounded)
        self.judge = Judge(self.rounded, tick, self.aims, self.previous, self.least_end)
        self.best = min(starts, key=self.judge.score)
        self.generator = np.random.default_rng(effort.seed)
        self.dispatcher = Dispatcher(self.rounded)
        self.planner = Planner(self.rounded, self.generator, is_due="lateness" in self.aims)
        self.cut_short = False
        self.since = 0.0 if effort.clock is None else effort.clock()

    def run(self) -> Scheduled:
        """All aims."""
        found: list[Reached] = []
        left = self.effort.work
        for number, aim in enumerate(self.aims):
            share = 1.0 if number == len(self.aims) - 1 else _SHARES[aim]
            bound, used = self._reach(aim, left * share)
            left = max(0.0, left - used)
            value = self.judge.worth(aim, self.best)
            self.judge.held[aim] = value
            scale = self.tick if aim in ("lateness", "makespan") else 1.0
            found.append(Reached(aim=aim, value=value * scale, bound=min(bound, value) * scale))
        faults = schedule_faults(self.shop, self.best, previous=self.previous)
        if faults:
            raise LapwrightError(f"The schedule worked out is wrong: {faults[0]} Please report it.")
        return Scheduled(bookings=self.best, reached=tuple(found), cut_short=self.cut_short)

    def _is_sought(self, aim: Aim) -> bool:
        if aim == "lateness":
            return any(job.due is not None for job in self.shop.jobs)
        if aim == "moves":
            return bool(self.previous)
        if aim == "changeovers":
            settings = {task.setting for task in self.shop.tasks} | {place.setting for place in self.shop.places}
            return len(settings) > 1
        return True

    def _reach(self, aim: Aim, work: float) -> tuple[int, float]:
        """Bound and work spent of one aim; the best schedule is kept."""
        bound, spent = self._least(aim), 0.0
        if self.judge.worth(aim, self.best) <= bound:
            return bound, spent
        if self._is_small():
            proved, spent = self._solve(aim, None, work)
            return max(bound, proved), spent
        spent = self._climb(aim, bound, _CLIMB * work)
        if aim in ("lateness", "makespan"):
            spent += self._turn(aim, bound, _TURNED * work)
        while spent < work and self.judge.worth(aim, self.best) > bound and not self._is_over():
            spent += self._solve(aim, self._window(aim), min(_WINDOW_WORK, work - spent))[1] + _WINDOW_COST
        return bound, spent

    def _climb(self, aim: Aim, bound: int, work: float) -> float:
        """Change a plan bit by bit and dispatch by it, over and over; gives the work spent."""
        cost = _DISPATCH * len(self.shop.tasks)
        tries, spent = max(1, int(work / cost)), 0.0
        here: tuple[tuple[float, ...], Plan] | None = None
        for number in range(tries):
            if self.judge.worth(aim, self.best) <= bound or self._is_over():
                break
            is_fresh = here is None or number < _FRESH * tries
            plan = self.planner.fresh() if is_fresh or here is None else self.planner.changed(here[1])
            found = self.dispatcher.by(self.planner.rule(plan))
            slope, spent = self.judge.slope(aim, found), spent + cost
            if here is None or slope <= here[0]:
                here = (slope, plan)
            self._better(found)
        return spent

    def _turn(self, aim: Aim, bound: int, work: float) -> float:
        """Turn over the best schedule load by load; gives the work spent."""
        cost = _TURN * len(self.shop.tasks)
        turning = Turning(self.rounded, self.best, lambda floor: self.judge.energy(aim, floor), self.generator)
        hot, tries = _HOT * turning.value, max(1, int(work / cost))
        for number in range(tries):
            if number % 100 == 0 and (self.judge.worth(aim, turning.best) <= bound or self._is_over()):
                break
            turning.turn(hot * _COLD ** (number / tries))
        self._better(turning.best)
        return tries * cost

    def _better(self, bookings: tuple[Booking, ...]) -> None:
        """Keep a schedule when it is the best so far and keeps what is held."""
        if self.judge.keeps_held(bookings):
            self.best = min((self.best, bookings), key=self.judge.score)

    def _least(self, aim: Aim) -> int:
        """What can be proved without a search."""
        if aim == "lateness":
            return math.ceil(least_lateness(self.rounded) / self.tick - 1e-6)
        if aim == "makespan":
            return math.ceil(self.least_end / self.tick - 1e-6)
        return least_changeovers(self.rounded) if aim == "changeovers" else 0

    def _is_small(self) -> bool:
        """Whether all can be sought at once; else it is sought in windows."""
        among: Counter[str] = Counter(place_id for task in self.shop.tasks for place_id in task.places)
        return sum(count * count for count in among.values()) <= _SMALL

    def _is_over(self) -> bool:
        if self.effort.clock is None or self.effort.wall is None:
            return False
        over = self.effort.clock() - self.since >= self.effort.wall
        self.cut_short |= over
        return over

    def _solve(self, aim: Aim, free: frozenset[str] | None, work: float) -> tuple[int, float]:
        """Bound and work of one search, over all or with only some tasks free."""
        model = QueueModel(
            self.rounded, tick=self.tick, horizon=self.horizon, base=self.best, free=free, previous=self.previous,
            least_end=math.ceil(self.least_end / self.tick - 1e-6),
        )  # fmt: skip
        for held, value in self.judge.held.items():
            model.model.add(_expression(model, held) <= value)
        sought = _expression(model, aim)
        model.model.minimize(sought)
        Hints(model).tell(self.best)
        solver = self._solver(work)
        status = solver.solve(model.model)
        names = solver_library()
        if status in (names.OPTIMAL, names.FEASIBLE):
            self._take(model.read(solver))
            return math.ceil(solver.best_objective_bound - 1e-6), solver.deterministic_time
        if status == names.UNKNOWN:
            return 0, max(solver.deterministic_time, work)
        raise LapwrightError(f"The model of the schedule is faulty: {model.model.validate()} Please report it.")

    def _solver(self, work: float) -> Any:
        solver = solver_library().CpSolver()
        solver.parameters.random_seed = self.effort.seed
        solver.parameters.num_workers = self.effort.workers
        solver.parameters.interleave_search = self._is_small()
        solver.parameters.linearization_level = 1 if self._is_small() else 0
        solver.parameters.max_deterministic_time = max(work, 0.01)
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.symmetry_level = 0
        if self.effort.clock is not None and self.effort.wall is not None:
            left = self.effort.wall - (self.effort.clock() - self.since)
            solver.parameters.max_time_in_seconds = max(left, 0.05)
        return solver

    def _window(self, aim: Aim) -> frozenset[str]:
        """Tasks to be placed anew: those of a stretch of time, of a few jobs, or of one place; always whole loads."""
        kind = self.generator.integers(3)
        loads = loads_of(self.best)
        jobs = {task.task_id: task.job_id for task in self.shop.tasks}
        if kind == 0:
            middle = int(self.generator.integers(len(loads)))
            chosen = loads[max(0, middle - _WINDOW // 2) : middle + _WINDOW // 2]
        elif kind == 1:
            done = completions(self.rounded, self.best)
            late = [job.job_id for job in self.shop.jobs if job.due is not None and done.get(job.job_id, 0.0) > job.due]
            pool = late if late and aim == "lateness" else sorted(done)
            some = set(self.generator.permutation(pool)[:1]) | set(self.generator.permutation(sorted(done))[:3])
            chosen = [load for load in loads if any(jobs[one.task_id] in some for one in load)]
        else:
            place_id = loads[int(self.generator.integers(len(loads)))][0].place_id
            here = [load for load in loads if load[0].place_id == place_id]
            first = int(self.generator.integers(max(1, len(here) - _WINDOW // 2)))
            chosen = here[first : first + _WINDOW]
        return frozenset(one.task_id for load in chosen[: 2 * _WINDOW] for one in load)

    def _take(self, bookings: tuple[Booking, ...]) -> None:
        """The schedule found, each load as early as it can be, when it is better."""
        try:
            neat = tidied(self.rounded, bookings)
        except CannotAnswer:
            neat = bookings
        self.best = min((self.best, neat, bookings), key=self.judge.score)


# ----------------------------------------------------------------------------------------------------------------------


def _first_answers(shop: Shop, previous: Sequence[Booking]) -> list[tuple[Booking, ...]]:
    """Schedules by rules, and the one in force moved along."""
    dispatcher = Dispatcher(shop)
    found = [dispatcher.by(rule) for rule in _RULES]
    if previous:
        with suppress(CannotAnswer):  # what was in force cannot be kept; the others stand
            found.insert(0, kept_order(shop, previous))
    return found


def _expression(model: QueueModel, aim: Aim) -> Any:
    return {
        "lateness": model.lateness, "moves": model.moved, "changeovers": model.changeovers, "makespan": model.makespan,
    }[aim]  # fmt: skip
