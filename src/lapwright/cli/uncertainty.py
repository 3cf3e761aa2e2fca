"""`lapwright uncertainty`: an uncertainty budget from a file, worked out to first order and by Monte Carlo."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give

app = typer.Typer(add_completion=False)

_BAR = 30


@app.command()
def uncertainty(
    budget: Annotated[Path, typer.Argument(metavar="BUDGET.toml", help="Budget file.")],
    *,
    probability: Annotated[float | None, typer.Option(help="Coverage; else that of the file, or 0.95.")] = None,
    trials: Annotated[int | None, typer.Option(min=10_000, help="Monte Carlo trials; else as many as needed.")] = None,
    seed: Annotated[int | None, typer.Option(min=0, help="Seed of the draws; the same seed, the same answer.")] = None,
    drawing: Annotated[
        Path | None, typer.Option(metavar="FILE.svg", help="Also write the bars of the contributions as SVG.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Value, standard and expanded uncertainty of a budget, with a line per contribution."""
    from lapwright.app.statistics import budget_of_file
    from lapwright.formats.json_line import warning_dict
    from lapwright.formats.statistics_results import drawn_dict, second_order_dict, worked_budget_dict

    found = budget_of_file(budget, trials=trials, seed=seed, probability=probability)
    result = worked_budget_dict(
        found.budget,
        found.combined,
        units=found.file.units,
        unit=found.file.unit,
        title=found.file.title,
        shares=found.shares,
    )
    result["model"] = found.file.model_text or None
    result["correlation"] = found.file.correlation
    result["second_order"] = second_order_dict(found.second_order)
    result["monte_carlo"] = drawn_dict(found.drawn, seed=found.seed, first_order_enough=found.first_order_enough)
    warnings = [] if found.first_order_enough else [warning_dict("budget.first_order", _FIRST_ORDER)]
    if found.drawn.settled is False:
        warnings.append(warning_dict("budget.not_settled", _NOT_SETTLED))
    if drawing is not None:
        _write_drawing(drawing, result)
    give(result, as_json=as_json, show=_show, warnings=warnings)


# ----------------------------------------------------------------------------------------------------------------------

_FIRST_ORDER = (
    "The interval of the law of propagation does not agree with the drawn one; prefer the Monte Carlo result."
)
_NOT_SETTLED = "The Monte Carlo result had not settled to the digits asked for after the most trials allowed."


def _write_drawing(path: Path, result: Mapping[str, Any]) -> None:
    from lapwright.cli.drawings import write_drawing
    from lapwright.reports.drawing.budget import BudgetBar, budget_bars

    bars = [
        BudgetBar(name=line["name"], size=abs(line["contribution"]), share=line["percent_of_variance"] / 100.0)
        for line in result["contributions"]
    ]
    svg = budget_bars(bars, title=result["title"], unit=result["unit"], combined=result["standard_uncertainty"])
    write_drawing(path, svg)


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table

    drawn = result["monte_carlo"]
    print_line(result["title"])
    print_line(
        f"{result['value']:.10g} ± {result['expanded_uncertainty']:.3g} {result['unit']} (u {_short(result)}, "
        f"k {result['coverage_factor']:.2f}, {result['probability']:.0%})"
    )
    lines = sorted(result["contributions"], key=lambda line: -abs(line["percent_of_variance"]))
    headings = ("contribution", "distribution", "u", "unit", "sensitivity", "adds", "of the variance", "")
    print_table(headings, [_row(line) for line in lines], numbers=(2, 4, 5, 6))
    low, high = drawn["shortest"]
    print_line(
        f"Monte Carlo, {drawn['trials']} trials: u {drawn['standard_uncertainty']:.3g}, {low:.10g} to {high:.10g}"
    )


def _short(result: Mapping[str, Any]) -> str:
    return f"{result['standard_uncertainty']:.3g}"


def _row(line: Mapping[str, Any]) -> tuple[str, ...]:
    share = max(0.0, line["percent_of_variance"]) / 100.0
    return (
        line["name"],
        line["distribution"].replace("_", " "),
        f"{line['standard_uncertainty']:.3g}",
        line["unit"],
        f"{line['sensitivity']:.3g}",
        f"{line['contribution']:.3g}",
        f"{line['percent_of_variance']:.1f} %",
        "█" * round(share * _BAR),
    )
