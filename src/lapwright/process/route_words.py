"""Routes in words: what each assumes, what to beware of, and why it is as it is."""

from __future__ import annotations

from collections.abc import Sequence

from lapwright.model.plan import Plan
from lapwright.process.budget import Need
from lapwright.process.candidates import Chain
from lapwright.process.feasibility import proof_checks
from lapwright.process.stages import Setting
from lapwright.process.words import micrometres as um

_LOW_CHANCE = 0.9
_UNJUDGED = ("bow", "warp", "roughness_sq")

#: What each label says of a route.
LABEL_WORDS = {
    "shortest": "the shortest that holds the chance aimed at",
    "cheapest": "the cheapest that holds it",
    "surest": "the surest",
    "usual": "the shortest at the loads and speeds in the middle of what is usual",
    "gentle": "the tools of the shortest at the lowest usual loads",
    "stages 1": "the shortest in one stage",
    "stages 2": "the shortest in two stages",
    "stages 3": "the shortest in three stages",
    "stages 4": "the shortest in four stages",
    "stages 5": "the shortest in five stages",
    "by hand": "set by hand",
    "other tools": "other plates or abrasives, nearly as short",
}

_USUAL_HANDS = (
    "Stops and wedges scatter as usual, in nine labs of ten within a factor of 1.8 of it (own assumption): "
    "no own stop and no finished wafer is on record yet."
)


def route_name(chain: Chain) -> str:
    """The cuts of a route in one line.

    Parameters
    ----------
    chain : Chain
        Cuts from first to last.

    Returns
    -------
    str
    """
    return ", then ".join(
        f"{cut.abrasive.name} in {cut.workplace.name}"
        if cut.process == "etch"
        else f"{cut.abrasive.name} on {cut.workplace.name} at {cut.pressure / 1e3:g} kPa"
        for cut in chain
    )


def plan_assumptions(setting: Setting, chain: Chain, risks: Sequence[str] = ()) -> tuple[str, ...]:
    """What a route takes for granted, in sentences, with where it comes from.

    Parameters
    ----------
    setting : Setting
        Order, gauge, assumptions, prices.
    chain : Chain
        The route's cuts.
    risks : sequence of str
        Sentences on breakage and bow.

    Returns
    -------
    tuple of str
    """
    order, assumed = setting.order, setting.assumptions
    lines = [f"Gauge: {setting.gauge.name}, good to {um(setting.gauge.limit)}."]
    if order.start_ttv is None:
        lines.append(f"Incoming TTV not known: {um(assumed.start_ttv)} assumed.")
    lines.append(f"Bond wedge up to {um(assumed.bond_wedge)}; margin on damage at least x {assumed.damage_multiple:g}.")
    for cut in chain:
        lines.append(f"Rate of {cut.abrasive.name}: {cut.source}")
        source = cut.damage.origin.sentence() if cut.damage.origin else "common practice or formula, no row"
        lines.append(f"Damage of {cut.abrasive.name}: {cut.damage.method}. {source}.")
    lines.extend(assumed.learned or (_USUAL_HANDS,))
    lines.extend(risks)
    if not setting.prices.are_own:
        lines.append("Cost: usual prices in no particular currency, because none of this lab were given.")
    judged = {"bow", "warp"} if risks else set()
    unjudged = [
        limit.quantity for limit in order.limits if limit.quantity in _UNJUDGED and limit.quantity not in judged
    ]
    if unjudged:
        lines.append(f"Not judged in the chance: {', '.join(unjudged)}.")
    return tuple(lines)


