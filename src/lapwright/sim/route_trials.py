"""Jobs worked in a simulated shop by the routes that planning proposes, and as a shop does without them.

Both sides see the same wafers, gauges, tools and history; only what they do with it differs. The reference practice
splits the removal in fixed shares, trusts the rate of the last run, and dials in the removal wanted.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from lapwright.errors import BadInput, Fault
from lapwright.library import Library, load
from lapwright.model.order import Limit, Order
from lapwright.model.plan import Stage
from lapwright.model.readings import Gauge
from lapwright.model.wafer import Round
from lapwright.process.candidates import Cut, library_rates
from lapwright.process.planning import search_routes
from lapwright.process.replanning import SeenRate, seen_rates
from lapwright.process.route_making import Question, Route
from lapwright.process.search import Goal
from lapwright.process.spread_learning import Errors, learned_spreads
from lapwright.process.workplaces import USUAL_ASSUMPTIONS, Assumptions, own_assumptions
from lapwright.sim import route_jobs as shop

GAUGE = Gauge(gauge_id="G", name="drop gauge", limit=1e-6, local=0.3e-6)
#: The reference practice: shares of the stock for coarse lap, fine lap and polish.
FIXED_SPLIT = (0.93, 0.055, 0.015)
RUNS_BEFORE = 3
SEEN_STOP = 30e-6  # m; removal asked of the stops on record
BY_READINGS, WEDGE_READ = 0.4e-6, 0.1e-6  # m; standard uncertainty of a stop and of a wedge as read
Tools = Mapping[str, shop.Tool]
#: Thickness at the end [m], and what each tool took in the order worked [m].
Worked = tuple[float, list[tuple[str, float]]]
#: Whether a job ended inside its limits, and without damage of its laps.
Ending = tuple[bool, bool]
TARGETS = (0.90, 0.95, 0.98)
#: What a simulated job is judged by.
JUDGED = ("thickness", "ttv", "roughness_ra")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hands:
    """How well a shop stops and squares in truth [m], and how many own stops of each kind its planner has seen."""

    first_stop: float = 2e-6
    finishing_stop: float = 0.6e-6
    wedge: float = 0.4e-6
    seen: int = 0


USUAL_HANDS = Hands()
#: Shops differ in what is common to all they do, evenly in the logarithm up to this factor either way, and each spread
#: by itself by a gamma law of this shape: another law than planning assumes.
COMMON_FACTOR, OWN_SHAPE = 1.6, 16.0


def drawn_hands(rng: np.random.Generator, *, seen: int = 0) -> Hands:
    """The hands of some shop: rougher or finer than usual."""
    common = COMMON_FACTOR ** float(rng.uniform(-1.0, 1.0))
    first, finishing, wedge = (common * rng.gamma(OWN_SHAPE, 1.0 / (OWN_SHAPE - 1.0 / 3.0), 3)).tolist()
    return Hands(
        first_stop=first * USUAL_HANDS.first_stop,
        finishing_stop=finishing * USUAL_HANDS.finishing_stop,
        wedge=wedge * USUAL_HANDS.wedge,
        seen=seen,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """One route in one shop: what it promised and how its jobs ended, by our plan and by the reference practice."""

    order: str
    stated: float
    jobs: int
    kept: int
    in_tolerance: int
    reference_kept: int
    reference_in_tolerance: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedRun:
    """One run of a simulated wafer: what was asked and what the readings showed [m], and how long it took [s]."""

    stage: Stage
    asked: float
    shown: float
    time: float


def orders() -> tuple[Order, ...]:
    """Three invented orders that are polished at the end."""
    return tuple(
        Order(
            order_id=material, customer="invented", material=material, outline=Round(diameter=diameter), quantity=1,
            start_thickness=start * 1e-6, target_thickness=target * 1e-6, edge_exclusion=3e-3, hold="free",
            start_ttv=5e-6,
            limits=(
                Limit(quantity="thickness", lower=(target - tolerance) * 1e-6, upper=(target + tolerance) * 1e-6),
                Limit(quantity="ttv", upper=ttv * 1e-6), Limit(quantity="roughness_ra", upper=1.2e-9),
            ),
        )
        for material, diameter, start, target, tolerance, ttv in (
            ("LiTaO3", 0.0508, 500.0, 100.0, 2.0, 2.0),
            ("Si", 0.1, 525.0, 200.0, 2.5, 2.0),
            ("GaAs", 0.0508, 450.0, 120.0, 2.0, 2.0),
        )
    )  # fmt: skip


def campaign(*, shops: int, jobs: int, seed: int, hands: Hands | None = None, seen: int = 0) -> list[Tally]:
    """Every order in some shops, each with some jobs by the best route for a chance drawn from `TARGETS`.

    Without `hands` each shop has its own, and its planner has seen so many of its stops.
    """
    library = load()
    return [
        shop_tally(order, library, jobs=jobs, rng=np.random.default_rng([seed, number, place]), hands=hands, seen=seen)
        for place, order in enumerate(orders())
        for number in range(shops)
    ]


def shop_tally(
    order: Order,
    library: Library,
    *,
    jobs: int,
    rng: np.random.Generator,
    hands: Hands | None = None,
    seen: int = 0,
    gauge: Gauge = GAUGE,
    target: float | None = None,
) -> Tally:
    """One shop: its tools drawn, its last runs seen, a route asked for, and the jobs worked both ways.

    The chance asked for is `target`, or drawn from `TARGETS`; the hands, too, are drawn where none are given.
    """
    hands = drawn_hands(rng, seen=seen) if hands is None else hands
    drawn = TARGETS[int(rng.integers(len(TARGETS)))]
    question = Question(gauge=gauge, goal=Goal(target_chance=drawn if target is None else target), draws=10_000)
    first = search_routes(order, library, question, generator=np.random.default_rng(int(rng.integers(2**31))))
    names = {step.cut.abrasive.abrasive_id: step.cut for route in first.routes for step in route.steps}
    rates_seen: list[SeenRate] = []
    last: dict[str, float] = {}
    tools: dict[str, shop.Tool] = {}
    for name, cut in sorted(names.items()):
        tools[name] = tool = drawn_tool(cut, rng)
        rates = [
            shop.true_rate(tool, pressure=cut.pressure, speed=cut.speed, day=shop.day_luck(rng), rng=rng)
            for _ in range(RUNS_BEFORE)
        ]
        last[name] = rates[-1] / cut.rate
        mean = math.exp(math.fsum(math.log(rate / cut.rate) for rate in rates) / RUNS_BEFORE)
        rates_seen.append(SeenRate(abrasive=name, plate=cut.workplace.plate, factor=mean, runs=RUNS_BEFORE))
    question = replace(
        question, rates=seen_rates(library_rates(library), rates_seen), assumptions=learned_hands(hands, tools, rng)
    )
    found = search_routes(order, library, question, generator=np.random.default_rng(int(rng.integers(2**31))))
    route = found.routes[0]
    usual = next((one for one in first.routes if "stages 3" in one.plan.labels), first.routes[0])
    for step in (*route.steps, *usual.steps):  # a tool that only the second search has found was never used before
        tools.setdefault(step.cut.abrasive.abrasive_id, drawn_tool(step.cut, rng))
    ended = [_job(order, route, usual, tools, last, rng, hands, gauge) for _ in range(jobs)]
    ours, reference = zip(*ended, strict=True)
    return Tally(
        order=order.order_id,
        stated=route.plan.chance_in_tolerance,
        jobs=jobs,
        kept=sum(all(one) for one in ours),
        in_tolerance=sum(one[0] for one in ours),
        reference_kept=sum(all(one) for one in reference),
        reference_in_tolerance=sum(one[0] for one in reference),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteTrial:
    """Some shops that work an order: the gauge they read with, the chance they ask for, their seeds."""

    order: Order
    gauge: Gauge
    target: float
    jobs: int
    seeds: tuple[tuple[int, int], ...]


def drawn_tool(cut: Cut, rng: np.random.Generator) -> shop.Tool:
    """The tool as this shop has it: its rate off the library's by heavy-tailed luck of half the band."""
    return shop.Tool(
        rate=cut.rate * math.exp(0.5 * cut.level_deviation * float(rng.standard_t(8))),
        pressure=cut.pressure,
        speed=cut.speed,
        damage=cut.damage.expected,
        damage_high=cut.damage.high,
        is_polish=cut.process == "polish",
    )


