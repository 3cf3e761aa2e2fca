"""Quoted jobs in simulated shops, and a year of one shop that measures, routes, runs and learns with no hand in it.

The shop's laws are those of `sim.route_jobs`, which nobody has told the planner; hands are quick or slow by a gamma law
of their own. What the planner knows of rates and stops is only what its readings showed it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from lapwright.library import Library, load
from lapwright.model.order import Order
from lapwright.process.candidates import Cut, RateSource, library_rates
from lapwright.process.costing import JobCost, JobTerms, WorkLine, grouped_stages, job_cost, work_lines
from lapwright.process.learning import RunConditions, rate_model
from lapwright.process.learning_fit import PastRun
from lapwright.process.planning import search_routes
from lapwright.process.route_cost import Prices
from lapwright.process.route_making import Question, Route
from lapwright.process.route_rates import learned_rates
from lapwright.process.search import Goal
from lapwright.process.spare_wafers import lab_doubt, prior_wafers, spare_advice, yield_belief
from lapwright.process.spread_learning import Errors, learned_spreads
from lapwright.process.workplaces import USUAL_ASSUMPTIONS, Assumptions, own_assumptions
from lapwright.sim import route_jobs as shop
from lapwright.sim.route_trials import (
    GAUGE,
    Hands,
    TimedRun,
    drawn_hands,
    drawn_tool,
    drawn_truth,
    learned_hands,
    orders,
    timed_wafer,
)
from lapwright.sim.shop import stream as shop_stream

PRICES = Prices(wafer=640.0, piece_price=6.5)
BENCH = {"measure in": 600.0, "bond": 1500.0, "take off and measure": 2400.0}
TERMS = {"set_up": 2700.0, "overhead": 0.2}
HAND_SHAPE = 44.4  # of a gamma law with a relative spread of 0.15
RUNS_BEFORE = 12
RECENT = 30  # latest runs of a tool that rates are learned from
DRAWS = 1000
BY_READINGS = 0.4e-6  # m; standard uncertainty of a removal between two readings
PIECES = 6
TARGET = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotedShop:
    """What a shop was quoted for one order, and what its jobs came to."""

    order: str
    quoted: JobCost
    costs: tuple[float, ...]
    times: tuple[float, ...]
    started: int
    chance_of_enough: float
    delivered: int


@dataclass(frozen=True, slots=True, kw_only=True)
class YearJob:
    """One wafer of the year: the chance believed and whether it held, the error of its times as a log ratio."""

    order: str
    believed: float
    is_good: bool
    planned_time: float
    time: float
    rate_miss: float


def quoted_shop(
    order: Order, library: Library, *, jobs: int, rng: np.random.Generator, own_wafers: int = 0
) -> QuotedShop:
    """One shop with hands of its own and a dozen runs of each tool behind it: a quotation, and jobs as they come.

    Of `own_wafers` finished before, each on a day of its own, yield and hands are learned.
    """
    hands = drawn_hands(rng, seen=own_wafers)
    tools, runs = _tools_with_runs(order, library, rng)
    assumed = learned_hands(hands, tools, rng)
    route = _route(order, library, learned_rates(rate_model(library, runs)), assumed, rng)
    for step in route.steps:
        tools.setdefault(step.cut.abrasive.abrasive_id, drawn_tool(step.cut, rng))
    passed = sum(
        timed_wafer(order, route.plan.stages, tools, drawn_truth(route, tools, rng, hands=hands), rng, hands)[0]
        for _ in range(own_wafers)
    )
    prior = prior_wafers(lab_doubt(assumed))
    belief = yield_belief(route.plan.chance_in_tolerance, good=passed, lost=own_wafers - passed, prior=prior)
    advice = spare_advice(PIECES, belief)
    lines = work_lines(route.plan, PRICES, library, bench=BENCH, before="bond")
    terms = JobTerms(started=advice.started, **TERMS)
    quoted = job_cost(lines, PRICES, terms, belief, generator=rng)
    came = [_job(order, route, tools, lines, terms, rng, hands) for _ in range(jobs)]
    costs, times, good = zip(*came, strict=True)
    return QuotedShop(
        order=order.order_id, quoted=quoted, costs=costs, times=times, started=advice.started,
        chance_of_enough=advice.chance, delivered=sum(one >= PIECES for one in good),
    )  # fmt: skip


def quoted_shops(*, shops: int, jobs: int, seed: int, own_wafers: int = 0) -> list[QuotedShop]:
    """Every order in some shops."""
    library = load()
    return [
        quoted_shop(order, library, jobs=jobs, rng=np.random.default_rng([seed, number, place]), own_wafers=own_wafers)
        for place, order in enumerate(orders())
        for number in range(shops)
    ]


def year(*, wafers: int, seed: int, learns: bool = True) -> list[YearJob]:
    """One shop from its first wafer on: each is routed by what the ones before have shown, then worked and judged.

    One that does not learn plans every wafer by the library and the usual spreads, in the same shop.
    """
    library, rng = load(), np.random.default_rng(seed)
    asked, known, told = orders(), _Known(library), []
    shelf: dict[tuple[str, str, str], shop.Tool] = {}
    for number in range(wafers):
        order = asked[number % len(asked)]
        rates = known.rates() if learns else library_rates(library)
        assumed = known.assumptions() if learns else USUAL_ASSUMPTIONS
        route = _route(order, library, rates, assumed, rng)
        tools = {}
        for cut in dict.fromkeys(step.cut for step in route.steps):
            where = (order.material, cut.abrasive.abrasive_id, cut.workplace.plate)
            if where not in shelf:
                shelf[where] = _unknown_tool(order, library, cut, shop_stream(seed, *where))
            tools[cut.abrasive.abrasive_id] = shelf[where]
        truth = drawn_truth(route, tools, rng)
        is_good, runs = timed_wafer(order, route.plan.stages, tools, truth, rng)
        told.append(_told(order, route, runs, is_good))
        known.learn(order, runs, truth, rng)
    return told


# ----------------------------------------------------------------------------------------------------------------------


@dataclass
class _Known:
    """What the shop's own readings have shown it so far."""

    library: Library
    runs: list[PastRun] = field(default_factory=list)
    first_stops: list[float] = field(default_factory=list)
    last_stops: list[float] = field(default_factory=list)
    wedges: list[float] = field(default_factory=list)

    def rates(self) -> RateSource:
        """Rates by the latest runs of each tool."""
        left: dict[tuple[str, str, str], int] = {}
        recent = []
        for run in reversed(self.runs):
            where = (run.conditions.material, run.conditions.abrasive, run.conditions.plate)
            left[where] = left.get(where, 0) + 1
            if left[where] <= RECENT:
                recent.append(run)
        return learned_rates(rate_model(self.library, recent[::-1]))

    def assumptions(self) -> Assumptions:
        """Spreads of stops and wedges by the shop's own."""
        kinds = {
            name: Errors(
                errors=errors[-60:], uncertainties=[doubt] * len(errors[-60:]), assumed=getattr(USUAL_ASSUMPTIONS, name)
            )
            for name, errors, doubt in (
                ("watch_error", self.first_stops, BY_READINGS),
                ("lap_stop_error", self.last_stops, BY_READINGS),
                ("wedge_deviation", self.wedges, 0.1e-6),
            )
        }
        return own_assumptions(USUAL_ASSUMPTIONS, learned_spreads(kinds))

    def learn(self, order: Order, runs: Sequence[TimedRun], truth: shop.JobTruth, rng: np.random.Generator) -> None:
        """Take in what the readings of a wafer showed."""
        for run in runs:
            stage = run.stage
            if stage.kind == "lap":
                (self.last_stops if "finish" in stage.name else self.first_stops).append(run.shown - run.asked)
            if run.shown > 2.0 * BY_READINGS and run.time > 0.0:
                self.runs.append(_past(order.material, run, str(len(self.runs))))
        angle = 2.0 * math.pi * float(rng.random())
        self.wedges += [truth.wedge * math.cos(angle), truth.wedge * math.sin(angle)]