def plan_warnings(setting: Setting, chain: Chain, plan: Plan) -> tuple[str, ...]:
    """What to beware of in a route, in sentences.

    Parameters
    ----------
    setting : Setting
        Order, library, gauge, assumptions.
    chain : Chain
        The route's cuts.
    plan : Plan
        With its stages and chance.

    Returns
    -------
    tuple of str
    """
    order = setting.order
    lines = [
        f"{check.sentence} {check.remedy}"
        for check in proof_checks(order, chain, setting.gauge, setting.assumptions)
        if check.answer != "can"
    ]
    if plan.chance_in_tolerance < _LOW_CHANCE:
        lines.append(f"Only {plan.chance_in_tolerance:.0%} of imagined jobs end inside all limits.")
    lines.extend(_damage_warnings(setting, chain, plan))
    lines.extend(
        f"The rate of {cut.abrasive.name} is a starting value: log the first run and plan again."
        for cut in chain
        if not cut.is_own
    )
    material = setting.library.material(order.material).material_id
    for row in setting.library.contradictions_about(material, ("removal", "damage")):
        if material in row.materials:
            told = f"{row.statement} {row.handling}"
            lines.append(f"Sources disagree on {row.subject}: {told}")
    return tuple(dict.fromkeys(lines))


def plan_why(chain: Chain, plan: Plan, needs: Sequence[Need]) -> tuple[str, ...]:
    """Why a route is as it is: what it is best at, and what each cut takes and why.

    Parameters
    ----------
    chain : Chain
        The route's cuts.
    plan : Plan
        With its stages, chances and labels.
    needs : sequence of Need
        Least removal of each cut.

    Returns
    -------
    tuple of str
    """
    lines = []
    words = [LABEL_WORDS[label] for label in plan.labels if label in LABEL_WORDS]
    if words:
        lines.append(f"It is {'; '.join(words)}.")
    for index, (cut, need) in enumerate(zip(chain, needs, strict=True)):
        taken = sum(stage.removal for stage in plan.stages if stage.abrasive == cut.abrasive.abrasive_id)
        before = "the incoming face" if index == 0 else chain[index - 1].abrasive.name
        lines.append(_cut_sentence(cut.abrasive.name, taken, need, before, is_first=index == 0))
    slowest = max((stage for stage in plan.stages if stage.removal > 0.0), key=lambda stage: stage.time)
    lines.append(
        f"Longest part: {slowest.name.lower()}, {slowest.time / 60.0:.0f} of {plan.total_time / 60.0:.0f} min."
    )
    worst = min(plan.chances, key=lambda one: one.chance)
    if worst.chance < 1.0:
        lines.append(f"Its risk is mostly {limit_word(worst.limit)}: kept by {worst.chance:.1%} of imagined jobs.")
    if plan.clear_time is not None:
        minutes = plan.clear_time / 60.0
        lines.append(
            f"The damage is gone with less than one chance in a hundred left after {minutes:.0f} min of polish."
        )
    return tuple(lines)


def limit_word(limit: str) -> str:
    """A limit's name as it stands in a sentence.

    Parameters
    ----------
    limit : str
        A quantity of the order, ``damage`` or ``breakage``.

    Returns
    -------
    str

    Examples
    --------
    >>> limit_word("roughness_ra")
    'Ra'
    """
    return {"ttv": "TTV", "roughness_ra": "Ra", "roughness_sq": "Sq", "damage": "damage that remains"}.get(limit, limit)


# ----------------------------------------------------------------------------------------------------------------------


def _cut_sentence(name: str, taken: float, need: Need, before: str, *, is_first: bool) -> str:
    whole = name[0].upper() + name[1:]
    parts = [f"{um(need.uncertainty)} covers gauge and stop"]
    if need.form > 0.0:
        parts.insert(0, f"{um(need.form)} of form must go")
    if need.damage > 0.0:
        parts.insert(0, f"{before} leaves damage that asks for {um(need.damage)}")
    because = ", ".join(parts)
    if is_first:
        return f"{whole} takes {um(taken)}, all that the later stages leave; it needs {um(need.total)}: {because}."
    return f"{whole} takes {um(taken)} because {because}."


def _damage_warnings(setting: Setting, chain: Chain, plan: Plan) -> list[str]:
    left, high = plan.stages[-1].damage_left, plan.stages[-1].damage_left_high
    if setting.order.limit("roughness_ra") is None and left > 0.0:
        return [f"The finished face keeps about {um(left)} of damage: agree that, or name a finish in the order."]
    if high > chain[-1].damage.high:
        deep = f"At the deep end of what is known {um(high)} of lapping damage would outlast the polish"
        return [f"{deep}: check one wafer by taper polish or etch."]
    return []
