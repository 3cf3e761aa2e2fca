"""What limits a route, what would relax it, and how much hangs on each assumption.

Every answer is the route drawn again with one thing changed and the same luck, so that differences of a tenth of a
percent mean something.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from lapwright.model.order import Order
from lapwright.model.plan import LimitChance
from lapwright.process.candidates import Chain, Cut
from lapwright.process.chance import imagined_jobs
from lapwright.process.route_making import Question, Route, drawn_chance
from lapwright.process.route_words import limit_word
from lapwright.process.screening import finished_form, split_stock
from lapwright.process.search import Candidate
from lapwright.process.stages import Setting, cut_steps
from lapwright.process.words import micrometres as um

WORTH_TELLING = 0.003  # gain in chance below which a remedy is not named
_TILT_TIME = 1200.0  # s; one more correction of the tilt with its measurement (common practice)
_MORE = 1.5  # how far an assumption is moved, up and down


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """Something that would raise a route's chance: what, in a sentence; the chance then [1], and more time [s]."""

    name: str
    sentence: str
    chance: float
    gain: float
    time_change: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensitivity:
    """How chance [1] and time [s] move when one assumption is a third less (`low`) or half as much again (`high`)."""

    assumption: str
    words: str
    chance_low: float
    chance_high: float
    time_low: float
    time_high: float

    @property
    def swing(self) -> float:
        """By how much the chance moves between the two ends [1]."""
        return abs(self.chance_high - self.chance_low)


def binding_limit(route: Route) -> LimitChance:
    """The limit that a route most often misses.

    Parameters
    ----------
    route : Route
        With its chances.

    Returns
    -------
    LimitChance
    """
    return min(route.plan.chances, key=lambda one: one.chance)


def remedies(route: Route, setting: Setting, question: Question, *, seed: int) -> tuple[Remedy, ...]:
    """What would raise a route's chance, most first.

    Parameters
    ----------
    route : Route
        To be improved.
    setting : Setting
        In which it was made.
    question : Question
        As asked.
    seed : int
        Of its imagined jobs.

    Returns
    -------
    tuple of Remedy
        Only what gains at least 0.3 points.
    """
    found = []
    for name, words, changed, candidate, extra in _changes(route, setting):
        chance, time = drawn_chance(changed, candidate, question, seed=seed)
        gain = chance - route.plan.chance_in_tolerance
        if gain < WORTH_TELLING:
            continue
        more = time - route.plan.total_time + extra
        took = ""
        if abs(more) >= 30.0:
            took = f", in {more / 60.0:.0f} min more" if more > 0.0 else f", in {-more / 60.0:.0f} min less"
        sentence = f"{words} raises the chance from {route.plan.chance_in_tolerance:.1%} to {chance:.1%}{took}."
        found.append(Remedy(name=name, sentence=sentence, chance=chance, gain=gain, time_change=more))
    return tuple(sorted(found, key=lambda one: -one.gain))


def sensitivities(route: Route, setting: Setting, question: Question, *, seed: int) -> tuple[Sensitivity, ...]:
    """How much hangs on each assumption, most first, with the removals left as planned.

    Parameters
    ----------
    route : Route
        As planned.
    setting : Setting
        In which it was made.
    question : Question
        As asked.
    seed : int
        Of its imagined jobs.

    Returns
    -------
    tuple of Sensitivity
    """
    found = []
    for name, words in _ASSUMPTIONS.items():
        ends = [
            _drawn_again(route, question, *_moved(route, setting, name, factor), seed=seed)
            for factor in (1.0 / _MORE, _MORE)
        ]
        (chance_low, time_low), (chance_high, time_high) = ends
        found.append(
            Sensitivity(
                assumption=name,
                words=words,
                chance_low=chance_low,
                chance_high=chance_high,
                time_low=time_low,
                time_high=time_high,
            )
        )
    return tuple(sorted(found, key=lambda one: (-round(one.swing, 4), -abs(one.time_high - one.time_low))))


# ----------------------------------------------------------------------------------------------------------------------

#: Assumptions that are moved, and what a person calls them.
_ASSUMPTIONS = {
    "rate": "removal rates",
    "damage": "depth of damage",
    "gauge_limit": "limit of the gauge",
    "gauge_local": "error of the gauge from site to site",
    "wedge_deviation": "wedge left after tilt correction",
    "final_form": "form of the finished face",
    "form_spread": "spread of that form",
    "form_after_coarse": "form left by a coarse lap",
    "form_after_fine": "form left by a fine lap",
    "polish_unevenness": "unevenness of the polish",
    "lap_stop_error": "error of a stopped lap",
    "polish_stop_error": "error of a stopped polish",
    "watch_error": "error of the first stop of a lap",
    "day_spread": "spread of a rate within a day",
}