def drawn_truth(
    route: Route, tools: Tools, rng: np.random.Generator, *, hands: Hands = USUAL_HANDS, gauge: Gauge = GAUGE
) -> shop.JobTruth:
    """What is true of one wafer worked by a route."""
    roughness = route.steps[-1].cut.roughness
    return shop.new_job(
        tools,
        gauge_limit=gauge.limit,
        gauge_noise=(gauge.local or 0.0) / math.sqrt(3.0),
        wedge_deviation=hands.wedge,
        form=0.5e-6,
        roughness=(roughness.low, roughness.high) if roughness else (0.0, 0.0),
        rng=rng,
    )


def learned_hands(hands: Hands, tools: Tools, rng: np.random.Generator) -> Assumptions:
    """What the planner assumes after its own stops and wafers, each read with a doubt; as usual without any."""
    if not hands.seen:
        return USUAL_ASSUMPTIONS
    rates = [tool.rate for tool in tools.values() if not tool.is_polish]
    kinds = {}
    for name, error in (("watch_error", hands.first_stop), ("lap_stop_error", hands.finishing_stop)):
        shown = [
            shop.lapped_removal(SEEN_STOP, error=error, rate=rates[one % len(rates)], rng=rng)
            + BY_READINGS * float(rng.standard_normal())
            - SEEN_STOP
            for one in range(hands.seen)
        ]
        kinds[name] = Errors(
            errors=shown, uncertainties=[BY_READINGS] * hands.seen, assumed=getattr(USUAL_ASSUMPTIONS, name)
        )
    wedges = [one for _ in range(hands.seen) for one in shop.wedge_components(hands.wedge, rng=rng)]
    kinds["wedge_deviation"] = Errors(
        errors=[one + WEDGE_READ * float(rng.standard_normal()) for one in wedges],
        uncertainties=[WEDGE_READ] * len(wedges),
        assumed=USUAL_ASSUMPTIONS.wedge_deviation,
    )
    return own_assumptions(USUAL_ASSUMPTIONS, learned_spreads(kinds))


