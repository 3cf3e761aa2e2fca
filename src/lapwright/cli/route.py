"""`lapwright route`: the routes that meet an order, best first."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give

if TYPE_CHECKING:
    from lapwright.process.etching import Etch

app = typer.Typer(add_completion=False)


class Objective(StrEnum):
    """What a route is to be least in."""

    TIME = "time"
    COST = "cost"


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
    draws: Annotated[int, typer.Option(min=100, max=1_000_000, help="Imagined jobs for each route's chance.")] = 10_000,
    objective: Annotated[Objective, typer.Option(help="What is to be least.")] = Objective.TIME,
    target_chance_percent: Annotated[
        float, typer.Option(min=50.0, max=99.9, help="Chance of keeping every limit that a route should hold.")
    ] = 90.0,
    now_um: Annotated[
        float | None, typer.Option(help="Thickness now of a wafer in mid-job; planned on from there.")
    ] = None,
    now_ttv_um: Annotated[float | None, typer.Option(min=0.0, help="Its TTV now.")] = None,
    damage_um: Annotated[float, typer.Option(min=0.0, help="Damage that its last stage left.")] = 0.0,
    damage_high_um: Annotated[float | None, typer.Option(min=0.0, help="The deep end (97.5 %) of that damage.")] = None,
    last_abrasive: Annotated[str | None, typer.Option(help="Abrasive it was worked with last, by library id.")] = None,
    etch_um_per_min: Annotated[
        float | None, typer.Option(help="Rate of a bath of your own that may take the damage.")
    ] = None,
    etch_spread_percent: Annotated[
        float, typer.Option(min=0.0, max=200.0, help="Deviation of that rate from run to run.")
    ] = 15.0,
    etch_unevenness_percent: Annotated[
        float, typer.Option(min=0.0, max=99.0, help="TTV that the bath adds, as a share of what it takes.")
    ] = 5.0,
    as_json: JsonOption = False,
) -> None:
    """Stages, presets, times, cost and chance of ending in tolerance for an order, alternatives best first."""
    from lapwright.app.route_files import RouteTerms, routes_of_file
    from lapwright.formats.json_line import warning_dict
    from lapwright.formats.plans import order_dict, search_dict

    gauge = options.gauge(gauge_limit_um, gauge_local_um, gauge_resolution_um, gauge_repeatability_um)
    terms = RouteTerms(
        gauge=gauge,
        library_file=library,
        seed=seed,
        draws=draws,
        objective=objective.value,
        target_chance=target_chance_percent / 100.0,
        thickness=_si(now_um),
        ttv=_si(now_ttv_um),
        damage=damage_um * 1e-6,
        damage_high=_si(damage_high_um),
        abrasive=last_abrasive,
        etch=_etch(etch_um_per_min, etch_spread_percent, etch_unevenness_percent),
    )
    answer = routes_of_file(order, terms)
    plans = answer.searched.plans
    warnings = [
        warning_dict("route.warning", sentence, route=plan.name) for plan in plans[:1] for sentence in plan.warnings
    ]
    if gauge is None:
        sentence = "No gauge was given; planned with one good to 1 µm. Give --gauge-limit-um."
        warnings.append(warning_dict("route.gauge_assumed", sentence))
    result = {
        "order": order_dict(answer.order),
        "seed": seed,
        "objective": objective.value,
        "target_chance_percent": target_chance_percent,
        **search_dict(answer.searched, answer.remedies, answer.sensitivities),
    }
    give(result, as_json=as_json, show=_show, warnings=warnings)


# ----------------------------------------------------------------------------------------------------------------------


def _si(value_um: float | None) -> float | None:
    return None if value_um is None else value_um * 1e-6


def _etch(rate_um_per_min: float | None, spread_percent: float, unevenness_percent: float) -> Etch | None:
    from lapwright.process.etching import Etch

    if rate_um_per_min is None:
        return None
    return Etch(
        name="own bath",
        rate=rate_um_per_min * 1e-6 / 60.0,
        rate_deviation=spread_percent / 100.0,
        unevenness=unevenness_percent / 100.0,
    )


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    order = result["order"]
    print_line(
        f"{order['order']} for {order['customer']}: {order['material']}, {shown(order['start_thickness_um'], 1)} → "
        f"{shown(order['target_thickness_um'], 1)} µm"
    )
    print_table(("", "route", "time, min", "cost", "in tolerance"), _summary(result), numbers=(0, 2, 3, 4))
    headings = (
        "best: stage", "abrasive", "plate", "takes, µm", "stop at, µm", "from", "rate, µm/min", "time, min", "then, µm",
    )  # fmt: skip
    best = result["alternatives"][0]
    print_table(headings, [_row(stage) for stage in best["stages"]], numbers=(3, 4, 6, 7, 8))
    for sentence in best["why"]:
        print_line(f"Why: {sentence}")
    for remedy in result["remedies"]:
        print_line(f"To relax: {remedy['sentence']}")
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
            shown(plan["total_cost"], 0),
            f"{plan['chance_in_tolerance']:.0%}",
        )
        for rank, plan in enumerate(result["alternatives"], start=1)
    ]


def _row(stage: Mapping[str, Any]) -> tuple[str, ...]:
    from lapwright.cli.tables import shown

    return (
        stage["name"],
        stage["abrasive_name"] or "–",
        stage["plate_name"] or "–",
        shown(stage["removal_um"] or None, 1),
        shown(stage["preset_um"], 1),
        (stage["preset_datum"] or "–").replace("_", " "),
        shown(stage["rate_um_per_min"]),
        shown(stage["time_min"], 0),
        shown(stage["thickness_after_um"], 1),
    )
