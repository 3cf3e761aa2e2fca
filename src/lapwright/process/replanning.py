"""Planning again from any point of a job, with what was measured so far.

The wafer is taken as it is now: thickness, TTV, and the damage that the last stage left; no grain coarser than the last
one comes back onto it; and rates that this job has shown count more than what was believed of them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from lapwright.errors import ImpossibleOrder, OutOfValidRange
from lapwright.library import Abrasive, Library
from lapwright.model.order import Order
from lapwright.process.candidates import RateBelief, RateSource, library_rates
from lapwright.process.chance import NO_DAMAGE
from lapwright.process.ledger import Depth
from lapwright.process.planning import Searched, search_routes
from lapwright.process.route_making import Question
from lapwright.process.words import micrometres as um

_LEAST_SPREAD = 0.05  # log deviation that stays from run to run even within a day (common practice: 5 %)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenRate:
    """What runs of this job showed of a rate: the factor on what was believed [1], and of how many runs."""

    abrasive: str
    plate: str
    factor: float
    runs: int = 1

    def __post_init__(self) -> None:
        if not self.factor > 0.0:
            raise OutOfValidRange("factor", self.factor, "more than zero")
        if self.runs < 1:
            raise OutOfValidRange("runs", self.runs, "at least 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class JobState:
    """A wafer in mid-job: thickness and TTV [m] as measured, damage left, grain [m] of the last abrasive used."""

    thickness: float
    ttv: float | None = None
    damage: Depth = NO_DAMAGE
    grain: float | None = None
    seen: tuple[SeenRate, ...] = ()


def replanned(
    order: Order, library: Library, question: Question, state: JobState, *, generator: np.random.Generator
) -> Searched:
    """Routes from the state a wafer is in now to what was promised.

    Parameters
    ----------
    order : Order
        As promised.
    library : Library
        Rows to plan with.
    question : Question
        As it was asked at the start.
    state : JobState
        Where the job stands.
    generator : numpy Generator
        Seeded by the caller.

    Returns
    -------
    Searched

    Raises
    ------
    ImpossibleOrder
        The wafer is thinner than the target already, or no route is left.
    """
    if state.thickness <= order.target_thickness:
        raise ImpossibleOrder(
            f"The wafer is {um(state.thickness)} thick and the target is {um(order.target_thickness)}: nothing may be "
            "removed any more. Measure again before you decide; then judge it against its limits as it is."
        )
    return search_routes(
        replace(order, start_thickness=state.thickness, start_ttv=state.ttv),
        library,
        replanning_question(library, question, state),
        generator=generator,
    )


def replanning_question(library: Library, question: Question, state: JobState) -> Question:
    """A question as it stands in mid-job.

    Parameters
    ----------
    library : Library
        Rows to plan with.
    question : Question
        As it was asked at the start.
    state : JobState
        Where the job stands.

    Returns
    -------
    Question
        The wedge of the bond is part of the measured TTV now, so that none is assumed beside it.
    """
    assumptions = question.assumptions if state.ttv is None else replace(question.assumptions, bond_wedge=0.0)
    return replace(
        question,
        assumptions=assumptions,
        start=state.damage,
        coarsest=math.inf if state.grain is None else state.grain,
        is_under_way=True,
        rates=seen_rates(question.rates or library_rates(library), state.seen),
    )


def seen_rates(rates: RateSource, seen: Sequence[SeenRate]) -> RateSource:
    r"""Beliefs about rates after what this job has shown.

    Parameters
    ----------
    rates : RateSource
        What was believed.
    seen : sequence of SeenRate
        What runs showed.

    Returns
    -------
    RateSource

    Notes
    -----
    .. math:: g = \frac{s_0^2}{s_0^2 + s^2/n}, \quad \ln r \to \ln r + g \ln f, \quad s_0^2 \to (1 - g) s_0^2

    with the level's deviation s0, the run-to-run deviation s and n runs that showed the factor f.
    """
    by_tool = {(one.abrasive, one.plate): one for one in seen}

    def believed(material: str, abrasive: Abrasive, plate: str, pressure: float, speed: float) -> RateBelief:
        belief = rates(material, abrasive, plate, pressure, speed)
        one = by_tool.get((abrasive.abrasive_id, plate))
        if one is None:
            return belief
        level = belief.level_deviation**2
        scatter = max(belief.deviation**2 - level, _LEAST_SPREAD**2)
        gain = level / (level + scatter / one.runs) if level > 0.0 else 0.0
        left = (1.0 - gain) * level
        return replace(
            belief,
            median=belief.median * math.exp(gain * math.log(one.factor)),
            level_deviation=math.sqrt(left),
            deviation=math.sqrt(left + scatter),
            source=f"x {math.exp(gain * math.log(one.factor)):.2g} by this job's own runs. {belief.source}",
        )

    return believed
