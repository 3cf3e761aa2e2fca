"""Use cases: what a route of an order is asked for, from the records: aim, a wafer in mid-job, a route set by hand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

from lapwright.app import route_basis, wafer_maps
from lapwright.errors import Conflict, ImpossibleOrder, NotFound
from lapwright.model.job import RecordedStage
from lapwright.model.order import Order
from lapwright.model.plan import Plan
from lapwright.model.readings import Signature
from lapwright.model.story import WaferAtWork

if TYPE_CHECKING:
    from lapwright.app.route_kept import Findings
    from lapwright.library import Library
    from lapwright.process.ledger import Depth
    from lapwright.process.planning import Searched
    from lapwright.process.replanning import JobState
    from lapwright.process.route_limits import Remedy, Sensitivity
    from lapwright.process.route_making import Question, Route
    from lapwright.process.stages import Setting
    from lapwright.process.tuning import Tuning

SEED = 1
CLOSER = 6  # halvings in which a margin is found


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What routes are searched for: the shortest or cheapest, the chance to be held, and for which wafer in mid-job."""

    objective: Literal["time", "cost"] = "time"
    target_chance: float = 0.90
    wafer_id: str | None = None


USUAL_AIM = Aim()


@dataclass(frozen=True)
class Asked:
    """A question about an order's routes with all that the records say to it; answers are computed when asked for.

    `told` is how it can be asked anew, `made_from` what the rates and risks of the question are made from. `is_typed`
    when it is asked about terms that are still being typed: then only the routes are of interest.
    """

    order: Order
    library: Library
    question: Question
    state: JobState | None
    told: Mapping[str, Any] = field(default_factory=dict)
    made_from: tuple[object, ...] = field(default=())
    stages_done: tuple[str, ...] = field(default=())
    is_typed: bool = field(default=False)

    @cached_property
    def mark(self) -> str:
        """The same for the same question, as long as the answer is the same."""
        from lapwright.app.route_kept import mark_of

        return mark_of(self.order, self.library, self.question, self.state, self.made_from, self.is_typed)

    @cached_property
    def setting(self) -> Setting:
        """What stays the same over all its routes."""
        from lapwright.process.planning import setting_of

        order, question = self._now
        return setting_of(
            replace(order, material=self.library.material(order.material).material_id), self.library, question
        )

    @cached_property
    def kept(self) -> Findings | None:
        """What was found before for the same question; None for nothing."""
        from lapwright.app import route_kept

        return route_kept.kept(self.mark, lambda: self.setting)

    @cached_property
    def searched(self) -> Searched:
        """The routes, best first. Raises `ImpossibleOrder`."""
        import numpy as np

        from lapwright.process.planning import search_routes
        from lapwright.process.replanning import replanned

        if self.kept is not None:
            return self.kept.searched
        generator = np.random.default_rng(SEED)
        if self.state is not None:
            return replanned(self.order, self.library, self.question, self.state, generator=generator)
        return search_routes(self.order, self.library, self.question, generator=generator)

    def search(self) -> Findings:
        """All that the page Route tells; of terms that are typed the routes alone. Raises `ImpossibleOrder`."""
        from lapwright.app.route_kept import Findings

        if self.is_typed:
            return Findings(searched=self.searched)
        return Findings(
            searched=self.searched,
            remedies=self.remedies(),
            sensitivities=self.sensitivities(),
            by_hand=self._first_by_hand(),
        )

    def tuning_of(self, route: Route) -> Tuning:
        """The tuning by which one of its routes is asked for by hand."""
        from lapwright.process.tuning import tuning_of

        return tuning_of(self.setting.order, self.library, route.candidate)

    def tuned(self, tuning: Tuning) -> Route:
        """A route set by hand, drawn with the luck of the search. Raises `BadInput` and `ImpossibleOrder`."""
        import numpy as np

        from lapwright.process.tuning import tuned_route

        order, question = self._now
        seed = int(np.random.default_rng(SEED).integers(2**62))
        return tuned_route(order, self.library, question, tuning, seed=seed)

    def clear_of_damage(self, route: Route, *, most: float) -> Route | None:
        """A route with its last stage just long enough that damage remains with a chance of at most `most`.

        None when the stock does not suffice for it.
        """
        from lapwright.process.tuning import MOST_MULTIPLE

        tuning = self.tuning_of(route)
        low, high, best = tuning.finish_multiple, MOST_MULTIPLE, None
        for _ in range(CLOSER):
            middle = 0.5 * (low + high)
            try:
                found = self.tuned(replace(tuning, finish_multiple=middle))
            except ImpossibleOrder:
                found = None
            if found is not None and _damage_left(found.plan) <= most:
                best, high = found, middle
            else:
                low, high = (low, middle) if found is None else (middle, high)
        return best

    def remedies(self) -> tuple[Remedy, ...]:
        """What would raise the chance of the best route."""
        from lapwright.process.route_limits import remedies

        found = self.searched
        if self.kept is not None:
            return self.kept.remedies
        return remedies(found.routes[0], found.setting, self.question, seed=found.seed)

    def sensitivities(self) -> tuple[Sensitivity, ...]:
        """How much of the best route hangs on each assumption."""
        from lapwright.process.route_limits import sensitivities

        found = self.searched
        if self.kept is not None:
            return self.kept.sensitivities
        return sensitivities(found.routes[0], found.setting, self.question, seed=found.seed)

    def _first_by_hand(self) -> Plan | None:
        """The first route as a form begins with it; None when what a form can say does not fit into the stock."""
        from lapwright.process.tuning import settable

        try:
            return self.tuned(settable(self.tuning_of(self.searched.routes[0]))).plan
        except ImpossibleOrder:
            return None

    @property
    def _now(self) -> tuple[Order, Question]:
        """Order and question as they stand: of a wafer in mid-job with what it is now."""
        from lapwright.process.replanning import replanning_question

        if self.state is None:
            return self.order, self.question
        order = replace(self.order, start_thickness=self.state.thickness, start_ttv=self.state.ttv)
        return order, replanning_question(self.library, self.question, self.state)


