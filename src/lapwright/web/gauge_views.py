"""What the pages of gauges show: a gauge's worth in words, its drawings, its zeros and checks as charts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from lapwright.app import calibration_due, drift, drift_series, gauge_care, gauge_studies, gauges
from lapwright.app.kept_results import Itself
from lapwright.errors import LapwrightError
from lapwright.metrology.gauge_study import CrossedStudy
from lapwright.metrology.ready_budgets import thickness_budget
from lapwright.metrology.uncertainty import combined_uncertainty
from lapwright.model.gauge_care import Fitness, RecordedStudy, ZeroRead
from lapwright.model.shelf import RecordedGauge
from lapwright.reports.drawing.budget import BudgetBar, BudgetWords, bars_of_budget
from lapwright.reports.drawing.signal_chart import ChartEvent, SignalChart
from lapwright.web.lettering import budget_bars, signal_chart, study_chart
from lapwright.web.sentences import said
from lapwright.web.surroundings import now
from lapwright.web.words import item_name, material_name

MOST_DRAWN = 500  # charts whose drawing is kept


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeLine:
    """One gauge in the list."""

    recorded: RecordedGauge
    fitness: Fitness
    study: RecordedStudy | None
    words: tuple[str, ...]
    zeros: int
    moved: float | None
    forecast: calibration_due.DueForecast


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftFigure:
    """One chart with its drawing and its events by letter."""

    chart: drift.DriftChart
    place: str
    svg: str
    events: tuple[ChartEvent, ...]


def gauge_line(recorded: RecordedGauge, *, tolerance: float | None) -> GaugeLine:
    """A gauge as it stands today, against a tolerance when one is named."""
    gauge_id, today = recorded.gauge.gauge_id, now().date()
    return _line(
        recorded,
        tolerance,
        gauge_studies.list_studies(gauge_id),
        zeros=gauge_care.zero_history(gauge_id),
        fitness=gauge_care.fitness(gauge_id, on=today),
        forecast=calibration_due.kept_forecast(gauge_id, on=today),
    )


def gauge_lines(*, tolerance: float | None) -> list[GaugeLine]:
    """All gauges."""
    today = now().date()
    zeros, fitness = gauge_care.zeros_of_all(), gauge_care.fitness_of_all(on=today)
    forecasts = calibration_due.due_forecasts(on=today)
    studies: dict[str, list[RecordedStudy]] = defaultdict(list)
    for study in gauge_studies.list_studies():
        studies[study.plan.gauge_id].append(study)
    return [
        _line(one, tolerance, studies[name], zeros=zeros[name], fitness=fitness[name], forecast=forecasts[name])
        for one in gauges.list_gauges(on=today)
        for name in [one.gauge.gauge_id]
    ]


def study_words(study: RecordedStudy, tolerance: float | None) -> tuple[str, ...]:
    """What a study says in plain words; one sentence when it says nothing yet."""
    against = study.plan.tolerance if tolerance is None else tolerance
    try:
        return gauge_studies.study_words(gauge_studies.study_result(study, tolerance=against), tolerance=against)
    except LapwrightError as error:
        return (error.sentence,)


def study_drawings(study: RecordedStudy, found: CrossedStudy) -> tuple[str, str]:
    """The readings by part and operator, and the components as bars."""
    value, part, operator = gauge_studies.study_arrays(study)
    readings = study_chart(
        value * 1e6, part, operator, names=(study.plan.parts, study.plan.operators), unit="µm",
        title=_("Readings of study %(study)s") % {"study": study.plan.study_id},
    )  # fmt: skip
    gauge = max(found.gauge, 1e-12)
    named = (
        (_("reading again"), found.repeatability),
        (_("who reads"), max(found.components.operator, 0.0) ** 0.5),
        (_("who reads which part"), max(found.components.interaction, 0.0) ** 0.5),
    )
    bars = [BudgetBar(name=name, size=size * 1e6, share=(size / gauge) ** 2) for name, size in named]
    drawn = budget_bars(
        bars, title=_("Where the scatter comes from"), unit="µm", combined=found.gauge * 1e6,
        words=BudgetWords(combined=_("standard deviation of one reading"), share=_("of the variance")),
    )  # fmt: skip
    return readings, drawn


def budget_drawing(recorded: RecordedGauge) -> str | None:
    """The budget of one thickness reading with this gauge; None while its repeatability is not known."""
    try:
        budget = thickness_budget(recorded.gauge)
    except LapwrightError:
        return None
    combined = combined_uncertainty(budget, value=0.0)
    return budget_bars(
        bars_of_budget(budget, per_unit=1e6), title=_("One reading of a thickness"), unit="µm",
        combined=combined.standard_uncertainty * 1e6,
    )  # fmt: skip


def gauge_figures(gauge_id: str) -> list[DriftFigure]:
    """The zero and the check standards of one gauge as charts."""
    return [drift_figure(drift.chart_of(one)) for one in drift_series.gauge_series(gauge_id) if len(one.points) >= 2]


def drift_figure(chart: drift.DriftChart) -> DriftFigure:
    """A chart drawn in the language of the page, its events lettered in the order of time; kept with the chart."""
    return _drawn_chart(Itself(chart), get_language() or "")


def place_word(place: str) -> str:
    """Where a signal comes from, with materials and tools by their names: "P1: colloidal silica, hard pad"."""
    station, colon, tools = place.partition(": ")
    if colon:
        return f"{station}: " + ", ".join(item_name(one) for one in tools.split(", "))
    finished, _space, material = place.partition(" ")
    if finished == "finished":
        return _("finished, %(material)s") % {"material": material_name(material)}
    gauge, found, standard = place.partition(" on ")
    return _("%(gauge)s on %(standard)s") % {"gauge": gauge, "standard": standard} if found else item_name(place)


def signal_word(signal: str) -> str:
    """The name of a signal."""
    words = {
        "rate": _("Rate"),
        "stop_error": _("Removed beyond the preset"),
        "bond_wedge": _("Wedge after bonding"),
        "ttv": _("TTV"),
        "thickness_error": _("Thickness off target"),
        "flatness": _("Flatness"),
        "roughness": _("Roughness"),
        "zero": _("Zero moved during a set"),
        "check": _("Check standard, off its value"),
        "plate_dome": _("Plate, domed above zero"),
    }
    return words.get(signal, signal)


# ----------------------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=MOST_DRAWN)
def _drawn_chart(kept: Itself, _language: str) -> DriftFigure:
    chart: drift.DriftChart = kept.held
    events = _lettered(chart)
    values = None
    if chart.kind == "ewma" and chart.centre is not None:
        _unit, per_unit = drift_series.UNITS[chart.series.signal]
        values = np.array([point.value for point in chart.series.points]) * per_unit
    drawn = SignalChart(
        points=chart.plotted,
        values=values,
        centre=chart.centre,
        lower=chart.lower,
        upper=chart.upper,
        signalled=frozenset(index for one in chart.signals for index in one.points),
        events=events,
    )
    place = place_word(chart.series.place)
    title = f"{signal_word(chart.series.signal)}, {place}"
    return DriftFigure(chart=chart, place=place, svg=signal_chart(drawn, title=title, unit=chart.unit), events=events)


def _line(
    recorded: RecordedGauge,
    tolerance: float | None,
    studies: Sequence[RecordedStudy],
    *,
    zeros: Sequence[ZeroRead],
    fitness: Fitness,
    forecast: calibration_due.DueForecast,
) -> GaugeLine:
    filed = [one for one in studies if one.state == "filed"]
    moved = [one.after - one.before for one in zeros if one.before is not None and one.after is not None]
    words: tuple[str, ...] = ()
    if filed:
        words = study_words(filed[0], tolerance)
    return GaugeLine(
        recorded=recorded,
        fitness=fitness,
        study=filed[0] if filed else None,
        words=words,
        zeros=len(zeros),
        moved=moved[-1] if moved else None,
        forecast=forecast,
    )


def _lettered(chart: drift.DriftChart) -> tuple[ChartEvent, ...]:
    """Events that lie among the points shown; those before the same point share a letter."""
    points = chart.series.points
    before: dict[int, list[str]] = {}
    for event in chart.series.events:
        place = sum(point.at < event.at for point in points)
        if 0 < place < len(points):
            before.setdefault(place, []).append(event.what)
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    return tuple(
        ChartEvent(before_point=place, letter=letters[i % 26], words=", ".join(str(said(one)) for one in what))
        for i, (place, what) in enumerate(sorted(before.items()))
    )
