"""Can an order be met: what each limit needs against what it leaves, and which limit binds.

Asked before anything is quoted or bonded. Bad news is a value here; an order that contradicts itself (target not below
the start) is for planning to refuse.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from lapwright.library import Finish, Library
from lapwright.model.order import Order
from lapwright.model.readings import Gauge
from lapwright.process.budget import chain_needs, least_stock
from lapwright.process.candidates import Chain, Cut, possible_chains, possible_cuts
from lapwright.process.decisions import factor_guard_band, guard_band
from lapwright.process.finishes import lowest_roughness, nearest_finish
from lapwright.process.release import finish_of
from lapwright.process.release_checks import USUAL_RELEASE, ReleaseAssumptions, ReleaseView, release_view
from lapwright.process.words import micrometres as um
from lapwright.process.workplaces import (
    ASSUMED_GAUGE,
    USUAL_ASSUMPTIONS,
    USUAL_WORKPLACES,
    Assumptions,
    Workplace,
)

Answer = Literal["can", "only_with", "cannot"]
_WORST: tuple[Answer, ...] = ("can", "only_with", "cannot")


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One limit weighed: what there is and what it takes [m], the answer, a sentence, and what would relax it."""

    limit: str
    has: float
    needs: float
    answer: Answer
    sentence: str
    remedy: str

    @property
    def tightness(self) -> float:
        """What it takes over what there is; above 1 it does not suffice."""
        return self.needs / self.has if self.has > 0.0 else math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Feasibility:
    """The answer in three lines: yes, no or only with; the limit that binds; and what to do or what comes next.

    `remarks` say what the wafer will be like once it is off its carrier, limited or not.
    """

    answer: Answer
    binding: str
    lines: tuple[str, str, str]
    checks: tuple[Check, ...]
    remarks: tuple[str, ...] = ()


def feasibility(
    order: Order,
    library: Library,
    *,
    workplaces: Sequence[Workplace] = USUAL_WORKPLACES,
    gauge: Gauge = ASSUMED_GAUGE,
    assumptions: Assumptions = USUAL_ASSUMPTIONS,
    release: ReleaseAssumptions = USUAL_RELEASE,
) -> Feasibility:
    """Whether an order can be met, and by which limit it stands or falls.

    Parameters
    ----------
    order : Order
        As promised.
    library : Library
        Rows to plan with.
    workplaces : sequence of Workplace
        Where it can be worked.
    gauge : Gauge
        What thickness is measured with.
    assumptions : Assumptions
        What stands in for the lab's own history.
    release : ReleaseAssumptions
        What the order does not say of bonded face, edge and carrier.

    Returns
    -------
    Feasibility
        The binding limit is the worst answered, among equals the one with the largest share used up.

    Raises
    ------
    NotFound
        A material or plate the library does not hold.

    Notes
    -----
    Stock: the leanest route by eq. 2.4. Thickness: guard band of the gauge's limit plus twice the stop error against
    half the tolerance. TTV: form and twice the wedge deviation of the finished face plus the guard band of two site
    errors. Edge exclusion: rim breakage in proportion to the grain. Roughness: the high end of the finest finish.
    Bow and warp: what the two faces' unequal forces may bend the free wafer to. Edge: a bevel thinned past its middle.

    Examples
    --------
    >>> from lapwright.library import load
    >>> from lapwright.model.order import Limit
    >>> from lapwright.model.wafer import Round
    >>> order = Order(order_id="A", customer="B", material="Si", outline=Round(diameter=0.1), quantity=1,
    ...     start_thickness=525e-6, target_thickness=524e-6, limits=(Limit(quantity="ttv", upper=5e-6),),
    ...     edge_exclusion=3e-3, hold="free")
    >>> found = feasibility(order, load())
    >>> found.answer, found.binding
    ('cannot', 'stock')
    """
    cuts = possible_cuts(order, library, workplaces)
    roughness = order.limit("roughness_ra")
    smooth = None if roughness is None else roughness.upper
    chains = list(possible_chains(cuts, roughness_limit=smooth)) or list(possible_chains(cuts, roughness_limit=None))
    leanest = leanest_chain(order, chains, gauge, assumptions)
    checks = [
        _stock(order, leanest, gauge, assumptions),
        *_thickness(order, leanest, gauge, assumptions),
        *_ttv(order, gauge, assumptions),
        _edge(order, leanest, assumptions),
        *_roughness(order, library, cuts),
    ]
    view = release_view(order, library, _last_finish(leanest), release=release)
    checks += [*_bows(order, view), *_rim(order, view, release)]
    return replace(_answered(tuple(checks)), remarks=view.remarks)