def _past(material: str, run: TimedRun, name: str) -> PastRun:
    stage = run.stage
    conditions = RunConditions(
        material=material, abrasive=stage.abrasive or "", plate=stage.plate or "", pressure=stage.pressure or 0.0,
        speed=stage.speed or 0.0,
    )  # fmt: skip
    return PastRun(
        name=name, conditions=conditions, removal_rate=run.shown / run.time, rate_uncertainty=BY_READINGS / run.shown
    )


def _told(order: Order, route: Route, runs: Sequence[TimedRun], is_good: bool) -> YearJob:  # noqa: FBT001  internal
    longest = max(runs, key=lambda one: one.shown)
    believed = longest.stage.rate or math.nan
    return YearJob(
        order=order.order_id,
        believed=route.plan.chance_in_tolerance,
        is_good=is_good,
        planned_time=math.fsum(one.stage.time for one in runs),
        time=math.fsum(one.time for one in runs),
        rate_miss=abs(math.log(longest.shown / longest.time / believed)),
    )


def _tools_with_runs(
    order: Order, library: Library, rng: np.random.Generator
) -> tuple[dict[str, shop.Tool], list[PastRun]]:
    """The tools of the routes that the library alone proposes, each with its runs on as many days."""
    first = search_routes(order, library, _question(None, USUAL_ASSUMPTIONS), generator=rng)
    cuts = {step.cut.abrasive.abrasive_id: step.cut for route in first.routes for step in route.steps}
    tools, runs = {}, []
    for name, cut in sorted(cuts.items()):
        tools[name] = tool = drawn_tool(cut, rng)
        conditions = RunConditions(
            material=order.material, abrasive=name, plate=cut.workplace.plate, pressure=cut.pressure, speed=cut.speed
        )
        for number in range(RUNS_BEFORE):
            rate = shop.true_rate(tool, pressure=cut.pressure, speed=cut.speed, day=shop.day_luck(rng), rng=rng)
            runs.append(
                PastRun(name=f"{name} {number}", conditions=conditions, removal_rate=rate, rate_uncertainty=0.02)
            )
    return tools, runs


