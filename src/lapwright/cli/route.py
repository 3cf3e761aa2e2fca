"""`lapwright route`: the routes that meet an order, best first."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give

app = typer.Typer(add_completion=False)


@app.command()
def route(  # noqa: PLR0913  one parameter for each option
    order: Annotated[Path, typer.Argument(metavar="ORDER.toml", help="Order file.")],
    *,
    gauge_limit_um: options.GaugeLimitOption = None,
    gauge_local_um: options.GaugeLocalOption = None,
    gauge_resolution_um: options.GaugeResolutionOption = None,
    gauge_repeatability_um: options.GaugeRepeatabilityOption = None,
    library: Annotated[
        Path | None, typer.Option("--library", metavar="FILE", help="Rows of your own for the process library (TOML).")
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="Seed of the imagined jobs; the same seed, the same answer.")] = 1,
    draws: Annotated[int, typer.Option(min=100, max=1_000_000, help="Imagined jobs for each route's chance.")] = 4000,
    as_json: JsonOption = False,
) -> None:
    """Stages, presets, times and chance of ending in tolerance for an order, alternatives best first."""
    from lapwright.app.measure import routes_of_file
    from lapwright.formats.json_line import warning_dict
    from lapwright.formats.plans import order_dict, route_dict

    gauge = options.gauge(gauge_limit_um, gauge_local_um, gauge_resolution_um, gauge_repeatability_um)
    promised, plans = routes_of_file(order, gauge=gauge, library_file=library, seed=seed, draws=draws)
    warnings = [
        warning_dict("route.warning", sentence, route=plan.name) for plan in plans[:1] for sentence in plan.warnings
    ]
    if gauge is None:
        sentence = "No gauge was given; planned with one good to 1 µm. Give --gauge-limit-um."
        warnings.append(warning_dict("route.gauge_assumed", sentence))
    result = {"order": order_dict(promised), "seed": seed, **route_dict(plans)}
    give(result, as_json=as_json, show=_show, warnings=warnings)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    order = result["order"]
    print_line(
        f"{order['order']} for {order['customer']}: {order['material']}, {shown(order['start_thickness_um'], 1)} → "
        f"{shown(order['target_thickness_um'], 1)} µm"
    )
    print_table(("", "route", "time, min", "in tolerance", "damage left, µm"), _summary(result), numbers=(0, 2, 3, 4))
    headings = (
        "best: stage", "abrasive", "plate", "takes, µm", "stop at, µm", "from", "rate, µm/min", "time, min", "then, µm",
    )  # fmt: skip
    best = result["alternatives"][0]
    print_table(headings, [_row(stage) for stage in best["stages"]], numbers=(3, 4, 6, 7, 8))
    for sentence in best["assumptions"]:
        print_line(f"Assumed: {sentence}")
    for caution in dict.fromkeys(text for stage in best["stages"] for text in stage["cautions"]):
        print_line(f"Caution: {caution}")


def _summary(result: Mapping[str, Any]) -> list[tuple[str, ...]]:
    from lapwright.cli.tables import shown

    return [
        (
            str(rank),
            plan["name"],
            shown(plan["total_time_min"], 0),
            f"{plan['chance_in_tolerance']:.0%}",
            shown(plan["damage_left_um"]),
        )
        for rank, plan in enumerate(result["alternatives"], start=1)
    ]


def _row(stage: Mapping[str, Any]) -> tuple[str, ...]:
    from lapwright.cli.tables import shown

    return (
        stage["name"],
        stage["abrasive"] or "–",
        stage["plate"] or "–",
        shown(stage["removal_um"] or None, 1),
        shown(stage["preset_um"], 1),
        (stage["preset_datum"] or "–").replace("_", " "),
        shown(stage["rate_um_per_min"]),
        shown(stage["time_min"], 0),
        shown(stage["thickness_after_um"], 1),
    )
