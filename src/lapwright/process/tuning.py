"""One route changed by hand: other loads, speeds and splits of the stock for the same plates and abrasives.

What a slider on a page asks. Nothing is searched: the route is laid out and drawn as it is asked for, good or bad.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from lapwright.errors import BadInput, Fault, ImpossibleOrder, OutOfValidRange
from lapwright.library import Library
from lapwright.model.order import Order
from lapwright.process.candidates import Chain, Cut, RateSource, changed_cut, library_rates, possible_cuts
from lapwright.process.planning import setting_of
from lapwright.process.route_making import Question, Route, made_route
from lapwright.process.screening import screened_loads
from lapwright.process.search import Candidate, screened
from lapwright.process.words import micrometres as um

#: What may be asked for; wider than what a search tries.
LEAST_MULTIPLE, MOST_MULTIPLE = 1.0, 8.0
LEAST_SPEED, MOST_SPEED = 0.5, 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuning:
    """A route by hand: its tools (name of the workplace, id of the abrasive or bath), and how they are used.

    `load_share` goes from 0, the lowest usual load, to 1, the highest; `speed_share` is a factor on the usual speeds;
    the multiples are the margins on damage of the laps and of the last stage.
    """

    tools: tuple[tuple[str, str], ...]
    load_share: float = 0.5
    speed_share: float = 1.0
    lap_multiple: float = 1.5
    finish_multiple: float = 1.5

    def __post_init__(self) -> None:
        if not self.tools:
            raise OutOfValidRange("tools", 0, "at least one")
        if not 0.0 <= self.load_share <= 1.0:
            raise OutOfValidRange("load_share", self.load_share, "from 0 to 1")
        if not LEAST_SPEED <= self.speed_share <= MOST_SPEED:
            raise OutOfValidRange("speed_share", self.speed_share, f"from {LEAST_SPEED} to {MOST_SPEED}")
        for name in ("lap_multiple", "finish_multiple"):
            if not LEAST_MULTIPLE <= getattr(self, name) <= MOST_MULTIPLE:
                raise OutOfValidRange(name, getattr(self, name), f"from {LEAST_MULTIPLE:g} to {MOST_MULTIPLE:g}")


def tuned_route(order: Order, library: Library, question: Question, tuning: Tuning, *, seed: int) -> Route:
    """A route as it was set by hand, laid out and drawn.

    Parameters
    ----------
    order : Order
        As promised, or with the thickness as it is now.
    library : Library
        Rows to plan with.
    question : Question
        Where, with what gauge, and what is known.
    tuning : Tuning
        Tools, loads, speeds, margins.
    seed : int
        Of the imagined jobs; that of a search makes both comparable.

    Returns
    -------
    Route

    Raises
    ------
    BadInput
        A tool that is not among the possible ones.
    ImpossibleOrder
        The stock does not suffice for these margins.
    """
    rates = question.rates or library_rates(library)
    setting = setting_of(order, library, question)
    possible = [*possible_cuts(setting.order, library, question.workplaces, rates=rates), *question.etches]
    chain = _tuned_chain(setting.order, library, possible, tuning, rates)
    candidate = screened(setting, chain, lap_multiple=tuning.lap_multiple, finish_multiple=tuning.finish_multiple)
    if candidate is None:
        stock = setting.order.start_thickness - setting.order.target_thickness
        raise ImpossibleOrder(
            f"There are {um(stock)} of stock, less than these stages need at margins of {tuning.lap_multiple:g} and "
            f"{tuning.finish_multiple:g} on the damage. Take smaller margins or fewer stages."
        )
    return made_route(setting, candidate, question, labels=("by hand",), seed=seed)


def settable(tuning: Tuning) -> Tuning:
    """A tuning as a form can set it: load and speed in whole per cent, margins in hundredths.

    Parameters
    ----------
    tuning : Tuning
        Any.

    Returns
    -------
    Tuning

    Examples
    --------
    >>> settable(Tuning(tools=(("plate", "grain"),), load_share=1.0 / 3.0, lap_multiple=4.0 / 3.0)).lap_multiple
    1.33
    """
    return replace(
        tuning,
        load_share=float(f"{100.0 * tuning.load_share:.0f}") / 100.0,
        speed_share=float(f"{100.0 * tuning.speed_share:.0f}") / 100.0,
        lap_multiple=float(f"{tuning.lap_multiple:.2f}"),
        finish_multiple=float(f"{tuning.finish_multiple:.2f}"),
    )


def tuning_of(order: Order, library: Library, candidate: Candidate) -> Tuning:
    """The tuning by which a candidate is asked for again.

    Parameters
    ----------
    order : Order
        Material and outline.
    library : Library
        Usual loads.
    candidate : Candidate
        As found by a search.

    Returns
    -------
    Tuning
        Load and speed are those of the first cut that has them.
    """
    tools = tuple((cut.workplace.name, cut.abrasive.abrasive_id) for cut in candidate.chain)
    worked = [cut for cut in candidate.chain if cut.process != "etch"]
    load, speed = 0.5, 1.0
    if worked:
        low, *_, high = screened_loads(order, library, worked[0])
        load = (worked[0].pressure - low) / (high - low) if high > low else 0.5
        speed = worked[0].speed / worked[0].usual_speed
    return Tuning(
        tools=tools,
        load_share=min(1.0, max(0.0, load)),
        speed_share=speed,
        lap_multiple=candidate.lap_multiple,
        finish_multiple=candidate.finish_multiple,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _tuned_chain(order: Order, library: Library, possible: Sequence[Cut], tuning: Tuning, rates: RateSource) -> Chain:
    by_tool = {(cut.workplace.name, cut.abrasive.abrasive_id): cut for cut in possible}
    faults = [
        Fault(sentence=f"{abrasive!r} at {place!r} is not among the tools that suit this order.", field="tools")
        for place, abrasive in tuning.tools
        if (place, abrasive) not in by_tool
    ]
    if faults:
        raise BadInput(faults)
    chain = []
    for tool in tuning.tools:
        cut = by_tool[tool]
        if cut.process == "etch":
            chain.append(cut)
            continue
        low, *_, high = screened_loads(order, library, cut)
        pressure = low + tuning.load_share * (high - low)
        chain.append(changed_cut(order, cut, rates, pressure=pressure, speed_share=tuning.speed_share))
    return tuple(chain)
