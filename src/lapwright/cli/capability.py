"""`lapwright capability`: what gauges and processes are worth, from tables."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give

if TYPE_CHECKING:
    from lapwright.metrology.gauge_checks import GaugeComparison

app = typer.Typer(
    help="Gauges and processes put to the test: studies, capability, agreement.",
    no_args_is_help=True,
    add_completion=False,
)

Method = Literal["anova", "ranges"]
Interaction = Literal["auto", "keep", "drop"]
FileArgument = Annotated[Path, typer.Argument(metavar="FILE", help="Table (CSV) with a header.")]
ValueOption = Annotated[str, typer.Option(metavar="COLUMN", help="Column of the readings.")]


@app.command("study")
def study(
    file: FileArgument,
    *,
    part: Annotated[str, typer.Option(metavar="COLUMN", help="Column that names the part.")],
    operator: Annotated[str, typer.Option(metavar="COLUMN", help="Column that names the operator.")],
    value: ValueOption,
    tolerance_um: Annotated[float | None, typer.Option(min=0.0, help="Width of the tolerance.")] = None,
    method: Annotated[Method, typer.Option(help="Analysis of variance, or averages and ranges.")] = "anova",
    interaction: Annotated[Interaction, typer.Option(help="Keep the interaction, drop it, or by its test.")] = "auto",
    as_json: JsonOption = False,
) -> None:
    """Crossed gauge study: repeatability, reproducibility, and what the gauge can tell apart."""
    from lapwright.app.statistics import study_of_file
    from lapwright.formats.json_line import warning_dict
    from lapwright.formats.statistics_results import study_dict

    found = study_of_file(
        file, part=part, operator=operator, value=value, tolerance=options.metres_or_none(tolerance_um, "µm"),
        method=method, interaction=interaction,
    )  # fmt: skip
    counts = {"n_readings": found.n_readings, "n_parts": found.n_parts, "n_operators": found.n_operators}
    warnings = []
    if found.unit is None and tolerance_um is not None:
        sentence = f"The heading {value!r} states no unit; its values were taken as µm. Write it as {value}_um."
        warnings.append(warning_dict("study.unit_assumed", sentence))
    result = {**counts, "mean": found.mean, **study_dict(found.study, unit=found.unit, tolerance=found.tolerance)}
    give(result, as_json=as_json, show=_show_study, warnings=warnings)


@app.command("nested")
def nested(
    file: FileArgument,
    *,
    levels: Annotated[str, typer.Option(metavar="COLUMN[,COLUMN…]", help="Levels, the outermost first.")],
    value: ValueOption,
    as_json: JsonOption = False,
) -> None:
    """Nested study: how much of the variance belongs to each level."""
    from lapwright.app.statistics import nested_of_file
    from lapwright.formats.statistics_results import nested_dict

    found = nested_of_file(file, levels=[name.strip() for name in levels.split(",")], value=value)
    give(nested_dict(found), as_json=as_json, show=_show_nested)


@app.command("process")
def process(
    file: FileArgument,
    *,
    value: ValueOption,
    lower: Annotated[float | None, typer.Option(help="Lower limit, in the unit of the column.")] = None,
    upper: Annotated[float | None, typer.Option(help="Upper limit, in the unit of the column.")] = None,
    target: Annotated[float | None, typer.Option(help="Value aimed at, in the unit of the column.")] = None,
    gauge_deviation: Annotated[
        float | None, typer.Option(min=0.0, help="Standard deviation of the gauge, in the unit of the column.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Capability of a process: Cp, Cpk with intervals, normality, and where 95 % of all pieces lie."""
    from lapwright.app.statistics import capability_of_file
    from lapwright.formats.statistics_results import capability_dict

    found = capability_of_file(
        file, value=value, lower=lower, upper=upper, target=target, gauge_deviation=gauge_deviation
    )
    give(capability_dict(found), as_json=as_json, show=_show_fields)


@app.command("bias")
def bias(
    file: FileArgument,
    *,
    value: ValueOption,
    reference: Annotated[float, typer.Option(help="Certified value, in the unit of the column.")],
    reference_uncertainty: Annotated[float, typer.Option(min=0.0, help="Its standard uncertainty.")] = 0.0,
    as_json: JsonOption = False,
) -> None:
    """Bias of a gauge from repeats on a reference."""
    from lapwright.app.statistics import bias_of_file
    from lapwright.formats.statistics_results import bias_dict

    found = bias_of_file(file, value=value, reference=reference, reference_uncertainty=reference_uncertainty)
    give(bias_dict(found), as_json=as_json, show=_show_fields)