def _unknown_tool(order: Order, library: Library, cut: Cut, rng: np.random.Generator) -> shop.Tool:
    """A tool that nobody has run yet: off the library's rate, whatever is believed of it by now."""
    belief = library_rates(library)(order.material, cut.abrasive, cut.workplace.plate, cut.pressure, cut.speed)
    return drawn_tool(replace(cut, rate=belief.median, level_deviation=belief.level_deviation), rng)


def _question(rates: RateSource | None, assumptions: Assumptions) -> Question:
    goal = Goal(target_chance=TARGET)
    return Question(gauge=GAUGE, goal=goal, draws=DRAWS, rates=rates, assumptions=assumptions, prices=PRICES)


def _route(
    order: Order, library: Library, rates: RateSource, assumptions: Assumptions, rng: np.random.Generator
) -> Route:
    return search_routes(order, library, _question(rates, assumptions), generator=rng).routes[0]


def _job(
    order: Order,
    route: Route,
    tools: dict[str, shop.Tool],
    lines: Sequence[WorkLine],
    terms: JobTerms,
    rng: np.random.Generator,
    hands: Hands,
) -> tuple[float, float, int]:
    """Cost, hours [s] and good wafers of one job: one day's luck for all its wafers, and a pace of its own."""
    pace = float(rng.gamma(HAND_SHAPE, 1.0 / HAND_SHAPE))
    person = pace * (terms.started * math.fsum(line.person for line in lines) + terms.set_up)
    hours = {line.name: line.hour for line in lines}
    of_stage = {id(stage): name for name, stage in grouped_stages(route.plan.stages, before="bond")}
    day: dict[str, float] | None = None
    machine, spent, good = 0.0, 0.0, 0
    for _ in range(terms.started):
        truth = drawn_truth(route, tools, rng, hands=hands)
        day = dict(truth.day) if day is None else day
        is_good, runs = timed_wafer(order, route.plan.stages, tools, replace(truth, day=day), rng, hands)
        good += is_good
        for run in runs:
            machine += run.time
            spent += hours[of_stage[id(run.stage)]] * run.time / 3600.0
    own = PRICES.person * person / 3600.0 + spent + terms.started * PRICES.piece_price
    lost = (terms.started - good) * (PRICES.wafer or 0.0)
    return (1.0 + terms.overhead) * own + lost, person + machine, good
