"""One route made of its cuts: what is asked of it, its jobs imagined, its stages laid out, its reasons told."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from lapwright.model.plan import LimitChance, Plan
from lapwright.model.readings import Gauge
from lapwright.process.budget import Need, chain_needs
from lapwright.process.candidates import Chain, Cut, RateSource
from lapwright.process.chance import Finish, Outcome, imagined_jobs
from lapwright.process.ledger import Depth
from lapwright.process.route_cost import USUAL_PRICES, Prices
from lapwright.process.route_words import plan_assumptions, plan_warnings, plan_why, route_name
from lapwright.process.screening import finished_form, split_stock
from lapwright.process.search import Candidate, Goal
from lapwright.process.stages import (
    Setting,
    Step,
    cut_steps,
    depth_of,
    route_stages,
    stages_cost,
    stages_time,
    time_to_clear,
)
from lapwright.process.workplaces import (
    ASSUMED_GAUGE,
    USUAL_ASSUMPTIONS,
    USUAL_WORKPLACES,
    Assumptions,
    Workplace,
)

USUAL_DRAWS = 10_000
USUAL_GOAL = Goal()


@dataclass(frozen=True, slots=True, kw_only=True)
class Risks:
    """What is known of the released piece: chance that it breaks [1], its bow, and the sentences that say so."""

    breakage: float | None = None
    bow: Depth | None = None
    sentences: tuple[str, ...] = ()


#: Gives the risks of the piece that a chain leaves.
RiskSource = Callable[[Chain], Risks]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """All that a route is planned from beside the order and the library; every part has a usual value.

    `etches` are baths that may take the damage of the last lap; `start` is the damage of the face where it is better
    known than the order says; `coarsest` the largest grain still allowed and `is_under_way` true when the wafer is
    worked already.
    """

    workplaces: Sequence[Workplace] = USUAL_WORKPLACES
    gauge: Gauge = ASSUMED_GAUGE
    assumptions: Assumptions = USUAL_ASSUMPTIONS
    goal: Goal = USUAL_GOAL
    prices: Prices = USUAL_PRICES
    rates: RateSource | None = None
    risks: RiskSource | None = None
    etches: Sequence[Cut] = ()
    start: Depth | None = None
    coarsest: float = math.inf
    is_under_way: bool = False
    draws: int = USUAL_DRAWS


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A plan with what it was made from, so that it can be changed and asked about."""

    plan: Plan
    candidate: Candidate
    needs: tuple[Need, ...]
    steps: tuple[Step, ...]
    finish: Finish
    outcome: Outcome


def made_route(
    setting: Setting, candidate: Candidate, question: Question, *, labels: tuple[str, ...] = (), seed: int
) -> Route:
    """One route laid out, drawn and told.

    Parameters
    ----------
    setting : Setting
        Order, library, gauge, assumptions, prices.
    candidate : Candidate
        Cuts and split.
    question : Question
        Risks and draws.
    labels : tuple of str
        What it is best at.
    seed : int
        Of its imagined jobs.

    Returns
    -------
    Route
    """
    drawn = _drawn(setting, candidate, question, seed)
    stages = tuple(route_stages(setting, drawn.steps))
    chain, outcome = candidate.chain, drawn.outcome
    plan = Plan(
        name=route_name(chain),
        stages=stages,
        start_thickness=setting.order.start_thickness,
        target_thickness=setting.order.target_thickness,
        total_time=math.fsum(stage.time for stage in stages),
        chance_in_tolerance=outcome.together,
        damage_left=stages[-1].damage_left,
        chances=tuple(LimitChance(limit=name, chance=chance) for name, chance in outcome.each.items()),
        time_low=outcome.time_low + setting.assumptions.measuring_time,
        time_high=outcome.time_high + setting.assumptions.measuring_time,
        total_cost=stages_cost(setting, drawn.steps, outcome.together),
        labels=labels,
        clear_time=time_to_clear(setting, chain, drawn.taken),
    )
    plan = replace(plan, assumptions=plan_assumptions(setting, chain, drawn.risks.sentences))
    plan = replace(plan, warnings=plan_warnings(setting, chain, plan))
    plan = replace(plan, why=plan_why(chain, plan, drawn.needs))
    return Route(
        plan=plan, candidate=candidate, needs=drawn.needs, steps=drawn.steps, finish=drawn.finish, outcome=outcome
    )


def drawn_chance(setting: Setting, candidate: Candidate, question: Question, *, seed: int) -> tuple[float, float]:
    """Chance and time of a route as `made_route` has them, without laying it out or telling it.

    Parameters
    ----------
    setting : Setting
        Order, library, gauge, assumptions, prices.
    candidate : Candidate
        Cuts and split.
    question : Question
        Risks and draws.
    seed : int
        Of its imagined jobs.

    Returns
    -------
    tuple of float [1], float [s]
    """
    drawn = _drawn(setting, candidate, question, seed)
    return drawn.outcome.together, stages_time(setting, drawn.steps)


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawn:
    """A candidate whose jobs were imagined: what its cuts take [m], its steps, and what came of it."""

    taken: list[float]
    needs: tuple[Need, ...]
    steps: tuple[Step, ...]
    risks: Risks
    finish: Finish
    outcome: Outcome


def _drawn(setting: Setting, candidate: Candidate, question: Question, seed: int) -> _Drawn:
    chain = candidate.chain
    taken = split_stock(setting, chain, lap_multiple=candidate.lap_multiple, finish_multiple=candidate.finish_multiple)
    assert taken is not None  # it was weighed at this split
    needs = chain_needs(
        setting.order, chain, setting.gauge, setting.assumptions,
        multiples=(*[candidate.lap_multiple] * (len(chain) - 1), candidate.finish_multiple),
    )  # fmt: skip
    steps = tuple(cut_steps(setting, chain, taken.tolist(), needs))
    risks = question.risks(chain) if question.risks else Risks()
    finish = _finish(setting, chain, float(taken[-1]), risks)
    outcome = imagined_jobs(
        setting.order,
        [step.part for step in steps],
        setting.gauge,
        finish,
        start=setting.start,
        generator=np.random.default_rng(seed),
        draws=question.draws,
    )
    return _Drawn(taken=taken.tolist(), needs=needs, steps=steps, risks=risks, finish=finish, outcome=outcome)


def _finish(setting: Setting, chain: Chain, last_removal: float, risks: Risks) -> Finish:
    roughness = chain[-1].roughness
    return Finish(
        form=finished_form(setting, chain, last_removal),
        form_spread=setting.assumptions.form_spread,
        wedge_deviation=setting.assumptions.wedge_deviation,
        wedge_doubt=setting.assumptions.wedge_doubt,
        roughness=None if roughness is None else depth_of(roughness),
        bow=risks.bow,
        breakage=risks.breakage,
    )
