"""Use case: what is changing? Series from the records as control charts, each signal in words with likely causes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.app.drift_series import UNITS, DriftPoint, DriftSeries, collect_series
from lapwright.app.kept_results import TALK, Itself, kept_until_write
from lapwright.app.plate_series import plate_series

if TYPE_CHECKING:
    from lapwright.library.drift_causes import DriftCause
    from lapwright.metrology.chart_setup import ChartSetup
    from lapwright.metrology.control_charts import Chart
    from lapwright.metrology.run_rules import Rule

DriftKind = Literal["individuals", "ewma"]
Array = NDArray[np.float64]
RULES: tuple[Rule, ...] = ("beyond_limit", "eight_on_one_side")
WEIGHT, REACH = 0.2, 2.86  # EWMA with about the run length of a plain chart at 3 standard deviations; see the ARL shown
#: Sizes that have no sign; a limit at or below zero could never be crossed and is not drawn.
NEVER_BELOW_ZERO = ("rate", "bond_wedge", "ttv", "flatness", "roughness")
LEAST_POINTS = 5  # for limits at all (common practice, no source)
SETTLED_POINTS = 20  # from here on limits hardly move (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftSignal:
    """A pattern that the chart detects: at which points, in words, and what usually lies behind it."""

    rule: str
    points: tuple[int, ...]
    direction: Literal["up", "down"]
    sentence: str
    causes: tuple[DriftCause, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftChart:
    """One series as a chart, in the unit shown. `centre`, `lower`, `upper` are None while there are too few points.

    `plotted` are the values or their weighted averages; `run_length` is the average number of points to a false
    signal; `notes` say what the limits rest on and what speaks against them.
    """

    series: DriftSeries
    kind: DriftKind
    unit: str
    plotted: Array
    centre: float | None
    lower: float | None
    upper: float | None
    run_length: float | None
    signals: tuple[DriftSignal, ...]
    notes: tuple[str, ...]


def drift_charts(kind: DriftKind = "individuals", *, last: int = 60) -> tuple[DriftChart, ...]:
    """All series as charts of their last points; those with signals first, the latest signal in front."""

    def made() -> tuple[DriftChart, ...]:
        followed = (*collect_series(), *plate_series())
        return tuple(sorted((chart_of(one, kind, last=last) for one in followed), key=_urgency))

    return kept_until_write(("drift", kind, last), made, besides=TALK)


def chart_of(series: DriftSeries, kind: DriftKind = "individuals", *, last: int = 60) -> DriftChart:
    """One series as a chart of its last points."""
    return _chart_of_last(Itself(series), kind, last)


# ----------------------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=1000)  # a series that was not collected anew is the same object
def _chart_of_last(series: Itself, kind: DriftKind, last: int) -> DriftChart:
    held: DriftSeries = series.held
    return _chart_of(replace(held, points=held.points[-last:]), kind)


@lru_cache(maxsize=1000)  # most of the series are as they were when Drift is drawn anew
def _chart_of(kept: DriftSeries, kind: DriftKind) -> DriftChart:
    from lapwright.metrology.chart_setup import autocorrelation, chart_setup

    unit, per_unit = UNITS[kept.signal]
    points = kept.points
    value = np.array([point.value for point in points]) * per_unit
    setup = chart_setup(value, handling="set_aside") if value.size >= LEAST_POINTS else None
    if setup is None or setup.sigma <= 0.0:
        return _without_limits(kept, kind, value)
    stepped = _is_coarse(value, setup.sigma)
    chart, run_length = _charted(value, setup, kind, RULES[:1] if stepped else RULES)
    notes = [*_setup_notes(setup, value.size, points)]
    if stepped:
        notes.append("The values come in steps as coarse as their scatter; runs on one side are not looked for.")
    hangs = autocorrelation(value).warning
    if hangs is not None:
        notes.append(hangs)
    lower, upper = (None if end is None else float(end[-1]) for end in (chart.lower, chart.upper))
    if lower is not None and lower <= 0.0 and kept.signal in NEVER_BELOW_ZERO:
        lower = None
    plotted = chart.points[1:] if kind == "ewma" else chart.points
    return DriftChart(
        series=kept,
        kind=kind,
        unit=unit,
        plotted=plotted,
        centre=chart.centre,
        lower=lower,
        upper=upper,
        run_length=run_length,
        signals=_signals(kept, chart, plotted, kind),
        notes=tuple(notes),
    )


def _is_coarse(value: Array, sigma: float) -> bool:
    """Whether the values come in steps that are not fine against their scatter (half of it: our own choice)."""
    steps = np.diff(np.unique(np.round(value, 9)))
    return bool(steps.size) and float(steps.min()) > 0.5 * sigma


def _charted(value: Array, setup: ChartSetup, kind: DriftKind, rules: tuple[Rule, ...]) -> tuple[Chart, float | None]:
    from lapwright.metrology.control_charts import ewma_chart, individuals_chart

    if kind == "ewma":
        chart = ewma_chart(value, weight=WEIGHT, target=setup.centre, sigma=setup.sigma, limit=REACH)
    else:
        chart = individuals_chart(value, centre=setup.centre, sigma=setup.sigma, rules=rules)
    return chart, _run_length(kind, rules)


@lru_cache(maxsize=8)
def _run_length(kind: DriftKind, rules: tuple[Rule, ...]) -> float | None:
    """The same for every series, whatever its values."""
    from lapwright.metrology.run_length import ewma_run_length
    from lapwright.metrology.run_rules import rules_run_length

    return ewma_run_length(WEIGHT, REACH) if kind == "ewma" else rules_run_length(rules)


def _without_limits(series: DriftSeries, kind: DriftKind, value: Array) -> DriftChart:
    reason = (
        f"{value.size} points; limits are drawn from {LEAST_POINTS} on."
        if value.size < LEAST_POINTS
        else "All points are alike; there is no scatter to draw limits from."
    )
    return DriftChart(
        series=series,
        kind=kind,
        unit=UNITS[series.signal][0],
        plotted=value,
        centre=None,
        lower=None,
        upper=None,
        run_length=None,
        signals=(),
        notes=(reason,),
    )


def _setup_notes(setup: ChartSetup, count: int, points: tuple[DriftPoint, ...]) -> list[str]:
    notes = [f"Centre and limits from these {count} points: {setup.method}."]
    if count < SETTLED_POINTS:
        notes.append(f"With fewer than {SETTLED_POINTS} points the limits still move.")
    if setup.set_aside:
        named = ", ".join(_named(i, points[i]) for i in setup.set_aside)
        notes.append(f"Set aside for the limits, and shown: {named}.")
    if not setup.is_settled:
        notes.append("More than a tenth had to be set aside: the process is not settled, the limits are a first guess.")
    return notes


def _signals(series: DriftSeries, chart: Chart, plotted: Array, kind: DriftKind) -> tuple[DriftSignal, ...]:
    """Signals in words; neighbours of one rule on one side are one signal."""
    from lapwright.library.drift_causes import likely_causes

    offset = 1 if kind == "ewma" else 0
    runs: list[tuple[str, list[int]]] = []
    for one in sorted(chart.signals, key=lambda found: (found.rule, found.index)):
        index = one.index - offset
        same = runs and runs[-1][0] == one.rule and runs[-1][1][-1] == index - 1
        if same and (plotted[index] > chart.centre) == (plotted[index - 1] > chart.centre):
            runs[-1][1].append(index)
        else:
            runs.append((one.rule, [index]))
    told = []
    for rule, indices in runs:
        direction: Literal["up", "down"] = "up" if plotted[indices[-1]] > chart.centre else "down"
        pattern: Literal["jump", "shift"] = "jump" if rule == "beyond_limit" and kind == "individuals" else "shift"
        told.append(
            DriftSignal(
                rule=rule,
                points=tuple(indices),
                direction=direction,
                sentence=_sentence(rule, indices, direction, kind, series.points),
                causes=likely_causes(series.signal, pattern=pattern, direction=direction),
            )
        )
    return tuple(sorted(told, key=lambda one: one.points[-1], reverse=True))


def _sentence(rule: str, indices: list[int], direction: str, kind: DriftKind, points: tuple[DriftPoint, ...]) -> str:
    side = "above" if direction == "up" else "below"
    first, last = indices[0], indices[-1]
    if rule == "eight_on_one_side":
        return f"Points {first - 6} to {last + 1} all lie {side} the centre: the level has moved."
    which = _named(first, points[first]) if first == last else f"points {first + 1} to {last + 1}"
    if kind == "ewma":
        return f"The weighted average at {which} lies {side} its limit: the level is drifting."
    verb = "lies" if first == last else "lie"
    return f"{which[0].upper()}{which[1:]} {verb} {side} the limit."


def _named(index: int, point: DriftPoint) -> str:
    about = f" (wafer {point.wafer_id})" if point.wafer_id else ""
    return f"point {index + 1}{about}"


def _urgency(chart: DriftChart) -> tuple[float, str, str]:
    """The latest signal first; charts without one last, by name."""
    latest = max((chart.series.points[one.points[-1]].at.timestamp() for one in chart.signals), default=-math.inf)
    return -latest, chart.series.signal, chart.series.place