@app.command("trend")
def trend(
    file: FileArgument,
    *,
    value: ValueOption,
    along: Annotated[str, typer.Option(metavar="COLUMN", help="What it may change along: reference, time.")],
    minus: Annotated[
        str | None, typer.Option(metavar="COLUMN", help="Take this column off first, such as the reference.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Linearity along reference values, or drift along time."""
    from lapwright.app.statistics import trend_of_file
    from lapwright.formats.statistics_results import trend_dict

    give(trend_dict(trend_of_file(file, value=value, along=along, minus=minus)), as_json=as_json, show=_show_fields)


@app.command("compare")
def compare(
    file: FileArgument,
    *,
    first: Annotated[str, typer.Option(metavar="COLUMN", help="Readings of one gauge.")],
    second: Annotated[str, typer.Option(metavar="COLUMN", help="Readings of the other at the same sites.")],
    first_uncertainty: Annotated[
        float | None, typer.Option(min=0.0, help="Expanded uncertainty of the first, in the unit of the columns.")
    ] = None,
    second_uncertainty: Annotated[
        float | None, typer.Option(min=0.0, help="Expanded uncertainty of the second.")
    ] = None,
    drawing: Annotated[
        Path | None, typer.Option(metavar="FILE.svg", help="Also write the chart of the differences as SVG.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Two gauges on the same sites: whether they agree within their uncertainties."""
    from lapwright.app.statistics import comparison_of_file
    from lapwright.errors import CommandLineError
    from lapwright.formats.statistics_results import comparison_dict

    if (first_uncertainty is None) != (second_uncertainty is None):
        raise CommandLineError("Give both --first-uncertainty and --second-uncertainty, or neither.")
    both = None if first_uncertainty is None or second_uncertainty is None else (first_uncertainty, second_uncertainty)
    found = comparison_of_file(file, first=first, second=second, uncertainties=both)
    if drawing is not None:
        _draw_differences(drawing, file, names=(first, second), found=found)
    give(comparison_dict(found), as_json=as_json, show=_show_fields)


@app.command("plan")
def plan(
    *,
    parts: Annotated[str, typer.Option(metavar="NAME,NAME…|N", help="Names of the parts, or how many.")],
    operators: Annotated[str, typer.Option(metavar="NAME,NAME…|N", help="Names of the operators, or how many.")],
    repeats: Annotated[int, typer.Option(min=2, help="How often each operator reads each part.")] = 3,
    seed: Annotated[int, typer.Option(min=0, help="Seed of the order; the same seed, the same order.")] = 1,
    as_json: JsonOption = False,
) -> None:
    """Sheet of a crossed study: who reads which part when, in random order."""
    import numpy as np

    from lapwright.formats.statistics_results import plan_dicts
    from lapwright.metrology.study_plan import study_sheet

    sheet = study_sheet(
        _names(parts, "part"), _names(operators, "operator"), repeats=repeats, generator=np.random.default_rng(seed)
    )
    give({"seed": seed, "readings": plan_dicts(sheet)}, as_json=as_json, show=_show_plan)


@app.command("repeats")
def repeats(
    *,
    noise_um: Annotated[float, typer.Option(min=0.0, help="Standard deviation of a single reading.")],
    sites: Annotated[int, typer.Option(min=2, help="Sites read.")],
    ttv_limit_um: Annotated[float, typer.Option(min=0.0, help="Largest TTV allowed.")],
    largest_percent: Annotated[float, typer.Option(min=0.0, help="Share of the limit that noise may take.")] = 20.0,
    as_json: JsonOption = False,
) -> None:
    """How many repeats at each site, so that noise opens TTV by at most a fifth of its limit."""
    from lapwright.formats.statistics_results import repeats_dict
    from lapwright.metrology.study_plan import repeats_advice

    advice = repeats_advice(
        options.metres(noise_um, "µm"), n_sites=sites, ttv_limit=options.metres(ttv_limit_um, "µm"),
        largest_share=options.si(largest_percent, "%", "share"),
    )  # fmt: skip
    give(repeats_dict(advice), as_json=as_json, show=_show_sentence)


# ----------------------------------------------------------------------------------------------------------------------


def _draw_differences(path: Path, file: Path, *, names: tuple[str, str], found: GaugeComparison) -> None:
    from lapwright.app.statistics import columns_of_file
    from lapwright.cli.drawings import write_drawing
    from lapwright.formats.table_csv import heading_unit
    from lapwright.reports.drawing.difference_chart import DifferenceWords, difference_chart

    columns = columns_of_file(file, numbers=names)
    first, second = (columns.numbers[name] for name in names)
    allowed = None if not found.ratio else abs(found.difference) / found.ratio
    unit = heading_unit(names[0])
    svg = difference_chart(
        first, second, agreement=found.agreement, allowed=allowed, unit=unit.symbol if unit else "as in the file",
        title=f"{names[0]} against {names[1]}", words=DifferenceWords(names=names),
    )  # fmt: skip
    write_drawing(path, svg)


def _names(text: str, kind: str) -> tuple[str, ...]:
    """Names with commas between, or a number of them."""
    if text.strip().isdigit():
        return tuple(f"{kind} {number}" for number in range(1, int(text) + 1))
    return tuple(name.strip() for name in text.split(",") if name.strip())


def _show_study(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    print_line(f"{result['n_parts']} parts × {result['n_operators']} operators, {result['n_readings']} readings")
    print_line(result["method"])
    _show_anova(result["anova"])
    rows = [
        (label, shown(result[name], 6), shown(result[f"{percent}_percent_total_variation"], 2))
        for label, name, percent in (
            ("repeatability", "repeatability", "repeatability"),
            ("reproducibility", "reproducibility", "reproducibility"),
            ("gauge", "grr", "grr"),
            ("parts", "part_deviation", "part"),
        )
    ]
    print_table(("", "standard deviation", "% of total variation"), rows, numbers=(1, 2))
    print_line(f"Groups of parts it can tell apart: {result['ndc']}")
    if result["grr_percent_tolerance"] is not None:
        print_line(f"{shown(result['grr_percent_tolerance'], 1)} % of the tolerance")
    for note in result["notes"]:
        print_line(note)


def _show_anova(rows: list[Mapping[str, Any]]) -> None:
    from lapwright.cli.tables import print_table, shown

    if rows:
        cells = [
            (
                row["source"],
                str(row["df"]),
                shown(row["ss"], 6),
                shown(row["ms"], 6),
                shown(row["f"], 3),
                shown(row["p"], 4),
            )
            for row in rows
        ]
        print_table(("source", "df", "sum of squares", "mean square", "F", "chance"), cells, numbers=(1, 2, 3, 4, 5))


def _show_nested(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    print_line(result["method"])
    _show_anova(result["anova"])
    rows = [
        (name, shown(variance, 6), shown(result["percent_of_variance"][name], 2))
        for name, variance in result["components"].items()
    ]
    print_table(("level", "variance", "% of variance"), rows, numbers=(1, 2))
    for note in result["notes"]:
        print_line(note)


def _show_plan(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_table

    rows = [(str(one["order"]), one["operator"], one["part"], str(one["repeat"])) for one in result["readings"]]
    print_table(("", "operator", "part", "repeat"), rows, numbers=(0, 3))


def _show_sentence(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    print_line(result["sentence"])


def _show_fields(result: Mapping[str, Any]) -> None:
    """One line for each field; lists of notes below."""
    from lapwright.cli.tables import print_line, print_table

    if "sentence" in result:
        print_line(result["sentence"])
    rows = [
        (name.replace("_", " "), _text(value)) for name, value in result.items() if name not in ("notes", "sentence")
    ]
    print_table(("", ""), rows)
    for note in result.get("notes", ()):
        print_line(note)


def _text(value: Any) -> str:
    if isinstance(value, bool) or value is None:
        return {True: "yes", False: "no", None: "–"}[value]
    if isinstance(value, float):
        return f"{value:.6g}".replace("-", "\u2212")
    if isinstance(value, Mapping):
        return ", ".join(f"{name.replace('_', ' ')} {_text(one)}" for name, one in value.items())
    if isinstance(value, list | tuple):
        return " … ".join(_text(one) for one in value)
    return str(value)