def timed_wafer(
    order: Order, stages: Sequence[Stage], tools: Tools, truth: shop.JobTruth, rng: np.random.Generator,
    hands: Hands = USUAL_HANDS,
) -> tuple[bool, tuple[TimedRun, ...]]:  # fmt: skip
    """A wafer worked by a plan: whether it is inside its limits and clear of damage, and its runs with their times."""
    clock: list[TimedRun] = []
    worked = _worked(order, stages, tools, truth, rng, hands, clock)
    return all(_judged(order, worked, tools, truth)), tuple(clock)


def trials(order: Order, gauge: Gauge, *, target: float, shops: int, jobs: int, seed: int) -> list[RouteTrial]:
    """So many shops, one a chunk. Raises `BadInput` for an order with a limit that the simulated jobs do not judge."""
    strange = sorted({limit.quantity for limit in order.limits} - set(JUDGED))
    if strange or not order.limits:
        found = ", ".join(strange) or "no limit at all"
        sentence = (
            f"The order asks for {found}; simulated jobs judge {', '.join(JUDGED)}. Take the others out of a copy."
        )
        raise BadInput([Fault(sentence=sentence, field="limits")])
    return [
        RouteTrial(order=order, gauge=gauge, target=target, jobs=jobs, seeds=((seed, number),))
        for number in range(shops)
    ]


def worked_trial(trial: RouteTrial) -> list[dict[str, Any]]:
    """How the jobs of each shop of a chunk ended, as plain values."""
    library = load()
    found = [
        shop_tally(
            trial.order, library, jobs=trial.jobs, rng=np.random.default_rng(seed), gauge=trial.gauge,
            target=trial.target,
        )
        for seed in trial.seeds
    ]  # fmt: skip
    return [asdict(one) for one in found]


