"""Use case: a control chart of a column of a file, with the run length that its settings give."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault
from lapwright.formats.table_csv import Columns, codes_of, read_columns
from lapwright.metrology import control_charts as charts
from lapwright.metrology.chart_setup import Autocorrelation, ChartSetup, Handling, autocorrelation, chart_setup
from lapwright.metrology.multivariate_charts import Phase, joint_individuals_chart, joint_subgroup_chart
from lapwright.metrology.run_length import (
    count_run_length,
    ewma_run_length,
    share_run_length,
    two_sided_cusum_run_length,
)
from lapwright.metrology.run_rules import Rule, rules_run_length

ChartKind = Literal["individuals", "mean", "ewma", "cusum", "count", "share", "joint"]
KINDS: tuple[ChartKind, ...] = get_args(ChartKind)
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartQuestion:
    """Which chart of which columns; numbers in the unit of the column, None where the data are to say."""

    kind: ChartKind
    values: tuple[str, ...]
    subgroup: str | None = None
    by: Literal["range", "deviation"] = "range"
    target: float | None = None
    sigma: float | None = None
    weight: float = 0.2
    limit: float = 3.0
    steady: bool = True
    reference: float = 0.5
    decision: float = 5.0
    headstart: float = 0.0
    rules: tuple[Rule, ...] = ("beyond_limit",)
    setup: Handling = "keep"
    size: str | None = None
    sample_size: float | None = None
    fractions: bool = False
    phase: Phase = "first"
    false_alarm: float = 0.0027
    shift: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartAnswer:
    """A chart, the one that belongs beside it, the run length of its settings, and what speaks against it.

    `rows` are the rows of the file behind each point (0 for the start of an EWMA, the first of a subgroup).
    """

    chart: charts.Chart
    companion: charts.Chart | None
    rows: tuple[int, ...]
    arl_in_control: float | None
    arl_at_shift: float | None
    setup: ChartSetup | None
    autocorrelation: Autocorrelation | None
    notes: tuple[str, ...]


def chart_of_file(path: Path, question: ChartQuestion) -> ChartAnswer:
    """The chart that a question asks for.

    Raises `FileFormatError`, `BadInput` with every fault, and `OutOfValidRange` for settings out of range.
    """
    _check(question)
    sizes = [question.size] if question.size else []
    groups = [question.subgroup] if question.subgroup else []
    table = read_columns(path, numbers=(*question.values, *sizes), names=groups)
    answer = _MAKERS[question.kind](table, question)
    series = _series(answer.chart, table, question)
    linked = autocorrelation(series) if series.size >= 10 and np.ptp(series) > 0.0 else None
    return replace(answer, autocorrelation=linked)


# ----------------------------------------------------------------------------------------------------------------------


def _check(question: ChartQuestion) -> None:
    """What the kind of chart needs and what it cannot use, all at once."""
    kind, faults = question.kind, []
    if kind != "joint" and len(question.values) != 1:
        faults.append(("--value", f"A chart of kind {kind!r} takes one column; {len(question.values)} are named."))
    if kind == "joint" and len(question.values) < 2:
        faults.append(("--value", "A joint chart takes two columns or more, with commas between."))
    if kind == "mean" and not question.subgroup:
        faults.append(("--subgroup", "A chart of means needs the column that says which values belong together."))
    if question.subgroup and kind not in ("mean", "joint"):
        faults.append(("--subgroup", f"A chart of kind {kind!r} has no subgroups."))
    if kind == "share" and (question.size is None) == (question.sample_size is None):
        faults.append(("--size", "A chart of shares needs the size of its samples: --size COLUMN or --sample-size N."))
    if faults:
        raise BadInput([Fault(sentence=text, field=field, code="chart.question") for field, text in faults],
                       subject="The question")  # fmt: skip


def _settled(value: Array, question: ChartQuestion) -> tuple[float, float, ChartSetup | None, tuple[str, ...]]:
    """Centre and standard deviation, given or from the data."""
    if question.target is not None and question.sigma is not None:
        return question.target, question.sigma, None, ()
    found = chart_setup(value, handling=question.setup)
    missing = [name for name, given in (("centre", question.target), ("sigma", question.sigma)) if given is None]
    notes = [f"The {' and the '.join(missing)} come from the values charted ({found.method})."]
    if not found.is_settled:
        notes.append("More than a tenth of the points had to be set aside: the process is not settled.")
    if question.sigma is None and not found.sigma > 0.0:
        notes.append("All values are alike: there is no scatter to take limits from. Give --sigma, or finer values.")
    centre = found.centre if question.target is None else question.target
    return centre, found.sigma if question.sigma is None else question.sigma, found, tuple(notes)


def _individuals(table: Columns, question: ChartQuestion) -> ChartAnswer:
    value = table.numbers[question.values[0]]
    centre, sigma, setup, notes = _settled(value, question)
    chart = charts.individuals_chart(value, centre=centre, sigma=sigma or None, rules=question.rules)
    return ChartAnswer(
        chart=chart,
        companion=charts.moving_range_chart(value),
        rows=tuple(table.rows.tolist()),
        setup=setup,
        autocorrelation=None,
        notes=(*notes, *_rule_notes(question)),
        **_rule_lengths(question),
    )


def _mean(table: Columns, question: ChartQuestion) -> ChartAnswer:
    groups, rows = _subgroups(table, question)
    chart, spreads = charts.mean_chart(groups[:, :, 0], by=question.by, rules=question.rules)
    spread = "ranges" if question.by == "range" else "standard deviations"
    notes = (f"Limits come from the {spread} of the subgroups.", *_rule_notes(question))
    return ChartAnswer(chart=chart, companion=spreads, rows=rows, setup=None, autocorrelation=None, notes=notes,
                       **_rule_lengths(question))  # fmt: skip


def _ewma(table: Columns, question: ChartQuestion) -> ChartAnswer:
    value = table.numbers[question.values[0]]
    centre, sigma, setup, notes = _settled(value, question)
    chart = charts.ewma_chart(
        value, weight=question.weight, target=centre, sigma=sigma, limit=question.limit, steady=question.steady
    )
    if not question.steady:
        notes = (*notes, "The run length is that of steady limits.")
    return ChartAnswer(
        chart=chart,
        companion=None,
        rows=(0, *table.rows.tolist()),
        arl_in_control=ewma_run_length(question.weight, question.limit),
        arl_at_shift=_at_shift(question, lambda shift: ewma_run_length(question.weight, question.limit, shift=shift)),
        setup=setup,
        autocorrelation=None,
        notes=notes,
    )


def _cusum(table: Columns, question: ChartQuestion) -> ChartAnswer:
    value = table.numbers[question.values[0]]
    centre, sigma, setup, notes = _settled(value, question)
    settings = {"reference": question.reference, "decision": question.decision, "headstart": question.headstart}
    upper, lower = charts.cusum_chart(value, target=centre, sigma=sigma, **settings)
    return ChartAnswer(
        chart=upper,
        companion=lower,
        rows=tuple(table.rows.tolist()),
        arl_in_control=two_sided_cusum_run_length(**settings),
        arl_at_shift=_at_shift(question, lambda shift: two_sided_cusum_run_length(shift=shift, **settings)),
        setup=setup,
        autocorrelation=None,
        notes=notes,
    )


def _count(table: Columns, question: ChartQuestion) -> ChartAnswer:
    chart = charts.count_chart(table.numbers[question.values[0]])
    lower, upper = _ends(chart)
    length = count_run_length(chart.centre, lower=lower, upper=upper) if chart.centre > 0.0 else None
    return _counted(table, chart, length)


def _share(table: Columns, question: ChartQuestion) -> ChartAnswer:
    value = table.numbers[question.values[0]]
    sizes = table.numbers[question.size] if question.size else np.full(value.size, question.sample_size or math.nan)
    chart = charts.share_chart(value * sizes if question.fractions else value, sizes)
    lower, upper = _ends(chart)
    length = None
    if np.ptp(sizes) == 0.0 and 0.0 < chart.centre < 1.0:
        length = share_run_length(chart.centre, size=int(sizes[0]), lower=lower, upper=upper)
    return _counted(table, chart, length)


def _counted(table: Columns, chart: charts.Chart, length: float | None) -> ChartAnswer:
    return ChartAnswer(
        chart=chart, companion=None, rows=tuple(table.rows.tolist()), arl_in_control=length, arl_at_shift=None,
        setup=None, autocorrelation=None, notes=("The centre line comes from the values charted.",),
    )  # fmt: skip


def _joint(table: Columns, question: ChartQuestion) -> ChartAnswer:
    if question.subgroup:
        groups, rows = _subgroups(table, question)
        joint = joint_subgroup_chart(groups, phase=question.phase, false_alarm=question.false_alarm)
    else:
        points = np.column_stack([table.numbers[name] for name in question.values])
        joint = joint_individuals_chart(points, phase=question.phase, false_alarm=question.false_alarm)
        rows = tuple(table.rows.tolist())
    notes = ("Means and covariance come from the values charted.",)
    return ChartAnswer(
        chart=joint.chart, companion=None, rows=rows, arl_in_control=1.0 / question.false_alarm, arl_at_shift=None,
        setup=None, autocorrelation=None, notes=notes,
    )  # fmt: skip


_MAKERS = {
    "individuals": _individuals, "mean": _mean, "ewma": _ewma, "cusum": _cusum, "count": _count, "share": _share,
    "joint": _joint,
}  # fmt: skip


def _subgroups(table: Columns, question: ChartQuestion) -> tuple[Array, tuple[int, ...]]:
    """Values by subgroup in order of appearance, shape (subgroups, readings, columns), and the first row of each."""
    names = table.names[question.subgroup or ""]
    codes = codes_of(names)
    counts = np.bincount(codes)
    usual = int(np.bincount(counts).argmax())
    faults = []
    for place in np.flatnonzero(counts != usual):
        first = int(np.argmax(codes == place))
        sentence = f"Subgroup {names[first]!r} has {counts[place]} values; the others have {usual}."
        row = int(table.rows[first])
        faults.append(Fault(sentence=sentence, row=row, field=question.subgroup, code="chart.unequal_subgroup"))
    if faults:
        raise BadInput(faults, subject="The table")
    order = np.argsort(codes, kind="stable")
    columns = [table.numbers[name][order].reshape(counts.size, usual) for name in question.values]
    firsts = table.rows[order].reshape(counts.size, usual)[:, 0]
    return np.stack(columns, axis=2), tuple(firsts.tolist())


def _rule_lengths(question: ChartQuestion) -> dict[str, float | None]:
    return {
        "arl_in_control": rules_run_length(question.rules),
        "arl_at_shift": _at_shift(question, lambda shift: rules_run_length(question.rules, shift=shift)),
    }


def _rule_notes(question: ChartQuestion) -> tuple[str, ...]:
    if "six_rising_or_falling" not in question.rules:
        return ()
    return ("The run length is not known with the rule six_rising_or_falling; leave it out to see that of the others.",)


def _at_shift(question: ChartQuestion, length: Callable[[float], float | None]) -> float | None:
    return None if question.shift is None else length(question.shift)


def _ends(chart: charts.Chart) -> tuple[float, float]:
    lower = -math.inf if chart.lower is None else float(chart.lower[-1])
    return lower, math.inf if chart.upper is None else float(chart.upper[-1])


def _series(chart: charts.Chart, table: Columns, question: ChartQuestion) -> Array:
    """Values whose neighbours should be independent; for sums and weighted means those before summing."""
    if question.kind == "joint":
        return np.empty(0)
    return table.numbers[question.values[0]] if question.kind in ("ewma", "cusum") else chart.points