def leanest_chain(order: Order, chains: Sequence[Chain], gauge: Gauge, assumptions: Assumptions) -> Chain:
    """The chain that needs least stock; empty when there is none.

    Parameters
    ----------
    order : Order
        Start TTV and damage.
    chains : sequence of Chain
        What is possible.
    gauge : Gauge
        What thickness is measured with.
    assumptions : Assumptions
        Forms, stop errors and the margin on damage.

    Returns
    -------
    Chain
    """
    return min(chains, key=lambda chain: least_stock(chain_needs(order, chain, gauge, assumptions)), default=())


def proof_checks(order: Order, chain: Chain, gauge: Gauge, assumptions: Assumptions) -> tuple[Check, ...]:
    """The limits that the gauge may be unable to prove, weighed for one chain.

    Parameters
    ----------
    order : Order
        Limits and decision rule.
    chain : Chain
        The route's cuts.
    gauge : Gauge
        What thickness is measured with.
    assumptions : Assumptions
        Stop errors, form and wedge of the finished face.

    Returns
    -------
    tuple of Check
        On thickness, TTV and edge exclusion, where the order has them.
    """
    return (
        *_thickness(order, chain, gauge, assumptions),
        *_ttv(order, gauge, assumptions),
        _edge(order, chain, assumptions),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _stock(order: Order, chain: Chain, gauge: Gauge, assumptions: Assumptions) -> Check:
    has = order.start_thickness - order.target_thickness
    needs = least_stock(chain_needs(order, chain, gauge, assumptions)) if chain else math.inf
    if not chain:
        sentence = f"The library knows no way to lap {order.material}."
        remedy = "Add a removal coefficient of your own for this material."
    else:
        sentence = f"There are {um(has)} of stock; damage, form and uncertainty of the leanest route take {um(needs)}."
        remedy = f"The thickest that can be delivered is {um(order.start_thickness - needs)}."
    answer: Answer = "can" if needs <= has else "cannot"
    return Check(limit="stock", has=has, needs=needs, answer=answer, sentence=sentence, remedy=remedy)


def _thickness(order: Order, chain: Chain, gauge: Gauge, assumptions: Assumptions) -> tuple[Check, ...]:
    limit = order.limit("thickness")
    if limit is None or limit.lower is None or limit.upper is None:
        return ()
    has = min(limit.upper - order.target_thickness, order.target_thickness - limit.lower)
    guard = _guard(order, gauge.limit / math.sqrt(3.0))
    polished = bool(chain) and chain[-1].workplace.process == "polish"
    stop = 2.0 * (assumptions.polish_stop_error if polished else assumptions.lap_stop_error)
    answer: Answer = "can" if guard + stop <= has else "only_with"
    sentence = (
        f"The tolerance leaves {um(has)} to each side; the guard band of the gauge takes {um(guard)} "
        f"and the stop {um(stop)}."
    )
    if has > stop and guard > 0.0:
        remedy = f"A gauge good to {um(gauge.limit * (has - stop) / guard)} would do; else results cannot be decided."
    else:
        remedy = f"Ask for a tolerance of at least {um(guard + stop)} to each side."
    return (Check(limit="thickness", has=has, needs=guard + stop, answer=answer, sentence=sentence, remedy=remedy),)


def _ttv(order: Order, gauge: Gauge, assumptions: Assumptions) -> tuple[Check, ...]:
    limit = order.limit("ttv")
    if limit is None or limit.upper is None:
        return ()
    reached = assumptions.final_form + 2.0 * assumptions.wedge_deviation
    if gauge.local is None:
        sentence = f"The TTV limit is {um(limit.upper)}; how far the gauge errs from site to site is not known."
        remedy = "State the gauge's error from site to site; without it TTV cannot be decided."
        return (
            Check(limit="ttv", has=limit.upper, needs=reached, answer="only_with", sentence=sentence, remedy=remedy),
        )
    guard = _guard(order, math.sqrt(2.0) * gauge.local / math.sqrt(3.0))
    needs = reached + guard
    answer: Answer = "can" if needs <= limit.upper else "only_with"
    sentence = (
        f"The TTV limit is {um(limit.upper)}; form and wedge as usually reached take {um(reached)}, "
        f"the guard band of two sites {um(guard)}."
    )
    remedy = f"Ask for a TTV limit of at least {um(needs)}, correct the tilt once more, or read with a better gauge."
    return (Check(limit="ttv", has=limit.upper, needs=needs, answer=answer, sentence=sentence, remedy=remedy),)


def _edge(order: Order, chain: Chain, assumptions: Assumptions) -> Check:
    grain = max((cut.abrasive.grain for cut in chain), default=0.0)
    needs = assumptions.rim_breakage * grain
    answer: Answer = "can" if needs <= order.edge_exclusion else "only_with"
    return Check(
        limit="edge_exclusion",
        has=order.edge_exclusion,
        needs=needs,
        answer=answer,
        sentence=f"The edge exclusion is {um(order.edge_exclusion)}; the rim breaks back by about {um(needs)}.",
        remedy=f"Agree an edge exclusion of at least {um(needs)}, or chamfer the edge first.",
    )


def _roughness(order: Order, library: Library, cuts: Sequence[Cut]) -> tuple[Check, ...]:
    limit = order.limit("roughness_ra")
    if limit is None or limit.upper is None:
        return ()
    needs = lowest_roughness(cuts)
    answer: Answer = "can" if needs <= limit.upper else "cannot"
    if math.isfinite(needs):
        sentence = (
            f"The limit is Ra {limit.upper * 1e9:.2f} nm; the finest known finish leaves up to {needs * 1e9:.2f} nm."
        )
        remedy = nearest_finish(order, library, cuts, limit.upper)
    else:
        sentence = f"The limit is Ra {limit.upper * 1e9:.2f} nm; the library knows no finish of {order.material}."
        remedy = "Add a roughness row of your own for this material."
    return (Check(limit="roughness_ra", has=limit.upper, needs=needs, answer=answer, sentence=sentence, remedy=remedy),)


def _last_finish(chain: Chain) -> Finish:
    return finish_of(chain[-1].workplace.process, chain[-1].abrasive.grain) if chain else "lapped_fine"


def _bows(order: Order, view: ReleaseView) -> tuple[Check, ...]:
    """Bow and warp; the warp of a bowl is about its bow."""
    found = []
    for quantity in ("bow", "warp"):
        limit = order.limit(quantity)
        if limit is None or view.bow is None:
            continue
        ends = [abs(end) for end in (limit.lower, limit.upper) if end is not None]
        has, needs = min(ends), view.bow.largest
        found.append(
            Check(
                limit=quantity,
                has=has,
                needs=needs,
                answer="can" if needs <= has else "only_with",
                sentence=f"The limit of {quantity} is {um(has)}. {view.bow.sentence}",
                remedy="Finish both faces alike, etch the damage off, or agree a larger limit.",
            )
        )
    return tuple(found)


def _rim(order: Order, view: ReleaseView, release: ReleaseAssumptions) -> tuple[Check, ...]:
    """Only an edge that is known to be bevelled counts; else it is a remark."""
    if release.edge != "bevelled":
        return ()
    return (
        Check(
            limit="edge",
            has=order.target_thickness,
            needs=0.5 * order.start_thickness,
            answer="only_with" if view.rim.is_blade else "can",
            sentence=view.rim.sentence,
            remedy="Trim the bevel off before bonding, or agree the smaller diameter.",
        ),
    )


def _guard(order: Order, standard_uncertainty: float) -> float:
    if order.rule.kind == "simple":
        return 0.0
    if order.rule.guard_factor is not None:
        return factor_guard_band(standard_uncertainty, factor=order.rule.guard_factor)
    return guard_band(standard_uncertainty, false_accept=order.rule.false_accept)


#: Limits whose word is not their name.
_WORDS = {"ttv": "TTV", "roughness_ra": "Ra"}


def _answered(checks: tuple[Check, ...]) -> Feasibility:
    ranked = sorted(checks, key=lambda check: (_WORST.index(check.answer), check.tightness), reverse=True)
    binding = ranked[0]
    word = _WORDS.get(binding.limit, binding.limit.replace("_", " "))
    first = {
        "can": "Can be done.",
        "only_with": f"Only with a change: {word} does not hold as ordered.",
        "cannot": f"Cannot be done: {word} does not suffice.",
    }[binding.answer]
    if binding.answer != "can":
        last = binding.remedy
    elif len(ranked) > 1:
        last = f"Next: {ranked[1].sentence}"
    else:
        last = "No other limit was asked for."
    return Feasibility(
        answer=binding.answer, binding=binding.limit, lines=(first, f"Binding: {binding.sentence}", last), checks=checks
    )
