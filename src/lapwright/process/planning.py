"""Routes from the incoming wafer to the finished one, best first.

A plan is data: every stage with its removal, preset, time and the reason for it. All chains that the trade rules allow
(`candidates`) are weighed at every load, speed and split of the stock (`search`); those best at something are drawn
job by job (`chance`), laid out stage by stage (`stages`) and told in words (`route_words`).
Left out: batches of several wafers, waiting for a free station, and what a person forgets.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from lapwright.errors import ImpossibleOrder
from lapwright.library import Library
from lapwright.model.order import Order
from lapwright.model.plan import Plan
from lapwright.model.readings import Gauge
from lapwright.process.budget import chain_needs, least_stock, removals
from lapwright.process.candidates import Chain, Cut, RateSource, library_rates, possible_chains, possible_cuts
from lapwright.process.feasibility import leanest_chain
from lapwright.process.finishes import lowest_roughness, nearest_finish
from lapwright.process.ledger import Depth
from lapwright.process.route_making import USUAL_DRAWS, Question, Route, made_route
from lapwright.process.route_words import route_name
from lapwright.process.search import Candidate, Goal, search
from lapwright.process.stages import (
    Setting,
)
from lapwright.process.words import micrometres as um
from lapwright.process.workplaces import (
    ASSUMED_GAUGE,
    USUAL_ASSUMPTIONS,
    USUAL_WORKPLACES,
    Assumptions,
    Workplace,
)

MOST_ROUTES = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Searched:
    """The routes found, best first, the setting they hold in, how many were weighed, and the front of them."""

    routes: tuple[Route, ...]
    setting: Setting
    weighed: int
    front: tuple[Candidate, ...]
    seed: int

    @property
    def plans(self) -> tuple[Plan, ...]:
        """The plans alone."""
        return tuple(route.plan for route in self.routes)


def plan_routes(
    order: Order,
    library: Library,
    *,
    generator: np.random.Generator,
    workplaces: Sequence[Workplace] = USUAL_WORKPLACES,
    gauge: Gauge = ASSUMED_GAUGE,
    assumptions: Assumptions = USUAL_ASSUMPTIONS,
    draws: int = USUAL_DRAWS,
) -> tuple[Plan, ...]:
    r"""Routes that an order can be met by, best first.

    Parameters
    ----------
    order : Order
        As promised.
    library : Library
        Rows to plan with.
    generator : numpy Generator
        Seeded by the caller; the same seed gives the same plans.
    workplaces : sequence of Workplace
        Where it can be worked.
    gauge : Gauge
        What thickness is measured with.
    assumptions : Assumptions
        What stands in for the lab's own history.
    draws : int
        Imagined jobs for each route's chance.

    Returns
    -------
    tuple of Plan
        At most six: those that hold the chance aimed at by time, then the others by chance. The removals of each add
        up to the whole stock.

    Raises
    ------
    ImpossibleOrder
        No route can meet it; the error holds the reason and the nearest order that one could.
    NotFound
        A material or plate the library does not hold.

    Notes
    -----
    .. math:: h_k \ge m\,d_{k-1} + f_{k-1} + 2u_k, \quad \sum_k h_k = t_\mathrm{start} - t_\mathrm{target}

    The first lap takes what is over. `search_routes` asks the same with every choice open.

    Examples
    --------
    >>> from lapwright.library import load
    >>> from lapwright.model.order import Limit
    >>> from lapwright.model.wafer import Round
    >>> order = Order(order_id="A", customer="B", material="LiTaO3", outline=Round(diameter=0.0508), quantity=6,
    ...     start_thickness=500e-6, target_thickness=100e-6, edge_exclusion=2e-3, hold="free",
    ...     limits=(Limit(quantity="thickness", lower=98e-6, upper=102e-6), Limit(quantity="roughness_ra", upper=1e-9)))
    >>> best = plan_routes(order, load(), generator=np.random.default_rng(1), draws=500)[0]
    >>> round(math.fsum(stage.removal for stage in best.stages) * 1e6, 3)
    400.0
    """
    question = Question(workplaces=workplaces, gauge=gauge, assumptions=assumptions, draws=draws)
    return search_routes(order, library, question, generator=generator).plans


def search_routes(order: Order, library: Library, question: Question, *, generator: np.random.Generator) -> Searched:
    """The routes that are best at something, drawn job by job, best first.

    Parameters
    ----------
    order : Order
        As promised; of a wafer under way with its thickness and TTV as they are now.
    library : Library
        Rows to plan with.
    question : Question
        Where, with what gauge, what for, and what is known.
    generator : numpy Generator
        Seeded by the caller; all routes are drawn with the same luck.

    Returns
    -------
    Searched

    Raises
    ------
    ImpossibleOrder
        No route can meet it; the error holds the reason and the nearest order that one could.
    NotFound
        A material or plate the library does not hold.
    """
    stock = order.start_thickness - order.target_thickness
    if not stock > 0.0:
        raise ImpossibleOrder(
            f"The target, {um(order.target_thickness)}, is not below the start, {um(order.start_thickness)}. "
            f"The nearest possible order has a target below {um(order.start_thickness)}; check which is which.",
            nearest_target_thickness=order.start_thickness,
        )
    order = replace(order, material=library.material(order.material).material_id)
    setting = setting_of(order, library, question)
    rates = question.rates or library_rates(library)
    chains = fitting_chains(setting, question, rates)
    found = search(setting, chains, rates, question.goal)
    seed = int(generator.integers(2**62))
    routes = [
        made_route(setting, candidate, question, labels=labels, seed=seed) for candidate, labels in found.finalists
    ]
    return Searched(
        routes=tuple(_kept(routes, question.goal)),
        setting=setting,
        weighed=found.weighed,
        front=found.front,
        seed=seed,
    )


def setting_of(order: Order, library: Library, question: Question) -> Setting:
    """What stays the same over all routes of a question.

    Parameters
    ----------
    order : Order
        As promised.
    library : Library
        Rows to plan with.
    question : Question
        Gauge, assumptions, prices and what is known of the face.

    Returns
    -------
    Setting
    """
    return Setting(
        order=order,
        library=library,
        gauge=question.gauge,
        assumptions=question.assumptions,
        prices=replace(question.prices, wafer=order.value_per_wafer)
        if question.prices.wafer is None
        else question.prices,
        start=question.start or Depth(median=order.start_damage),
        is_under_way=question.is_under_way,
    )


def fitting_chains(setting: Setting, question: Question, rates: RateSource) -> tuple[Chain, ...]:
    """Chains at the middle of what is usual that fit into the stock.

    Parameters
    ----------
    setting : Setting
        Order, library, gauge, assumptions.
    question : Question
        Places, baths and what is known of the face.
    rates : RateSource
        What is believed of the rates.

    Returns
    -------
    tuple of Chain

    Raises
    ------
    ImpossibleOrder
        There is none.
    """
    order, gauge, assumptions = setting.order, setting.gauge, setting.assumptions
    chains = _chains(setting, question, rates)
    stock = order.start_thickness - order.target_thickness
    fitting = tuple(
        chain
        for chain in chains
        if removals(stock, chain_needs(order, chain, gauge, assumptions)) is not None
        or (question.is_under_way and len(chain) == 1)
    )
    if not fitting:
        raise _too_little_stock(order, leanest_chain(order, chains, gauge, assumptions), gauge, assumptions)
    return fitting


# ----------------------------------------------------------------------------------------------------------------------


def _chains(setting: Setting, question: Question, rates: RateSource) -> list[Chain]:
    """Chains at the middle pressure of each workplace and abrasive. Raises `ImpossibleOrder` when there is none."""
    order = setting.order
    cuts = possible_cuts(order, setting.library, question.workplaces, rates=rates)
    limit = order.limit("roughness_ra")
    smooth = None if limit is None else limit.upper
    middle = [group[len(group) // 2] for group in _by_load(cuts).values()]
    chains = list(
        possible_chains(
            middle,
            roughness_limit=smooth,
            etches=question.etches,
            coarsest=question.coarsest,
            may_skip_laps=question.is_under_way,
        )
    )
    if chains:
        return chains
    if not any(cut.process == "lap" for cut in cuts):
        raise ImpossibleOrder(
            f"No lap of {order.material} is known at these workplaces. Add a removal coefficient of your own, "
            "or a plate and an abrasive that suit it."
        )
    nearest = nearest_finish(order, setting.library, cuts, smooth or 0.0)
    raise ImpossibleOrder(
        f"No route leaves {order.material} at Ra {(smooth or 0.0) * 1e9:.2f} nm or below. {nearest} "
        "Agree that, or add a finish of your own.",
        nearest_roughness=lowest_roughness(cuts),
    )


def _by_load(cuts: Sequence[Cut]) -> dict[tuple[str, str], list[Cut]]:
    groups: dict[tuple[str, str], list[Cut]] = {}
    for cut in cuts:
        groups.setdefault((cut.workplace.name, cut.abrasive.abrasive_id), []).append(cut)
    return {key: sorted(group, key=lambda cut: cut.pressure) for key, group in groups.items()}


def _too_little_stock(order: Order, leanest: Chain, gauge: Gauge, assumptions: Assumptions) -> ImpossibleOrder:
    nearest = order.start_thickness - (needs := least_stock(chain_needs(order, leanest, gauge, assumptions)))
    return ImpossibleOrder(
        f"There are {um(order.start_thickness - order.target_thickness)} of stock; the leanest route"
        f" ({route_name(leanest)}) needs {um(needs)} for damage, form and uncertainty. The nearest possible order"
        f" has a target of {um(nearest)}, or starts thicker.",
        nearest_target_thickness=nearest,
        stock_needed=needs,
    )


def _kept(routes: Sequence[Route], goal: Goal) -> list[Route]:
    """Those that hold the chance by time or cost, then the others by chance; six at most, the labelled ones first."""

    def rank(route: Route) -> tuple[float, ...]:
        plan = route.plan
        measure = plan.total_time if goal.objective == "time" else plan.total_cost or 0.0
        holds = plan.chance_in_tolerance >= goal.target_chance
        return (0.0, measure) if holds else (1.0, -plan.chance_in_tolerance, measure)

    ranked = sorted(routes, key=rank)
    first = sorted(ranked, key=lambda route: (route is not ranked[0], _least_wanted(route.plan.labels)))
    return _told_apart(sorted(first[:MOST_ROUTES], key=rank))


def _least_wanted(labels: tuple[str, ...]) -> int:
    """Place of the most wanted of some labels: what is shown when not all routes can be."""
    wanted = ("shortest", "cheapest", "usual", "surest", "stages", "gentle")
    return min((place for place, word in enumerate(wanted) for label in labels if label.startswith(word)), default=9)


def _told_apart(routes: Sequence[Route]) -> list[Route]:
    """Routes of one name get what their last cut takes, and what the laps before it take, into it."""
    names = [route.plan.name for route in routes]
    told = []
    for route in routes:
        name = route.plan.name
        if names.count(name) > 1:
            cuts = dict.fromkeys(step.cut for step in route.steps)
            taken = [math.fsum(step.part.removal for step in route.steps if step.cut == cut) for cut in cuts]
            name += f" ({' + '.join(um(part) for part in taken)})"
        told.append(replace(route, plan=replace(route.plan, name=name)))
    return told