def summary(rows: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Chance stated and held over all shops, with a 95 % interval over shops, beside the reference practice."""
    jobs = sum(row["jobs"] for row in rows)
    held = [row["kept"] / row["jobs"] for row in rows]
    spread = float(np.std(held, ddof=1)) / math.sqrt(len(held)) if len(held) > 1 else None
    return {
        "shops": len(rows),
        "jobs": jobs,
        "stated_percent": 100.0 * math.fsum(row["stated"] * row["jobs"] for row in rows) / jobs,
        "held_percent": 100.0 * sum(row["kept"] for row in rows) / jobs,
        "held_half_width_percent": None if spread is None else 196.0 * spread,
        "in_tolerance_percent": 100.0 * sum(row["in_tolerance"] for row in rows) / jobs,
        "reference_held_percent": 100.0 * sum(row["reference_kept"] for row in rows) / jobs,
        "reference_in_tolerance_percent": 100.0 * sum(row["reference_in_tolerance"] for row in rows) / jobs,
    }


# ----------------------------------------------------------------------------------------------------------------------


def _job(
    order: Order, route: Route, usual: Route, tools: Tools, last: Mapping[str, float], rng: np.random.Generator,
    hands: Hands, gauge: Gauge,
) -> tuple[Ending, Ending]:  # fmt: skip
    """(inside the limits, no damage left) by our plan and by the reference practice, on the same truth."""
    truth = drawn_truth(route, tools, rng, hands=hands, gauge=gauge)
    planned = _worked(order, route.plan.stages, tools, truth, rng, hands)
    habitual = _by_habit(order, usual, tools, truth, last, rng, hands)
    return _judged(order, planned, tools, truth), _judged(order, habitual, tools, truth)


def _worked(
    order: Order, stages: Sequence[Stage], tools: Tools, truth: shop.JobTruth, rng: np.random.Generator, hands: Hands,
    clock: list[TimedRun] | None = None,
) -> Worked:  # fmt: skip
    """The plan stage by stage: aim at the height after each, from what was read; a polish learns its rate by it."""
    thickness = order.start_thickness
    history: list[tuple[str, float]] = []
    known: dict[str, float] = {}
    for stage in stages:
        if stage.removal <= 0.0:
            continue
        name = stage.abrasive or ""
        tool, believed = tools[name], 0.0
        assert stage.pressure is not None
        assert stage.speed is not None
        assert stage.rate is not None
        rate = shop.true_rate(tool, pressure=stage.pressure, speed=stage.speed, day=truth.day[name], rng=rng)
        read = shop.read_thickness(truth, thickness, rng=rng)
        asked = max(0.0, read - stage.thickness_after)
        if tool.is_polish:
            believed = known.get(name, stage.rate)
            taken = shop.polished_removal(rate, asked / believed) if asked > 0.0 else 0.0
            again = shop.read_thickness(truth, thickness - taken, rng=rng)
            if asked > 1e-6 and read - again > 0.5e-6:
                known[name] = (read - again) / (asked / believed)
        else:
            finishing = "finish" in stage.name
            taken = 0.0
            if asked > 0.0:
                error = hands.finishing_stop if finishing else hands.first_stop
                taken = shop.lapped_removal(asked, error=error, rate=rate, rng=rng)
        thickness -= taken
        history.append((name, taken))
        if clock is not None:
            spent = asked / believed if tool.is_polish else taken / rate
            shown = read - shop.read_thickness(truth, thickness, rng=rng)
            clock.append(TimedRun(stage=stage, asked=asked, shown=shown, time=spent))
    return thickness, history


def _by_habit(
    order: Order, usual: Route, tools: Tools, truth: shop.JobTruth, last: Mapping[str, float],
    rng: np.random.Generator, hands: Hands,
) -> Worked:  # fmt: skip
    """Fixed shares of the stock, the last rate, and the preset equal to the removal wanted; read between stages."""
    thickness = order.start_thickness
    history: list[tuple[str, float]] = []
    stock = order.start_thickness - order.target_thickness
    cuts = list(dict.fromkeys(step.cut for step in usual.steps))
    shares = _fixed_shares(len(cuts))
    left = stock
    for cut, share in zip(cuts, shares, strict=True):
        name = cut.abrasive.abrasive_id
        left -= share * stock
        rate = shop.true_rate(tools[name], pressure=cut.pressure, speed=cut.speed, day=truth.day[name], rng=rng)
        read = shop.read_thickness(truth, thickness, rng=rng)
        asked = max(0.0, read - order.target_thickness - max(left, 0.0))
        if cut.process == "polish":
            taken = shop.polished_removal(rate, asked / (cut.rate * last.get(name, 1.0)))
        else:
            taken = shop.lapped_removal(asked, error=hands.first_stop, rate=rate, rng=rng)
        thickness -= taken
        history.append((name, taken))
    return thickness, history


def _fixed_shares(cuts: int) -> tuple[float, ...]:
    """What each cut takes of the stock where nobody plans: the last little, those before it in equal parts."""
    if cuts == len(FIXED_SPLIT):
        return FIXED_SPLIT
    if cuts == 1:
        return (1.0,)
    return (*[(1.0 - FIXED_SPLIT[-1]) / (cuts - 1)] * (cuts - 1), FIXED_SPLIT[-1])


def _judged(order: Order, worked: Worked, tools: Tools, truth: shop.JobTruth) -> Ending:
    thickness, history = worked
    last = history[-1][0]
    polished = math.fsum(taken for name, taken in history if name == last and tools[name].is_polish)
    ttv = truth.wedge + truth.form + truth.polish_unevenness * polished
    values = {"thickness": thickness, "ttv": ttv, "roughness_ra": truth.roughness}
    inside = all(
        (limit.lower is None or values[limit.quantity] >= limit.lower)
        and (limit.upper is None or values[limit.quantity] <= limit.upper)
        for limit in order.limits
    )
    own = truth.depths[last]
    clear = True
    for place, (name, _taken) in enumerate(history):
        if name == last:
            continue
        after = math.fsum(taken for other, taken in history[place + 1 :])
        clear &= truth.depths[name] + truth.form - after <= own
    return inside, clear
