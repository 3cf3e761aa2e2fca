"""Numbers of gauges and charts worked out: a study, the limits of a chart, two gauges on one piece, a drift."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from django.urls import reverse
from django.utils.translation import gettext as _

from lapwright.app import calibration_due, drift, drift_series, gauge_pairs, gauge_studies
from lapwright.app.gauges import list_gauges
from lapwright.app.reading_budget import reading_budget
from lapwright.errors import NotFound
from lapwright.metrology.chart_setup import chart_setup
from lapwright.metrology.distributions import student_t_quantile
from lapwright.metrology.gauge_study import CrossedStudy
from lapwright.model.gauge_care import GaugePair, RecordedStudy, StudyPlan
from lapwright.web.gauge_forms import PieceForm
from lapwright.web.gauge_views import signal_word
from lapwright.web.sentences import said
from lapwright.web.surroundings import now
from lapwright.web.why.case import Case, Other, Table, bare, budget_table, figures, per_cent, plus_minus, put, um
from lapwright.web.why.place import Place, is_number, picked

DAY = 86400.0
YEAR = 365.25 * DAY


def study(place: Place) -> Case:
    """Repeatability, reproducibility and what they are made of, from the table of the analysis."""
    recorded, others = _study(place)
    found = gauge_studies.study_result(recorded)
    if not found.used_anova:
        raise NotFound(_("The cells hold unequal numbers of readings, so there is no table of mean squares to follow."))
    plan = recorded.plan
    p, o, r = len(plan.parts), len(plan.operators), plan.repeats
    rows = tuple(
        (
            str(said(row.source)),
            str(row.degrees_of_freedom),
            figures(row.sum_of_squares * 1e12, 5),
            figures(row.mean_square * 1e12, 5),
        )
        for row in found.used_anova
    )
    heads = (_("Source"), _("degrees of freedom"), _("sum of squares, µm²"), "M, µm²")
    interval = found.intervals.get("gauge")
    doubt = (
        ""
        if interval is None
        else _("σ_gauge from %(low)s to %(high)s (95 %%).")
        % {"low": um(math.sqrt(max(0.0, interval.low)), 4), "high": um(math.sqrt(interval.high), 4)}
    )
    return Case(
        of=f"{plan.study_id}, {plan.gauge_id}",
        result=um(found.gauge, 3),
        given=(
            put("p", _("pieces"), str(p)),
            put("o", _("persons"), str(o)),
            put("r", _("readings of each"), str(r), reverse("study", args=[plan.gauge_id, plan.study_id])),
        ),
        steps=_study_steps(plan, found),
        tables=(Table(title=str(said(found.method)), heads=heads, rows=rows), _study_readings(recorded)),
        doubt=doubt,
        others=others,
    )


def control_chart(place: Place) -> Case:
    """Centre and limits of one chart from its points."""
    kind: drift.DriftKind = "ewma" if place.asked.get("kind") == "ewma" else "individuals"
    if not place.name("gauge_id"):
        charts = drift.drift_charts(kind)
    else:
        charts = tuple(drift.chart_of(one, kind) for one in drift_series.gauge_series(place.name("gauge_id")))
    named = {f"{one.series.signal}|{one.series.place}": one for one in charts if one.centre is not None}
    chart = picked(place.of, named, _("No chart has points enough for limits yet."))
    _unit, scale = drift_series.UNITS[chart.series.signal]
    value = np.array([one.value for one in chart.series.points]) * scale
    setup = chart_setup(value, handling="set_aside")
    rows = tuple(
        (
            str(i + 1),
            f"{one.at:%Y-%m-%d %H:%M}",
            one.wafer_id or "–",
            figures(float(value[i]), 5),
            figures(float(chart.plotted[i]), 5),
            _("set aside") if i in setup.set_aside else "",
        )
        for i, one in enumerate(chart.series.points)
    )
    heads = (_("No."), _("Taken"), _("Wafer"), f"x, {chart.unit}", _("drawn"), "")
    steps = [
        f"x̄ = {figures(setup.centre, 6)}\u00a0{chart.unit}",
        f"σ = mean|xᵢ₊₁ − xᵢ|/{bare(1.128)} = {figures(setup.sigma, 5)}\u00a0{chart.unit}",
    ]
    if kind == "ewma":
        width = drift.REACH * setup.sigma * math.sqrt(drift.WEIGHT / (2.0 - drift.WEIGHT))
        weight = bare(drift.WEIGHT, 1)
        steps.append(
            f"x̄ ± {bare(drift.REACH, 2)}·σ·√({weight}/(2 − {weight})) = {figures(setup.centre - width, 5)} … "
            f"{figures(setup.centre + width, 5)}\u00a0{chart.unit}"
        )
    else:
        steps.append(
            f"x̄ ± 3σ = {figures(setup.centre - 3.0 * setup.sigma, 5)} … "
            f"{figures(setup.centre + 3.0 * setup.sigma, 5)}\u00a0{chart.unit}"
        )
    length = (
        ""
        if chart.run_length is None
        else _("A false signal once in %(n)s points on average.") % {"n": bare(chart.run_length, 0)}
    )
    return Case(
        of=f"{signal_word(chart.series.signal)}, {said(chart.series.place)}",
        result=f"{figures(chart.centre or 0.0, 4)}\u00a0{chart.unit}",
        given=(put("n", _("points"), str(value.size)),),
        steps=(*steps, *(str(said(one)) for one in chart.notes)),
        tables=(Table(title=_("The points"), heads=heads, rows=rows),),
        doubt=length,
        others=tuple(
            Other(name=f"{signal_word(one.series.signal)}, {said(one.series.place)}", of=name)
            for name, one in named.items()
            if one is not chart
        ),
    )


def gauge_pair(place: Place) -> Case:
    """Mean difference of two gauges and what their budgets allow."""
    if is_number(place.name("first")) and is_number(place.name("second")):
        pair = gauge_pairs.pair_of(place.name("gauge_id"), int(place.name("first")), int(place.name("second")))
        pairs: tuple[GaugePair, ...] = ()
    else:
        pairs = gauge_pairs.list_pairs(place.name("gauge_id"))
        none = _("No piece was read with this gauge and with another.")
        pair = picked(place.of, {_key(one): one for one in pairs}, none)
    found = gauge_pairs.compare_pair(pair)
    off = (found.first - found.second) * 1e6
    told = found.comparison
    n, s = off.size, told.deviation * 1e6
    t = student_t_quantile(0.975, n - 1)
    rows = tuple(
        (label, bare(float(a) * 1e6, 4), bare(float(b) * 1e6, 4), bare(float((a - b) * 1e6), 4))
        for label, a, b in zip(found.labels, found.first, found.second, strict=True)
    )
    half = t * s / math.sqrt(n)
    steps = [
        f"d̄ = {bare(float(off.sum()), 4)}/{n} = {um(told.difference, 4)},  s = {bare(s, 4)}\u00a0µm",
        f"d̄ ± t({bare(97.5, 1)}\u00a0%, {n - 1})·s/√n = {bare(told.interval[0] * 1e6, 3)} … {um(told.interval[1], 3)}",
        f"d̄ ± {bare(1.96, 2)}·s = {bare(told.agreement[0] * 1e6, 3)} … {um(told.agreement[1], 3)}",
    ]
    given = [put("n", _("common sites"), str(n))]
    if found.uncertainties is not None and found.allowed is not None:
        first, second = (one * 1e6 for one in found.uncertainties)
        given += [
            put("U₁", pair.gauge_ids[0], f"{bare(first, 4)}\u00a0µm"),
            put("U₂", pair.gauge_ids[1], f"{bare(second, 4)}\u00a0µm"),
        ]
        steps.append(
            _("allowed:") + f" √({bare(first, 4)}² + {bare(second, 4)}² + {bare(half, 4)}²) = {um(found.allowed, 3)}"
        )
    one, other = pair.gauge_ids
    heads = (_("Site"), f"{one}, µm", f"{other}, µm", "d, µm")
    return Case(
        of=_("%(a)s against %(b)s on %(piece)s") % {"a": one, "b": other, "piece": pair.piece},
        result=um(told.difference, 3),
        given=tuple(given),
        steps=tuple(steps),
        tables=(Table(title=_("Common sites"), heads=heads, rows=rows),),
        doubt=_("Half-width of the interval of the mean: ± %(u)s µm (95 %%).") % {"u": bare(half, 3)},
        others=tuple(Other(name=f"{one.gauge_ids[1]}, {one.piece}", of=_key(one)) for one in pairs if one is not pair),
    )


def calibration(place: Place) -> Case:
    """The drift of a gauge by its calibrations and check standards, and the risk at its due date."""
    gauge_id = place.name("gauge_id") or place.of
    limits = {one.gauge.gauge_id: one.gauge.limit for one in list_gauges(on=now().date())}
    known = list(limits)
    gauge_id = picked(gauge_id, {one: one for one in known}, _("No gauge is recorded yet."))
    found = calibration_due.drift_line(gauge_id)
    forecast = calibration_due.kept_forecast(gauge_id, on=now().date())
    line, limit = found.line, limits[gauge_id]
    first = min(found.along)
    rows = tuple(
        (bare((at - first) / DAY, 1), bare(off * 1e6, 4), _("calibration") if source == 0 else _("check standard"))
        for at, off, source in zip(found.along, found.deviation, found.source, strict=True)
    )
    steps = [
        f"b = {figures(line.slope * YEAR * 1e6)}\u00a0µm/a",
        f"u_b = {figures(line.slope_deviation * YEAR * 1e6)}\u00a0µm/a",
        f"s = {figures(line.residual * 1e6)}\u00a0µm,  ν = {line.degrees_of_freedom}",
        _("level of the calibrations on day %(day)s: %(level)s")
        % {"day": bare((line.middle - first) / DAY, 1), "level": um(line.level, 4)},
    ]
    if forecast.risk is not None:
        steps.append(_("chance to be found out of the limit when it is due: %(p)s") % {"p": per_cent(forecast.risk, 2)})
    return Case(
        of=gauge_id,
        result=str(said(forecast.sentence)),
        given=(
            put("L", _("accuracy limit"), um(limit, 3)),
            put("n₀", _("calibrations counted"), str(line.counted)),
        ),
        steps=tuple(steps),
        tables=(
            Table(
                title=_("Deviations as the gauge stands now, later adjustments put in"),
                heads=(_("day"), _("deviation, µm"), _("from")),
                rows=rows,
            ),
        ),
        doubt=_("Trust it about as far ahead as the history is long."),
        others=() if place.name("gauge_id") else tuple(Other(name=one, of=one) for one in known if one != gauge_id),
    )


def budget(place: Place) -> Case:
    """One reading of a certain piece, with what may be off."""
    gauge_id = place.name("gauge_id")
    form = PieceForm(place.asked)
    if not form.is_valid():
        raise NotFound(_("No piece is named; name one on the page of the gauge."))
    piece = form.piece()
    found = reading_budget(gauge_id, piece)
    return Case(
        of=gauge_id,
        result=f"± {um(found.combined.expanded_uncertainty, 3)}",
        given=(
            put("t", _("thickness"), um(piece.thickness, 1)),
            put("n", _("repeats"), str(piece.repeats)),
            put("", _("reach of the temperature"), f"{bare(piece.temperature_reach, 2)}\u00a0K"),
            put("", _("lift of its bow"), um(piece.bow_lift, 2)),
        ),
        steps=found.left_out,
        tables=budget_table(found.budget),
        doubt=plus_minus(found.combined),
    )


GAUGES: dict[str, Callable[[Place], Case]] = {
    "study": study,
    "control_chart": control_chart,
    "gauge_pair": gauge_pair,
    "calibration": calibration,
    "budget": budget,
}


# ----------------------------------------------------------------------------------------------------------------------


def _study_steps(plan: StudyPlan, found: CrossedStudy) -> tuple[str, ...]:
    """Components of a study from its mean squares, and what the whole is of the tolerance."""
    p, o, r = len(plan.parts), len(plan.operators), plan.repeats
    mean = {row.source: row.mean_square * 1e12 for row in found.used_anova}
    below = mean.get("interaction", mean["repeatability"])
    steps = [
        _("σ²_repeat") + f" = {figures(mean['repeatability'])}\u00a0µm²  ⇒  {um(found.repeatability, 4)}",
        (
            _("σ²_person") + f" = ({figures(mean['operator'])} − {figures(below)})/({p}·{r})"
            f" = {figures(found.components.operator * 1e12)}\u00a0µm²"
        ),
        (
            _("σ²_piece") + f" = ({figures(mean['part'])} − {figures(below)})/({o}·{r})"
            f" = {figures(found.components.part * 1e12)}\u00a0µm²  ⇒  {um(found.part, 4)}"
        ),
    ]
    if "interaction" in mean:
        steps.append(
            _("σ²_mixed") + f" = ({figures(mean['interaction'])} − {figures(mean['repeatability'])})/{r}"
            f" = {figures(found.components.interaction * 1e12)}\u00a0µm²"
        )
    steps.append(_("gauge: root of the sum, nought for what came out below it:") + f" {um(found.gauge, 4)}")
    if plan.tolerance:
        steps.append(
            _("share of the tolerance: 6·σ/T") + f" = 6·{bare(found.gauge * 1e6, 4)}/{bare(plan.tolerance * 1e6, 3)}"
            f" = {per_cent(6.0 * found.gauge / plan.tolerance, 1)}"
        )
        if found.levels_in_tolerance is not None:
            steps.append(_("levels told apart in it: 1.41·T/(6·σ)") + f" = {bare(found.levels_in_tolerance, 2)}")
    return tuple(steps)


def _key(pair: GaugePair) -> str:
    return f"{pair.set_ids[0]}-{pair.set_ids[1]}"


def _study(place: Place) -> tuple[RecordedStudy, tuple[Other, ...]]:
    if place.name("study_id"):
        return gauge_studies.show_study(place.name("study_id")), ()
    gauge_id = place.name("gauge_id")
    listed = [one for one in gauge_studies.list_studies(gauge_id or None) if one.state == "filed"]
    found = picked(place.of, {one.plan.study_id: one for one in listed}, _("No study is filed yet."))
    return found, tuple(Other(name=one.plan.study_id, of=one.plan.study_id) for one in listed if one is not found)


def _study_readings(recorded: RecordedStudy) -> Table:
    standing = recorded.standing
    read = [(line, standing[line.order]) for line in recorded.plan.sheet if line.order in standing]
    rows = tuple((str(line.order), line.operator, line.part, one.text, bare(one.value * 1e6, 4)) for line, one in read)
    heads = (_("No."), _("Who"), _("Part"), _("as typed"), "µm")
    return Table(title=_("The readings in the order taken"), heads=heads, rows=rows)
