"""Routes from the incoming wafer to the finished one, best first.

A plan is data: every stage with its removal, preset, time and the reason for it. Planned backwards from the finish
(`budget`), over the cuts the trade rules allow (`candidates`), with the chance of ending inside the limits drawn from
the spreads (`chance`), and laid out stage by stage (`stages`).
Left out: searching over speeds and over more than two laps, cost, bow after release.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from lapwright.errors import ImpossibleOrder
from lapwright.library import Library
from lapwright.model.order import Order
from lapwright.model.plan import Plan, Stage
from lapwright.model.readings import Gauge
from lapwright.process.budget import chain_needs, least_stock, removals
from lapwright.process.candidates import Chain, Cut, possible_chains, possible_cuts
from lapwright.process.chance import chance_in_tolerance
from lapwright.process.feasibility import leanest_chain, proof_checks
from lapwright.process.stages import Setting, cut_steps, route_stages
from lapwright.process.words import micrometres as um
from lapwright.process.workplaces import (
    ASSUMED_GAUGE,
    USUAL_ASSUMPTIONS,
    USUAL_WORKPLACES,
    Assumptions,
    Workplace,
)

MOST_ROUTES = 6
_FINALISTS = 8
_KEPT = 4  # the best ones, beside one of each length and a gentle one
_LOW_CHANCE = 0.9


def plan_routes(
    order: Order,
    library: Library,
    *,
    generator: np.random.Generator,
    workplaces: Sequence[Workplace] = USUAL_WORKPLACES,
    gauge: Gauge = ASSUMED_GAUGE,
    assumptions: Assumptions = USUAL_ASSUMPTIONS,
    draws: int = 4000,
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
        At most six, by chance in whole percent, then by time. The removals of each add up to the whole stock.

    Raises
    ------
    ImpossibleOrder
        No route can meet it; the error holds the reason and the nearest order that one could.
    NotFound
        A material or plate the library does not hold.

    Notes
    -----
    .. math:: h_k \ge m\,d_{k-1} + f_{k-1} + 2u_k, \quad \sum_k h_k = t_\mathrm{start} - t_\mathrm{target}

    The first lap takes what is over. Pressures are the middle of what is usual; the best route is also offered gentler.

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
    stock = order.start_thickness - order.target_thickness
    if not stock > 0.0:
        raise ImpossibleOrder(
            f"The target, {um(order.target_thickness)}, is not below the start, {um(order.start_thickness)}. "
            f"The nearest possible order has a target below {um(order.start_thickness)}; check which is which.",
            nearest_target_thickness=order.start_thickness,
        )
    cuts = possible_cuts(order, library, workplaces)
    chains = _chains(order, cuts)
    feasible = [chain for chain in chains if removals(stock, chain_needs(order, chain, gauge, assumptions)) is not None]
    if not feasible:
        raise _too_little_stock(order, leanest_chain(order, chains, gauge, assumptions), gauge, assumptions)
    setting = Setting(order=order, library=library, gauge=gauge, assumptions=assumptions)
    finalists, special = _finalists(setting, feasible, cuts, stock)
    plans = {
        chain: _plan(setting, chain, generator=generator, draws=draws) for chain in dict.fromkeys(finalists + special)
    }
    ranked = sorted(plans, key=lambda chain: (-round(plans[chain].chance_in_tolerance, 2), plans[chain].total_time))
    kept = list(dict.fromkeys(ranked[:_KEPT] + special + ranked))[:MOST_ROUTES]
    return tuple(plans[chain] for chain in ranked if chain in kept)


# ----------------------------------------------------------------------------------------------------------------------


def _chains(order: Order, cuts: Sequence[Cut]) -> list[Chain]:
    """Chains at the middle pressure of each workplace and abrasive. Raises `ImpossibleOrder` when there is none."""
    limit = order.limit("roughness_ra")
    smooth = None if limit is None else limit.upper
    middle = [group[len(group) // 2] for group in _by_load(cuts).values()]
    chains = list(possible_chains(middle, roughness_limit=smooth))
    if chains:
        return chains
    if not any(cut.workplace.process == "lap" for cut in cuts):
        raise ImpossibleOrder(
            f"No lap of {order.material} is known at these workplaces. Add a removal coefficient of your own, "
            "or a plate and an abrasive that suit it."
        )
    known = [cut.roughness.high for cut in cuts if cut.roughness is not None]
    lowest = min(known, default=math.nan)
    nearest = f"The lowest that can be promised is Ra {lowest * 1e9:.2f} nm." if known else "No finish of it is known."
    raise ImpossibleOrder(
        f"No route leaves {order.material} at Ra {(smooth or 0.0) * 1e9:.2f} nm or below. {nearest} "
        "Agree that, or add a finish of your own.",
        nearest_roughness=lowest,
    )


def _by_load(cuts: Sequence[Cut]) -> dict[tuple[str, str], list[Cut]]:
    groups: dict[tuple[str, str], list[Cut]] = {}
    for cut in cuts:
        groups.setdefault((cut.workplace.name, cut.abrasive.abrasive_id), []).append(cut)
    return {key: sorted(group, key=lambda cut: cut.pressure) for key, group in groups.items()}


def _too_little_stock(order: Order, leanest: Chain, gauge: Gauge, assumptions: Assumptions) -> ImpossibleOrder:
    needs = least_stock(chain_needs(order, leanest, gauge, assumptions))
    nearest = order.start_thickness - needs
    stock = order.start_thickness - order.target_thickness
    return ImpossibleOrder(
        f"There are {um(stock)} of stock; the leanest route ({_route_name(leanest)}) needs {um(needs)} for damage, "
        f"form and uncertainty. The nearest possible order has a target of {um(nearest)}, or starts thicker.",
        nearest_target_thickness=nearest,
        stock_needed=needs,
    )


def _finalists(
    setting: Setting, chains: list[Chain], cuts: Sequence[Cut], stock: float
) -> tuple[list[Chain], list[Chain]]:
    """The fastest chains; and apart from speed the fastest of each length and the fastest at its gentlest load."""
    ranked = sorted(chains, key=lambda chain: _expected_time(setting, chain, stock))
    by_laps = [[chain for chain in ranked if _laps(chain) == laps] for laps in (1, 2)]
    groups = _by_load(cuts)
    gentle = tuple(groups[(cut.workplace.name, cut.abrasive.abrasive_id)][0] for cut in ranked[0])
    return ranked[:_FINALISTS], [*(kind[0] for kind in by_laps if kind), gentle]


def _laps(chain: Chain) -> int:
    return sum(cut.workplace.process == "lap" for cut in chain)


def _expected_time(setting: Setting, chain: Chain, stock: float) -> float:
    parts = removals(stock, chain_needs(setting.order, chain, setting.gauge, setting.assumptions)) or ()
    handling = setting.assumptions.measuring_time + setting.assumptions.cleaning_time
    return math.fsum(part / cut.rate + 2.0 * handling for part, cut in zip(parts, chain, strict=True))


def _route_name(chain: Chain) -> str:
    return ", then ".join(f"{cut.abrasive.name} on {cut.workplace.name} at {cut.pressure / 1e3:g} kPa" for cut in chain)


def _plan(setting: Setting, chain: Chain, *, generator: np.random.Generator, draws: int) -> Plan:
    order, assumptions = setting.order, setting.assumptions
    needs = chain_needs(order, chain, setting.gauge, assumptions)
    taken = removals(order.start_thickness - order.target_thickness, needs) or ()
    steps = list(cut_steps(setting, chain, taken, needs))
    stages = tuple(route_stages(setting, steps))
    parts = [step.part for step in steps]
    chance = chance_in_tolerance(order, parts, setting.gauge, assumptions, generator=generator, draws=draws)
    return Plan(
        name=_route_name(chain),
        stages=stages,
        start_thickness=order.start_thickness,
        target_thickness=order.target_thickness,
        total_time=math.fsum(stage.time for stage in stages),
        chance_in_tolerance=chance,
        damage_left=stages[-1].damage_left,
        assumptions=_assumptions(setting, chain),
        warnings=_warnings(setting, chain, stages, chance),
    )


def _assumptions(setting: Setting, chain: Chain) -> tuple[str, ...]:
    order, assumed = setting.order, setting.assumptions
    lines = [f"Gauge: {setting.gauge.name}, good to {um(setting.gauge.limit)}."]
    if order.start_ttv is None:
        lines.append(f"Incoming TTV not known: {um(assumed.start_ttv)} assumed.")
    lines.append(f"Bond wedge up to {um(assumed.bond_wedge)}; margin on damage x {assumed.damage_multiple:g}.")
    for cut in chain:
        lines.append(f"Rate of {cut.abrasive.name}: {cut.prior.method}. {cut.prior.origin.sentence()}.")
        source = cut.damage.origin.sentence() if cut.damage.origin else "common practice or formula, no row"
        lines.append(f"Damage of {cut.abrasive.name}: {cut.damage.method}. {source}.")
    unjudged = [limit.quantity for limit in order.limits if limit.quantity in ("bow", "warp", "roughness_sq")]
    if unjudged:
        lines.append(f"Not judged in the chance: {', '.join(unjudged)}.")
    return tuple(lines)


def _warnings(setting: Setting, chain: Chain, stages: Sequence[Stage], chance: float) -> tuple[str, ...]:
    order = setting.order
    lines = [
        f"{check.sentence} {check.remedy}"
        for check in proof_checks(order, chain, setting.gauge, setting.assumptions)
        if check.answer != "can"
    ]
    if chance < _LOW_CHANCE:
        lines.append(f"Only {chance:.0%} of imagined jobs end inside all limits.")
    lines.extend(_damage_warnings(order, chain, stages))
    lines.extend(
        f"The rate of {cut.abrasive.name} is a starting value: log the first run and plan again."
        for cut in chain
        if cut.prior.trust != "own"
    )
    material = setting.library.material(order.material).material_id
    lines.extend(
        f"Sources disagree on {row.subject}: {row.statement} {row.handling}"
        for row in setting.library.contradictions_about(material, ("removal", "damage"))
        if material in row.materials
    )
    return tuple(dict.fromkeys(lines))


def _damage_warnings(order: Order, chain: Chain, stages: Sequence[Stage]) -> list[str]:
    left, high = stages[-1].damage_left, stages[-1].damage_left_high
    if order.limit("roughness_ra") is None and left > 0.0:
        return [f"The finished face keeps about {um(left)} of damage: agree that, or name a finish in the order."]
    if high > chain[-1].damage.high:
        deep = f"At the deep end of what is known {um(high)} of lapping damage would outlast the polish"
        return [f"{deep}: check one wafer by taper polish or etch."]
    return []
