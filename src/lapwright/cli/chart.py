"""`lapwright chart`: a control chart of a column of a table, with its signals and its run length."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, cast, get_args

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.errors import CommandLineError

app = typer.Typer(add_completion=False)

Kind = Literal["individuals", "mean", "ewma", "cusum", "count", "share", "joint"]
Spread = Literal["range", "deviation"]
Setup = Literal["keep", "set_aside", "robust"]
Phase = Literal["first", "second"]


@app.command()
def chart(  # noqa: PLR0913  one parameter for each option
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Table (CSV) with a header.")],
    *,
    value: Annotated[str, typer.Option(metavar="COLUMN[,COLUMN…]", help="What is charted; several for a joint chart.")],
    kind: Annotated[Kind, typer.Option(help="Kind of chart.")] = "individuals",
    subgroup: Annotated[str | None, typer.Option(metavar="COLUMN", help="Which values belong together.")] = None,
    by: Annotated[Spread, typer.Option(help="Spread of subgroups, for a chart of means.")] = "range",
    target: Annotated[float | None, typer.Option(help="Centre line; else from the values.")] = None,
    sigma: Annotated[float | None, typer.Option(help="Standard deviation of a value; else from the values.")] = None,
    weight: Annotated[float, typer.Option("--lambda", help="EWMA: weight of the newest value.")] = 0.2,
    limit: Annotated[float, typer.Option(help="EWMA: limits at so many of its standard deviations.")] = 3.0,
    exact_limits: Annotated[
        bool, typer.Option("--exact-limits", help="EWMA: narrower limits for the first points.")
    ] = False,
    reference: Annotated[float, typer.Option(help="CUSUM: slack, in standard deviations.")] = 0.5,
    decision: Annotated[float, typer.Option(help="CUSUM: sum that signals, in standard deviations.")] = 5.0,
    headstart: Annotated[float, typer.Option(help="CUSUM: sum at the start, in standard deviations.")] = 0.0,
    rules: Annotated[
        str, typer.Option(metavar="RULE[,RULE…]", help="Patterns to look for; 'all' for every one.")
    ] = "beyond_limit",
    setup: Annotated[Setup, typer.Option(help="Points outside when the centre comes from the values.")] = "keep",
    size: Annotated[str | None, typer.Option(metavar="COLUMN", help="Shares: items in each sample.")] = None,
    sample_size: Annotated[int | None, typer.Option(min=1, help="Shares: items in every sample.")] = None,
    fractions: Annotated[
        bool, typer.Option("--fractions", help="Shares: the column holds shares, not counts.")
    ] = False,
    phase: Annotated[Phase, typer.Option(help="Joint: points that settle the limits, or new ones.")] = "first",
    false_alarm: Annotated[float, typer.Option(help="Joint: chance of a signal at a settled point.")] = 0.0027,
    shift: Annotated[float | None, typer.Option(help="Also the run length at this shift, in deviations.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Control chart of a column: points, limits, signals, and how long it runs without a cause."""
    from lapwright.app.charts import ChartQuestion, chart_of_file
    from lapwright.formats.statistics_results import chart_dict, chart_warnings

    question = ChartQuestion(
        kind=kind,
        values=tuple(name.strip() for name in value.split(",")),
        subgroup=subgroup,
        by=by,
        target=target,
        sigma=sigma,
        weight=weight,
        limit=limit,
        steady=not exact_limits,
        reference=reference,
        decision=decision,
        headstart=headstart,
        rules=cast("Any", _rules(rules)),
        setup=setup,
        size=size,
        sample_size=sample_size,
        fractions=fractions,
        phase=phase,
        false_alarm=false_alarm,
        shift=shift,
    )
    answer = chart_of_file(file, question)
    give(chart_dict(answer), as_json=as_json, show=_show, warnings=chart_warnings(answer))


# ----------------------------------------------------------------------------------------------------------------------


def _rules(text: str) -> tuple[str, ...]:
    from lapwright.metrology.run_rules import Rule

    known = get_args(Rule)
    if text.strip() == "all":
        return known
    named = tuple(dict.fromkeys(name.strip() for name in text.split(",") if name.strip()))
    wrong = [name for name in named if name not in known]
    if wrong:
        raise CommandLineError(f"--rules: {', '.join(wrong)} not known; known are {', '.join(known)} and 'all'.")
    return named


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    limits = result["limits"]
    print_line(
        f"{result['kind']}: {len(result['points'])} points, centre {shown(result['centre'], 4)}, limits "
        f"{shown(limits['lower'], 4)} to {shown(limits['upper'], 4)}"
    )
    if result["signals"]:
        rows = [
            (str(one["index"]), str(one["row"]), shown(one["value"], 4), one["meaning"]) for one in result["signals"]
        ]
        print_table(("point", "row", "value", "signal"), rows, numbers=(0, 1, 2))
    else:
        print_line("No signal.")
    print_line(f"Runs {shown(result['arl_in_control'], 1)} points on average before it signals without a cause.")
    if result["arl_at_shift"] is not None:
        print_line(f"At the shift asked for: {shown(result['arl_at_shift'], 2)} points.")
    for note in result["notes"]:
        print_line(note)