def ask(order_id: str, aim: Aim = USUAL_AIM) -> Asked:
    """The question of an order's routes: the wafers as read, stations, gauge and own runs as recorded.

    Raises `NotFound` for an unknown order or a wafer of another one, `Conflict` for a wafer that was never read.
    """
    from lapwright.app import learning, own_spreads, prices
    from lapwright.library import load
    from lapwright.process.route_finish import finish_risks
    from lapwright.process.route_making import Question
    from lapwright.process.route_rates import learned_rates
    from lapwright.process.search import Goal
    from lapwright.process.workplaces import ASSUMED_GAUGE
    from lapwright.records import queries, story_queries

    library = load()
    wafers = queries.wafers(order_id)
    order = route_basis.as_read(queries.order(order_id).order, wafers)
    adhesive = route_basis.adhesive_of(order_id)
    question = Question(
        workplaces=route_basis.workplaces(),
        gauge=route_basis.gauge_of(wafers) or ASSUMED_GAUGE,
        goal=Goal(objective=aim.objective, target_chance=aim.target_chance),
        prices=prices.planning_prices(order.value_per_wafer),
        assumptions=own_spreads.learned_assumptions(prices.planning_assumptions()),
        rates=learned_rates(learning.rate_model(library)),
        risks=finish_risks(order, library, adhesive=adhesive),
    )
    asked = Asked(
        order=order,
        library=library,
        question=question,
        state=None,
        told={
            "order": order_id, "objective": aim.objective, "target_chance": aim.target_chance, "wafer": aim.wafer_id,
        },
        made_from=(learning.taught_mark(), adhesive),
    )  # fmt: skip
    if aim.wafer_id is None:
        return asked
    wafer = story_queries.wafer_at_work(aim.wafer_id)
    if wafer.wafer.order_id != order_id:
        raise NotFound(f"Order {order_id!r} has no wafer {aim.wafer_id!r}.")
    done = _done(wafer)
    return replace(asked, state=_state(wafer, order, library), stages_done=tuple(one.stage.name for one in done))


def replan_wafer(wafer_id: str, plan: Plan, *, by: str, reason: str, at: datetime) -> tuple[RecordedStage, ...]:
    """Put the stages of a plan in place of those of a wafer that have not begun; the order's route stays as chosen.

    Raises `Conflict` while a stage of the wafer is running, or when the wafer has no stages yet.
    """
    from lapwright.records import story_queries, writer

    with writer.transaction():
        wafer = story_queries.wafer_at_work(wafer_id)
        if not wafer.stages:
            raise Conflict(f"Wafer {wafer_id!r} has no stages yet. Choose a route for its order; it holds for it too.")
        if any(stage.state == "running" for stage in wafer.stages):
            raise Conflict(f"A stage of wafer {wafer_id!r} is running. End it and measure, then plan again.")
        signature = Signature(by=by, at=at, reason=reason)
        route = writer.choose_route(wafer.wafer.order_id, plan, signature, for_order=False)
        begun = [stage.number for stage in wafer.stages if stage.state != "waiting"]
        numbered = list(enumerate(route_basis.between(plan.stages), start=max(begun, default=0) + 1))
        return writer.replace_stages(wafer_id, route.route_id, numbered, signature)


def wafers_under_way(order_id: str) -> tuple[str, ...]:
    """Wafers of an order of which at least one stage is done, so that they can be planned again."""
    from lapwright.records import queries

    return queries.worked_wafers(order_id)


# ----------------------------------------------------------------------------------------------------------------------


def _damage_left(plan: Plan) -> float:
    """Chance that damage of an earlier stage is left after the last one that removes anything."""
    return next((one.damage_chance or 0.0 for one in reversed(plan.stages) if one.removal > 0.0), 0.0)


def _done(wafer: WaferAtWork) -> list[RecordedStage]:
    return [one for one in wafer.stages if one.state == "done" and one.stage.removal > 0.0]


def _state(wafer: WaferAtWork, order: Order, library: Library) -> JobState:
    """Thickness and TTV as last measured, less what was taken since; damage and grain of the last stage done."""
    from lapwright.process.ledger import Depth
    from lapwright.process.replanning import JobState

    now = wafer_maps.wafer_now(wafer)
    done = _done(wafer)
    last = done[-1].stage if done else None
    grains = [
        library.abrasive(one.stage.abrasive).grain for one in done if one.stage.abrasive and one.stage.kind == "lap"
    ]
    damage = Depth(median=order.start_damage) if last is None else _depth(last.damage_left, last.damage_left_high)
    return JobState(
        thickness=now.thickness - now.removed_since,
        ttv=now.result.ttv,
        damage=damage,
        grain=min(grains, default=None),
    )


def _depth(median: float, high: float) -> Depth:
    """The lognormal of which both are known; where half of all pieces are clear already, one with that deep end."""
    from lapwright.process.ledger import Depth

    if high <= 0.0:
        return Depth(median=median)
    middle = max(median, high / 8.0)
    return Depth(median=middle, log_deviation=math.log(max(high, middle) / middle) / 1.959963984540054)