def _changes(route: Route, setting: Setting) -> Iterator[tuple[str, str, Setting, Candidate, float]]:
    candidate, gauge, assumed = route.candidate, setting.gauge, setting.assumptions
    if gauge.limit > 0.0:
        local = None if gauge.local is None else 0.5 * gauge.local
        better = replace(setting, gauge=replace(gauge, limit=0.5 * gauge.limit, local=local))
        yield "gauge", f"A gauge good to {um(0.5 * gauge.limit)} instead of {um(gauge.limit)}", better, candidate, 0.0
    squarer = replace(setting, assumptions=replace(assumed, wedge_deviation=0.5 * assumed.wedge_deviation))
    yield "tilt", "Correcting the tilt once more before the last lap", squarer, candidate, _TILT_TIME
    if gauge.local:
        often = replace(setting, gauge=replace(gauge, local=gauge.local / math.sqrt(3.0)))
        extra = 2.0 * assumed.measuring_time * len(route.steps)
        yield "measure", "Reading every site three times after each part", often, candidate, extra
    if len(candidate.chain) > 1 or setting.start.median > 0.0:
        more = replace(candidate, finish_multiple=candidate.finish_multiple * 4.0 / 3.0)
        if _fits(setting, more):
            yield "finish", "A third more margin on damage in the last stage", setting, more, 0.0
        known = replace(candidate, chain=tuple(_known(cut) for cut in candidate.chain))
        yield "witness", "Knowing the damage twice as well, from a taper-polished witness", setting, known, 3600.0
    if len(candidate.chain) > 2:
        more = replace(candidate, lap_multiple=candidate.lap_multiple * 4.0 / 3.0)
        if _fits(setting, more):
            yield "laps", "A third more margin on damage in the laps", setting, more, 0.0
    if candidate.chain[-1].process != "lap":
        even = replace(setting, assumptions=replace(assumed, polish_unevenness=0.5 * assumed.polish_unevenness))
        yield "pad", "A pad that works twice as evenly", even, candidate, 0.0
    binding = binding_limit(route).limit
    wider = _wider(setting.order, binding)
    if wider is not None:
        words = f"A limit on {limit_word(binding)} a quarter wider, agreed with the customer,"
        yield "limit", words, replace(setting, order=wider), candidate, 0.0


def _fits(setting: Setting, candidate: Candidate) -> bool:
    return (
        split_stock(
            setting,
            candidate.chain,
            lap_multiple=candidate.lap_multiple,
            finish_multiple=candidate.finish_multiple,
        )
        is not None
    )


def _known(cut: Cut) -> Cut:
    damage = cut.damage
    if damage.expected <= 0.0:
        return cut
    high = damage.expected * math.sqrt(max(damage.high, damage.expected) / damage.expected)
    return replace(cut, damage=replace(damage, high=high))


def _wider(order: Order, quantity: str) -> Order | None:
    limit = next((one for one in order.limits if one.quantity == quantity), None)
    if limit is None:
        return None
    if limit.quantity == "thickness":
        target = order.target_thickness
        wide = replace(
            limit,
            lower=None if limit.lower is None else target - 1.25 * (target - limit.lower),
            upper=None if limit.upper is None else target + 1.25 * (limit.upper - target),
        )
    else:
        wide = replace(limit, upper=None if limit.upper is None else 1.25 * limit.upper)
    return replace(order, limits=tuple(wide if one is limit else one for one in order.limits))


def _moved(route: Route, setting: Setting, name: str, factor: float) -> tuple[Setting, Chain]:
    """Setting and chain with one assumption moved."""
    chain = route.candidate.chain
    if name == "rate":
        return setting, tuple(replace(cut, rate=cut.rate * factor) for cut in chain)
    if name == "damage":
        deeper = tuple(
            replace(
                cut,
                damage=replace(cut.damage, expected=cut.damage.expected * factor, high=cut.damage.high * factor),
            )
            for cut in chain
        )
        start = replace(setting.start, median=setting.start.median * factor)
        return replace(setting, start=start), deeper
    if name == "gauge_limit":
        return replace(setting, gauge=replace(setting.gauge, limit=setting.gauge.limit * factor)), chain
    if name == "gauge_local":
        local = None if setting.gauge.local is None else setting.gauge.local * factor
        return replace(setting, gauge=replace(setting.gauge, local=local)), chain
    moved = {name: getattr(setting.assumptions, name) * factor}
    return replace(setting, assumptions=replace(setting.assumptions, **moved)), chain


def _drawn_again(route: Route, question: Question, setting: Setting, chain: Chain, *, seed: int) -> tuple[float, float]:
    """Chance and time of a route whose removals stay as planned while the world is another."""
    cuts = list(dict.fromkeys(step.cut for step in route.steps))
    taken = [math.fsum(step.part.removal for step in route.steps if step.cut == cut) for cut in cuts]
    steps = list(cut_steps(setting, chain, taken, route.needs))
    assumed = setting.assumptions
    finish = replace(
        route.finish,
        form=finished_form(setting, chain, taken[-1]),
        form_spread=assumed.form_spread,
        wedge_deviation=assumed.wedge_deviation,
        wedge_doubt=assumed.wedge_doubt,
    )
    outcome = imagined_jobs(
        setting.order,
        [step.part for step in steps],
        setting.gauge,
        finish,
        start=setting.start,
        generator=np.random.default_rng(seed),
        draws=question.draws,
    )
    time = assumed.measuring_time + math.fsum(step.part.removal / step.cut.rate + step.part.around for step in steps)
    return outcome.together, time
