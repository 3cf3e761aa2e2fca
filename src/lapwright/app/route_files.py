"""Use case without records: the routes that meet the order in a file, and what limits the best of them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from lapwright.model.order import Order
from lapwright.model.readings import Gauge

if TYPE_CHECKING:
    from lapwright.library import Library
    from lapwright.process.etching import Etch
    from lapwright.process.planning import Searched
    from lapwright.process.replanning import JobState
    from lapwright.process.route_limits import Remedy, Sensitivity
    from lapwright.process.route_making import Question


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteTerms:
    """What the routes of an order file are asked with. SI.

    `thickness` and `ttv` are those of a wafer in mid-job, `damage` what its last stage left and `abrasive` what that
    worked with; None for a wafer as it came.
    """

    gauge: Gauge | None = None
    library_file: Path | None = None
    seed: int = 1
    draws: int = 10_000
    objective: Literal["time", "cost"] = "time"
    target_chance: float = 0.90
    thickness: float | None = None
    ttv: float | None = None
    damage: float = 0.0
    damage_high: float | None = None
    abrasive: str | None = None
    etch: Etch | None = None


USUAL_TERMS = RouteTerms()


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteAnswer:
    """The order, its routes, what would raise the chance of the best one, and what its chance hangs on."""

    order: Order
    searched: Searched
    remedies: tuple[Remedy, ...]
    sensitivities: tuple[Sensitivity, ...]


def routes_of_file(path: Path, terms: RouteTerms = USUAL_TERMS) -> RouteAnswer:
    """The order in an order file, and the routes that meet it, best first; the same seed gives the same routes.

    Raises `FileFormatError` and `BadInput` for a bad file, `NotFound` for a material or abrasive the library does not
    hold, `ImpossibleOrder` with the nearest order that could be met.
    """
    import numpy as np

    from lapwright.formats.order_toml import read_order
    from lapwright.library import load
    from lapwright.process.planning import search_routes
    from lapwright.process.replanning import replanned
    from lapwright.process.route_limits import remedies, sensitivities

    order = read_order(path)
    library = load(terms.library_file)
    question = _question(order, library, terms)
    generator = np.random.default_rng(terms.seed)
    state = _state(order, library, terms)
    if state is None:
        found = search_routes(order, library, question, generator=generator)
    else:
        found = replanned(order, library, question, state, generator=generator)
    best = found.routes[0]
    return RouteAnswer(
        order=order,
        searched=found,
        remedies=remedies(best, found.setting, question, seed=found.seed),
        sensitivities=sensitivities(best, found.setting, question, seed=found.seed),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _question(order: Order, library: Library, terms: RouteTerms) -> Question:
    from lapwright.process.etching import etch_cut
    from lapwright.process.route_finish import finish_risks
    from lapwright.process.route_making import Question
    from lapwright.process.search import Goal
    from lapwright.process.workplaces import ASSUMED_GAUGE

    return Question(
        gauge=terms.gauge or ASSUMED_GAUGE,
        goal=Goal(objective=terms.objective, target_chance=terms.target_chance),
        risks=finish_risks(order, library),
        etches=() if terms.etch is None else (etch_cut(terms.etch),),
        draws=terms.draws,
    )


def _state(order: Order, library: Library, terms: RouteTerms) -> JobState | None:
    from math import log

    from lapwright.process.ledger import Depth
    from lapwright.process.replanning import JobState

    if terms.thickness is None:
        return None
    high = terms.damage if terms.damage_high is None else max(terms.damage_high, terms.damage)
    spread = log(high / terms.damage) / 1.959963984540054 if terms.damage > 0.0 else 0.0
    return JobState(
        thickness=terms.thickness,
        ttv=order.start_ttv if terms.ttv is None else terms.ttv,
        damage=Depth(median=terms.damage, log_deviation=spread),
        grain=None if terms.abrasive is None else library.abrasive(terms.abrasive).grain,
    )
