"""Plans for a whole shop in few numbers: by them the rules are steered, and they are changed bit by bit.

What makes a schedule of a shop with dear changeovers good is mostly in which order the settings of a stage are gone
through, and which of its places takes which of them. So a plan holds just that, with what single jobs and tasks count
besides; a schedule by a rule follows from it in milliseconds.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeVar

import numpy as np

from lapwright.model.queue import Setting, Shop
from lapwright.process.queue_rules import Weighing
from lapwright.process.queue_setup import changeover

_T = TypeVar("_T")
#: A path through settings this much dearer than the cheapest is still one to begin with.
_DEARER = 1.3
_SETTINGS = 40  # of one stage, beyond which paths are not sought


@dataclass(frozen=True, slots=True)
class Plan:
    """A rule; by stage the order of its settings and how much it weighs; what jobs and tasks count besides.

    `only` names the places of tasks that may not go to all of theirs.
    """

    rule: Weighing
    orders: dict[str, tuple[Setting, ...]]
    weights: dict[str, float]
    jobs: dict[str, float]
    tasks: dict[str, float]
    only: dict[str, tuple[str, ...]]


class Planner:
    """Plans of one shop: fresh ones, and ones a little changed."""

    def __init__(self, shop: Shop, generator: np.random.Generator, *, is_due: bool) -> None:
        self._shop, self._generator, self._is_due = shop, generator, is_due
        self._fixed = {fix.task_id for fix in shop.fixes} | {task.task_id for task in shop.tasks if task.running}
        self._stages: dict[str, dict[Setting, list[str]]] = defaultdict(lambda: defaultdict(list))
        self._choices: dict[tuple[Setting, tuple[str, ...]], list[str]] = defaultdict(list)
        for task in shop.tasks:
            self._stages[task.name][task.setting].append(task.job_id)
            if len(task.places) > 1 and task.task_id not in self._fixed:
                self._choices[(task.setting, task.places)].append(task.task_id)
        self._stages = {name: found for name, found in self._stages.items() if self._is_ordered(tuple(found))}
        self._paths = {name: self._cheap_paths(tuple(found)) for name, found in self._stages.items()}
        self._jobs = [job.job_id for job in shop.jobs]

    def fresh(self) -> Plan:
        """A plan drawn anew: cheap paths through the settings, each setting on some of its places."""
        rule = Weighing(
            patience=self._of((0.3, 1.0, 3.0, 8.0, 20.0)), thrift=self._of((0.03, 0.1, 0.3, 1.0)),
            look=self._of((0.0, 0.3, 0.6)), fill=self._of((0.0, 0.4, 0.7, 1.0)),
        )  # fmt: skip
        orders = {name: self._of(paths) for name, paths in self._paths.items()}
        weights = dict.fromkeys(orders, 0.0)
        if orders and not (self._is_due and self._generator.random() < 0.5):
            weights[self._of(tuple(orders))] = self._of((0.5, 2.0, 8.0))
        only: dict[str, tuple[str, ...]] = {}
        if self._generator.random() < 0.5:
            for key in self._choices:
                if self._generator.random() < 0.5:
                    only |= self._kept_to(key, self._of(key[1]))
        return Plan(rule=rule, orders=orders, weights=weights, jobs={}, tasks={}, only=only)

    def changed(self, plan: Plan) -> Plan:
        """The plan with one thing about it changed."""
        kind = self._generator.random()
        if kind < 0.35 and self._choices:
            return self._other_places(plan)
        if kind < 0.55 and plan.orders:
            return self._other_order(plan)
        if kind < 0.65 and plan.orders:
            name = self._of(tuple(plan.orders))
            weight = plan.weights[name] * math.exp(self._spread(0.7)) + self._spread(0.5)
            return replace(plan, weights=plan.weights | {name: max(0.0, weight)})
        if kind < 0.82:
            job_id = self._of(self._jobs)
            return replace(plan, jobs=plan.jobs | {job_id: plan.jobs.get(job_id, 0.0) + self._spread(1.5)})
        if kind < 0.93:
            tasks = {self._of(self._shop.tasks).task_id: self._spread(1.5) for _ in range(2)}
            return replace(plan, tasks=plan.tasks | tasks)
        rule = plan.rule
        return replace(
            plan,
            rule=replace(
                rule,
                patience=rule.patience * math.exp(self._spread(0.4)),
                thrift=rule.thrift * math.exp(self._spread(0.5)),
                look=max(0.0, rule.look + self._spread(0.3)),
                fill=max(0.0, rule.fill + self._spread(0.3)),
            ),
        )

    def rule(self, plan: Plan) -> Weighing:
        """The rule that a plan comes to."""
        counts = dict.fromkeys(self._jobs, 0.0)
        for name, order in plan.orders.items():
            step = plan.weights[name] / (len(order) - 1)
            if step > 0.0:
                for number, setting in enumerate(order):
                    for job_id in self._stages[name][setting]:
                        counts[job_id] -= step * number
        for job_id, count in plan.jobs.items():
            counts[job_id] += count
        nudges = {task.task_id: counts[task.job_id] + plan.tasks.get(task.task_id, 0.0) for task in self._shop.tasks}
        return replace(plan.rule, nudges=nudges, only=plan.only)

    # ------------------------------------------------------------------------------------------------------------------

    def _other_places(self, plan: Plan) -> Plan:
        """All tasks of a setting, or one of them, kept to one of their places or let go to all."""
        key = self._of(tuple(self._choices))
        names = self._choices[key] if self._generator.random() < 0.6 else [self._of(self._choices[key])]
        kept = {name: places for name, places in plan.only.items() if name not in names}
        if self._generator.random() < 0.6:
            kept |= dict.fromkeys(names, (self._of(key[1]),))
        return replace(plan, only=kept)

    def _kept_to(self, key: tuple[Setting, tuple[str, ...]], place_id: str) -> dict[str, tuple[str, ...]]:
        return dict.fromkeys(self._choices[key], (place_id,))

    def _other_order(self, plan: Plan) -> Plan:
        """One setting elsewhere in the order of a stage, or another cheap path through them."""
        name = self._of(tuple(plan.orders))
        order = list(plan.orders[name])
        if self._generator.random() < 0.2:
            order = list(self._of(self._paths[name]))
        else:
            one = order.pop(int(self._generator.integers(len(order))))
            order.insert(int(self._generator.integers(len(order) + 1)), one)
        return replace(plan, orders=plan.orders | {name: tuple(order)})

    def _is_ordered(self, settings: tuple[Setting, ...]) -> bool:
        """Whether it matters in which order a stage goes through its settings."""
        if not 1 < len(settings) <= _SETTINGS:
            return False
        table = self._shop.changeovers
        return any(changeover(one, other, table)[0] > 0.0 for one in settings for other in settings)

    def _cheap_paths(self, settings: tuple[Setting, ...]) -> list[tuple[Setting, ...]]:
        """Ways through settings, from each the nearest next; those that cost not much more than the cheapest."""

        def cost(one: Setting, other: Setting) -> float:
            return changeover(one, other, self._shop.changeovers)[0]

        found = []
        for first in settings:
            path, left = [first], [one for one in settings if one != first]
            while left:
                path.append(min(left, key=lambda one: cost(path[-1], one)))
                left.remove(path[-1])
            found.append((math.fsum(cost(*pair) for pair in pairwise(path)), tuple(path)))
        least = min(total for total, _ in found)
        return [path for total, path in found if total <= _DEARER * least]

    def _of(self, listed: Sequence[_T]) -> _T:
        return listed[int(self._generator.integers(len(listed)))]

    def _spread(self, width: float) -> float:
        return float(self._generator.normal(0.0, width))
