"""Result dictionaries of gauge studies, capability, charts and budgets. Values are in the unit of their column."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from lapwright.formats.json_line import warning_dict
from lapwright.metrology.capability import CapabilityIndices, CapabilityStudy
from lapwright.metrology.chart_setup import Autocorrelation, ChartSetup
from lapwright.metrology.component_intervals import ComponentInterval
from lapwright.metrology.control_charts import Chart
from lapwright.metrology.gauge_checks import BiasStudy, GaugeComparison, TrendStudy
from lapwright.metrology.gauge_study import AnovaRow, CrossedStudy, StudyComponents
from lapwright.metrology.monte_carlo import DrawnResult
from lapwright.metrology.nested_study import NestedStudy
from lapwright.metrology.propagation import SecondOrder
from lapwright.metrology.study_plan import PlannedReading, RepeatsAdvice
from lapwright.metrology.tolerance_intervals import share_between_ends, two_sided_tolerance_factor
from lapwright.metrology.uncertainty import Budget, CombinedUncertainty

#: What each signal of a chart says, in words.
RULE_WORDS = {
    "beyond_limit": "a point outside the limits",
    "two_of_three_far_out": "two of three points beyond two standard deviations on one side",
    "four_of_five_off_centre": "four of five points beyond one standard deviation on one side",
    "eight_on_one_side": "eight points in a row on one side of the centre line",
    "six_rising_or_falling": "six points in a row rising or falling",
    "sum_above": "the sum of deviations upwards has passed its limit",
    "sum_below": "the sum of deviations downwards has passed its limit",
}


class _Answered(Protocol):
    """What `chart_dict` needs of an answered chart question."""

    @property
    def chart(self) -> Chart: ...
    @property
    def companion(self) -> Chart | None: ...
    @property
    def rows(self) -> Sequence[int]: ...
    @property
    def arl_in_control(self) -> float | None: ...
    @property
    def arl_at_shift(self) -> float | None: ...
    @property
    def setup(self) -> ChartSetup | None: ...
    @property
    def autocorrelation(self) -> Autocorrelation | None: ...
    @property
    def notes(self) -> Sequence[str]: ...


def study_dict(study: CrossedStudy, *, unit: str | None, tolerance: float | None) -> dict[str, Any]:
    """A crossed study. `ndc` is cut to a whole number, as is usual; the number behind it stands beside."""
    total = study.total**2
    return {
        "method": study.method,
        "unit": unit,
        "tolerance": tolerance,
        "components": components_dict(study.components),
        "full_components": None if study.full_components is None else components_dict(study.full_components),
        "component_intervals": interval_dicts(study.intervals),
        "anova": anova_dicts(study.anova),
        "used_anova": anova_dicts(study.used_anova),
        "repeatability": study.repeatability,
        "reproducibility": study.reproducibility,
        "grr": study.gauge,
        "part_deviation": study.part,
        "total_deviation": study.total,
        "repeatability_percent_total_variation": _percent(study.repeatability**2, total),
        "reproducibility_percent_total_variation": _percent(study.reproducibility**2, total),
        "grr_percent_total_variation": 100.0 * study.share_of_total,
        "part_percent_total_variation": _percent(study.part**2, total),
        "grr_percent_tolerance": None if study.share_of_tolerance is None else 100.0 * study.share_of_tolerance,
        "ndc": math.floor(study.distinct_categories) if math.isfinite(study.distinct_categories) else None,
        "ndc_unrounded": study.distinct_categories,
        "levels_in_tolerance": study.levels_in_tolerance,
        "notes": list(study.notes),
    }


def components_dict(components: StudyComponents) -> dict[str, float]:
    """Variances of a crossed study."""
    return {
        "part": components.part,
        "operator": components.operator,
        "interaction": components.interaction,
        "repeatability": components.repeatability,
    }


def interval_dicts(intervals: Mapping[str, ComponentInterval]) -> dict[str, dict[str, Any]]:
    """Intervals of variances by name."""
    return {
        name: {"low": one.low, "high": one.high, "standard_error": one.standard_error, "method": one.method}
        for name, one in intervals.items()
    }


def anova_dicts(rows: Sequence[AnovaRow]) -> list[dict[str, Any]]:
    """Lines of an analysis of variance, the total last; an empty list without one."""
    lines: list[dict[str, Any]] = [
        {"source": row.source, "df": row.degrees_of_freedom, "ss": row.sum_of_squares, "ms": row.mean_square,
         "f": row.f, "p": row.p}
        for row in rows
    ]  # fmt: skip
    if lines:
        total = math.fsum(row.sum_of_squares for row in rows)
        degrees = sum(row.degrees_of_freedom for row in rows)
        lines.append({"source": "total", "df": degrees, "ss": total, "ms": None, "f": None, "p": None})
    return lines


def nested_dict(study: NestedStudy) -> dict[str, Any]:
    """A nested study; shares count variances below zero as nought."""
    total = math.fsum(max(0.0, variance) for variance in study.components.values())
    return {
        "method": study.method,
        "mean": study.mean,
        "components": dict(study.components),
        "percent_of_variance": {
            name: 100.0 * max(0.0, variance) / total if total > 0.0 else None
            for name, variance in study.components.items()
        },
        "component_intervals": interval_dicts(study.intervals),
        "anova": anova_dicts(study.anova),
        "notes": list(study.notes),
    }


def capability_dict(study: CapabilityStudy) -> dict[str, Any]:
    """Indices with intervals, and between which values 95 % of all pieces lie with 95 % probability."""
    shape = study.normality
    factor = two_sided_tolerance_factor(study.count, share=0.95, probability=0.95)
    return {
        "sentence": capability_sentence(study),
        "count": study.count,
        "mean": study.mean,
        "sigma": study.sigma,
        **_indices(study.indices),
        "cp_interval": study.cp_interval,
        "cpk_interval": study.cpk_interval,
        "probability": study.probability,
        "normality": None if shape is None else {
            "statistic": shape.statistic, "p": shape.p, "looks_normal": shape.looks_normal,
        },
        "percentile_cp": study.percentile[0] if study.percentile else None,
        "percentile_cpk": study.percentile[1] if study.percentile else None,
        "parts_alone": None if study.parts_alone is None else _indices(study.parts_alone),
        "tolerance_interval": [study.mean - factor * study.sigma, study.mean + factor * study.sigma],
        "share_between_ends": share_between_ends(study.count),
        "notes": list(study.notes),
    }  # fmt: skip


def capability_sentence(study: CapabilityStudy, *, counted_as: str = "values") -> str:
    """The index with its interval and how many values it rests on, in one sentence."""
    low, high = study.cpk_interval
    index, low_end, high_end = (f"{one:z.1f}" for one in (study.indices.cpk, low, high))
    told = f"Cpk {index} ({low_end} to {high_end}, {100.0 * study.probability:g} %), {study.count} {counted_as}."
    if study.indices.cpk >= 1.0 > low:
        return f"{told} It may as well lie below 1; more {counted_as} would tell."
    return told


def bias_dict(study: BiasStudy) -> dict[str, Any]:
    """Bias of repeats on a reference."""
    return {
        "bias": study.bias,
        "deviation": study.deviation,
        "standard_uncertainty": study.standard_uncertainty,
        "effective_df": study.degrees_of_freedom,
        "t": study.t,
        "p": study.p,
        "interval": study.interval,
        "is_seen": study.is_seen,
    }


def trend_dict(study: TrendStudy) -> dict[str, Any]:
    """A line through deviations."""
    return {
        "slope": study.slope,
        "slope_deviation": study.slope_deviation,
        "intercept": study.intercept,
        "residual": study.residual,
        "df": study.degrees_of_freedom,
        "t": study.t,
        "p": study.p,
        "interval": study.interval,
        "is_seen": study.is_seen,
    }


def comparison_dict(found: GaugeComparison) -> dict[str, Any]:
    """Two gauges on the same sites."""
    return {
        "difference": found.difference,
        "deviation": found.deviation,
        "interval": found.interval,
        "agreement": found.agreement,
        "ratio": found.ratio,
        "agree": found.agree,
        "reason": found.reason,
        "trend": None if found.trend is None else trend_dict(found.trend),
    }


def plan_dicts(sheet: Sequence[PlannedReading]) -> list[dict[str, Any]]:
    """Lines of a study sheet."""
    return [{"order": one.order, "repeat": one.repeat, "operator": one.operator, "part": one.part} for one in sheet]


def repeats_dict(advice: RepeatsAdvice) -> dict[str, Any]:
    """How many repeats, and what they leave."""
    return {
        "repeats": advice.repeats,
        "noise_in_ttv_um": advice.noise_in_ttv * 1e6,
        "percent_of_limit": 100.0 * advice.share_of_limit,
        "with_fewer_um": None if advice.with_fewer is None else advice.with_fewer * 1e6,
        "sentence": advice.sentence,
    }


def chart_dict(answer: _Answered) -> dict[str, Any]:
    """A chart with its signals and run length; the lower sums of a CUSUM stand in `companion`."""
    chart, other = answer.chart, answer.companion
    is_sums = chart.kind == "cusum upper"
    signals = _signals(chart, answer.rows, rename="sum_above" if is_sums else None)
    if is_sums and other is not None:
        signals += _signals(other, answer.rows, rename="sum_below")
        signals.sort(key=lambda signal: (signal["index"], signal["rule"]))
    return {
        **_plain_chart(chart),
        "limits_by_point": _limits_by_point(chart),
        "sigma": chart.sigma,
        "signals": signals,
        "arl_in_control": answer.arl_in_control,
        "arl_at_shift": answer.arl_at_shift,
        "companion": None if other is None else {**_plain_chart(other), "signals": _companion_signals(other)},
        "setup": None if answer.setup is None else _setup_dict(answer.setup),
        "autocorrelation": None if answer.autocorrelation is None else {
            "lag": answer.autocorrelation.lag, "coefficient": answer.autocorrelation.coefficient,
            "bound": answer.autocorrelation.bound,
        },
        "notes": [*answer.notes, *chart.notes],
    }  # fmt: skip


def chart_warnings(answer: _Answered) -> list[dict[str, Any]]:
    """What speaks against the limits and run lengths of a chart."""
    linked = answer.autocorrelation
    return [warning_dict("chart.autocorrelated", linked.warning)] if linked and linked.warning else []


def worked_budget_dict(
    budget: Budget, combined: CombinedUncertainty, *, units: Sequence[str], unit: str, title: str,
    shares: Sequence[float],
) -> dict[str, Any]:  # fmt: skip
    """A budget to first order: result, and a line per contribution with its share of the variance."""
    return {
        "title": title,
        "unit": unit,
        "value": combined.value,
        "standard_uncertainty": combined.standard_uncertainty,
        "effective_df": combined.degrees_of_freedom,
        "coverage_factor": combined.coverage_factor,
        "expanded_uncertainty": combined.expanded_uncertainty,
        "probability": combined.probability,
        "contributions": [
            {
                "name": line.name,
                "value": line.value,
                "unit": of,
                "distribution": line.distribution,
                "quoted": line.quoted,
                "divisor": line.divisor,
                "standard_uncertainty": line.standard_uncertainty,
                "sensitivity": line.sensitivity,
                "contribution": line.effect,
                "percent_of_variance": 100.0 * share,
                "degrees_of_freedom": line.degrees_of_freedom,
            }
            for line, of, share in zip(budget.contributions, units, shares, strict=True)
        ],
    }


def second_order_dict(found: SecondOrder | None) -> dict[str, Any] | None:
    """The uncertainty with second-order terms, and each term that is not nought."""
    if found is None:
        return None
    terms = [{"between": [one, other], "contribution": size} for one, other, size in found.terms]
    return {"standard_uncertainty": found.standard_uncertainty, "terms": terms}


def drawn_dict(drawn: DrawnResult, *, seed: int, first_order_enough: bool) -> dict[str, Any]:
    """A result by Monte Carlo."""
    return {
        "mean": drawn.mean,
        "standard_uncertainty": drawn.standard_uncertainty,
        "symmetric": drawn.symmetric,
        "shortest": drawn.shortest,
        "probability": drawn.probability,
        "trials": drawn.trials,
        "seed": seed,
        "tolerance": drawn.tolerance,
        "settled": drawn.settled,
        "first_order_enough": first_order_enough,
    }


# ----------------------------------------------------------------------------------------------------------------------


def _percent(part: float, total: float) -> float | None:
    """A standard deviation as a percentage of the whole; these do not add to 100."""
    return 100.0 * math.sqrt(part / total) if total > 0.0 else None


def _indices(indices: CapabilityIndices) -> dict[str, Any]:
    return {
        "cp": indices.cp,
        "cpu": indices.cpu,
        "cpl": indices.cpl,
        "cpk": indices.cpk,
        "cpm": indices.cpm,
        "outside_ppm": indices.outside * 1e6,
    }


def _plain_chart(chart: Chart) -> dict[str, Any]:
    return {"kind": chart.kind, "points": chart.points.tolist(), "centre": chart.centre, "limits": _limits(chart)}


def _limits(chart: Chart) -> dict[str, float | None]:
    """Limits at the last point."""
    return {
        "lower": None if chart.lower is None else float(chart.lower[-1]),
        "upper": None if chart.upper is None else float(chart.upper[-1]),
    }


def _limits_by_point(chart: Chart) -> list[list[float | None]] | None:
    """Limits at every point where they differ, else None."""
    sides = [side for side in (chart.lower, chart.upper) if side is not None]
    if all(side.min() == side.max() for side in sides):
        return None
    lower = [None] * chart.points.size if chart.lower is None else chart.lower.tolist()
    upper = [None] * chart.points.size if chart.upper is None else chart.upper.tolist()
    return [list(pair) for pair in zip(lower, upper, strict=True)]


def _signals(chart: Chart, rows: Sequence[int], *, rename: str | None) -> list[dict[str, Any]]:
    return [
        {
            "index": signal.index,
            "rule": rename or signal.rule,
            "row": rows[signal.index],
            "value": float(chart.points[signal.index]),
            "meaning": RULE_WORDS[rename or signal.rule],
        }
        for signal in chart.signals
    ]


def _companion_signals(chart: Chart) -> list[dict[str, Any]]:
    return [{"index": signal.index, "rule": signal.rule} for signal in chart.signals]


def _setup_dict(setup: ChartSetup) -> dict[str, Any]:
    return {
        "centre": setup.centre,
        "sigma": setup.sigma,
        "handling": setup.handling,
        "set_aside": list(setup.set_aside),
        "is_settled": setup.is_settled,
        "method": setup.method,
    }
