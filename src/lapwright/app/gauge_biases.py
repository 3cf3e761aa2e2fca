"""Use case: what the last runs say of the gauge of a station, for the next preset."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from lapwright.app import after_run
from lapwright.errors import LapwrightError
from lapwright.process.gauge_bias import LearnedBias, ShareTold, learned_bias

NEWEST = 8  # runs looked back on; a foot wears, and what was long ago is no witness


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeBias:
    """What a gauge misses in process, the runs that say so, and a sentence on it."""

    learned: LearnedBias
    run_ids: tuple[int, ...]
    sentence: str


def gauge_bias(station_id: str, jig_id: str | None) -> GaugeBias | None:
    """What the gauge of a station (on a jig, if one is named) misses in process; None before any run tells of it.

    Only runs whose zero was taken on a conforming face count: from first touch the travel holds half the wedge as well.
    """
    from lapwright.records import run_queries

    return _gauge_bias(station_id, jig_id, run_queries.look_back_stamp())


# ----------------------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=64)
def _gauge_bias(station_id: str, jig_id: str | None, stamp: tuple[object, ...]) -> GaugeBias | None:
    """The same, kept while no run ends and no set is closed: looking back takes many readings."""
    from lapwright.records import run_queries

    del stamp
    told: dict[int, ShareTold] = {}
    for run in run_queries.ended_runs(station_id, newest=NEWEST):
        if run.preset_datum != "conforming" or jig_id not in (None, run.jig_id):
            continue
        try:
            looked = after_run.look_back(run.run_id)
        except LapwrightError:
            continue
        if looked is None or not looked.reconciled.removed > 0.0 or looked.reconciled.means != "gauge":
            continue
        done = looked.reconciled
        applied = 0.0 if looked.stream is None or looked.stream.feed is None else looked.stream.feed.foot_wear
        told[run.run_id] = ShareTold(
            share=1.0 - (1.0 - applied) * (done.removed + done.gauge_bias) / done.removed,
            uncertainty=done.gauge_bias_uncertainty / done.removed,
        )
    if not told:
        return None
    learned, runs = learned_bias(list(told.values())), tuple(sorted(told))
    return GaugeBias(learned=learned, run_ids=runs, sentence=_sentence(learned, runs))


def _sentence(learned: LearnedBias, runs: tuple[int, ...]) -> str:
    share = f"{100.0 * abs(learned.share):.1f} %"
    named = f"run {runs[0]}" if len(runs) == 1 else f"runs {', '.join(map(str, runs))}"
    if learned.finding == "too_little":
        return f"The gauge read {share} too little in {named}; the preset is smaller by that."
    if learned.finding == "too_much":
        return (
            f"The gauge read {share} too much in {named}. The preset is not raised for that: zero it warm and running,"
            " and look for what moves it."
        )
    if learned.finding == "none":
        return f"The gauge and the thickness agreed in {named}; nothing is corrected."
    return f"Only {named} could be looked back on; nothing is corrected before three agree."
