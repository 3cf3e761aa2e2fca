"""Use case: how far this lab's stops and wedges scatter by its own records, for planning; usual values until then."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from lapwright.app.kept_results import kept_until

if TYPE_CHECKING:
    from lapwright.model.wafer import Wedge
    from lapwright.process.spread_learning import LearnedSpread
    from lapwright.process.workplaces import Assumptions

NEWEST_STOPS = 60  # stops of each kind, and finished wafers, that are looked back on
NEWEST_WAFERS = 40
_WEDGES_REST_ON = frozenset({"verdict", "readingset", "gauge", "calibration", "order"})

_WORDS = {
    "watch_error": ("first stop of a lap by the jig's gauge", "stops"),
    "lap_stop_error": ("finishing stop of a lap", "stops"),
    "wedge_deviation": ("wedge left after tilt correction, each way", "components"),
}


def learned_assumptions(assumed: Assumptions) -> Assumptions:
    """The assumptions with what the lab's own stops and finished wafers say instead; as they are without any."""
    from lapwright.app import learning
    from lapwright.process.spread_learning import Errors, learned_spreads
    from lapwright.process.workplaces import own_assumptions

    told: dict[str, tuple[list[float], list[float]]] = {name: ([], []) for name in _WORDS}
    for stop in learning.learned()[0].stops:
        errors, doubts = told["lap_stop_error" if stop.is_finish else "watch_error"]
        errors.append(stop.error)
        doubts.append(stop.uncertainty)
    told["wedge_deviation"] = kept_until(_WEDGES_REST_ON, ("finished wedges",), _finished_wedges)
    if not any(errors for errors, _doubts in told.values()):
        return assumed
    kinds: dict[str, Errors] = {}
    for name, (errors, doubts) in told.items():
        newest = slice(None) if name == "wedge_deviation" else slice(-NEWEST_STOPS, None)
        assumption = getattr(assumed, name)
        kinds[name] = Errors(errors=errors[newest], uncertainties=doubts[newest], assumed=assumption)
    found = learned_spreads(kinds)
    sentences = tuple(_sentence(name, one) for name, one in found.items())
    return replace(own_assumptions(assumed, found), learned=sentences)


# ----------------------------------------------------------------------------------------------------------------------


def _finished_wedges() -> tuple[list[float], list[float]]:
    """Both components of the wedge of the wafers finished of late, by the sets their verdicts rest on, and doubts."""
    from lapwright.app import set_values
    from lapwright.records import drift_queries, story_queries

    verdicts = kept_until(frozenset({"verdict"}), ("latest verdicts",), drift_queries.latest_verdicts)
    judged = dict.fromkeys(one.set_id for one in verdicts if one.set_id is not None)
    errors: list[float] = []
    doubts: list[float] = []
    for taken in story_queries.sets_by_key(list(judged)[-NEWEST_WAFERS:]):
        if taken.subject != "wafer":
            continue
        result = set_values.result_of(taken)
        if result.wedge is None or result.wedge_uncertainty is None:
            continue
        errors.extend(_components(result.wedge))
        doubts.extend([result.wedge_uncertainty.value] * 2)
    return errors, doubts


def _components(wedge: Wedge) -> tuple[float, float]:
    if wedge.azimuth is None:
        return 0.0, 0.0
    return wedge.amount * math.cos(wedge.azimuth), wedge.amount * math.sin(wedge.azimuth)


def _sentence(name: str, found: LearnedSpread) -> str:
    what, of = _WORDS[name]
    beyond = "" if not found.far else f", {found.far} of them counted for less as out of the usual"
    return (
        f"Deviation of the {what}: {found.deviation * 1e6:.2f} µm, known to {100.0 * found.doubt:.0f} %,"
        f" from {found.results} own {of}{beyond} ({found.assumed * 1e6:.2f} µm assumed without)."
    )
