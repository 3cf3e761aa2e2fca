"""`lapwright campaign`: simulated runs and jobs by the thousand, to try a stop rule or a route before wafers do."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give
from lapwright.cli.working import ResumeOption, SchedulerOption, WorkersOption, shown_progress

if TYPE_CHECKING:
    from lapwright.sim.stop_trials import StopQuestion

app = typer.Typer(add_completion=False, no_args_is_help=True)

SeedOption = Annotated[int, typer.Option(min=0, max=1_000_000, help="The same seed plays the same runs.")]


@app.callback()
def campaign() -> None:
    """Simulated runs and jobs by the thousand, on all cores or on a cluster."""


@app.command()
def stop(  # noqa: PLR0913  one parameter for each option
    *,
    runs: Annotated[int, typer.Option(min=10, max=10_000_000, help="Runs without a fault, and as many with.")] = 1000,
    seed: SeedOption = 1,
    noise_um: Annotated[float, typer.Option(help="Standard deviation of a reading.")] = 0.5,
    resolution_um: Annotated[float, typer.Option(help="Step of the display.")] = 1.0,
    readings_per_s: Annotated[float, typer.Option(min=0.01, max=1000.0, help="Readings a second.")] = 5.0,
    latency_s: Annotated[float, typer.Option(help="From the word to stop to the end of removal.")] = 1.0,
    latency_spread_s: Annotated[float, typer.Option(help="Standard deviation of that.")] = 0.1,
    rate_low_um_per_min: Annotated[float, typer.Option(help="Slowest rate.")] = 0.5,
    rate_high_um_per_min: Annotated[float, typer.Option(help="Fastest rate.")] = 10.0,
    rate_error_percent: Annotated[float, typer.Option(help="How far the plan's rate is off, as a deviation.")] = 30.0,
    target_um: Annotated[float | None, typer.Option(help="Removal wanted; drawn for each run unless given.")] = None,
    drift_um: Annotated[float, typer.Option(help="Drift of the gauge in a run, at most.")] = 0.0,
    film_um: Annotated[float, typer.Option(help="Step of the film at start and stop, at most.")] = 0.0,
    foot_wear_percent: Annotated[float, typer.Option(help="Share of the removal that a worn foot misses.")] = 0.0,
    workers: WorkersOption = None,
    scheduler: SchedulerOption = None,
    resume: ResumeOption = None,
    as_json: JsonOption = False,
) -> None:
    """Try the stop on a bench of your own: over-removal, margin, false stops, and every fault in turn."""
    from lapwright.sim.stop_trials import StopQuestion

    question = StopQuestion(
        noise=noise_um * 1e-6,
        resolution=resolution_um * 1e-6,
        interval=1.0 / readings_per_s if readings_per_s > 0.0 else 0.0,
        latency=latency_s,
        latency_spread=latency_spread_s,
        rate_low=rate_low_um_per_min * 1e-6 / 60.0,
        rate_high=rate_high_um_per_min * 1e-6 / 60.0,
        target=None if target_um is None else target_um * 1e-6,
        rate_error=rate_error_percent / 100.0,
        drift=drift_um * 1e-6,
        film=film_um * 1e-6,
        wear=foot_wear_percent / 100.0,
    )
    from lapwright.sim.stop_trials import fault_free_summary, fault_summary, played, trials

    told = {"campaign": "stop", "runs": runs, "seed": seed, "question": _told(question)}
    parts = [
        *trials(question, runs=runs, seed=2 * seed, with_faults=False),
        *trials(question, runs=runs, seed=2 * seed + 1, with_faults=True),
    ]
    ended = _worked("runs", played, parts, told, workers, scheduler, resume)
    result = {
        "seed": seed,
        "question": _told(question),
        "fault_free": fault_free_summary([one for one in ended if one["fault"] == "none"]),
        "faults": fault_summary(ended),
    }
    give(result, as_json=as_json, show=_show_stop)


@app.command()
def route(  # noqa: PLR0913  one parameter for each option
    order: Annotated[Path, typer.Argument(metavar="ORDER.toml", help="Order file.")],
    *,
    shops: Annotated[int, typer.Option(min=2, max=100_000, help="Simulated shops, each with its own tools.")] = 20,
    jobs: Annotated[int, typer.Option(min=1, max=100_000, help="Jobs in each.")] = 20,
    seed: SeedOption = 1,
    target_chance_percent: Annotated[
        float, typer.Option(min=50.0, max=99.9, help="Chance of keeping every limit that a route should hold.")
    ] = 90.0,
    gauge_limit_um: options.GaugeLimitOption = None,
    gauge_local_um: options.GaugeLocalOption = None,
    gauge_resolution_um: options.GaugeResolutionOption = None,
    gauge_repeatability_um: options.GaugeRepeatabilityOption = None,
    workers: WorkersOption = None,
    scheduler: SchedulerOption = None,
    resume: ResumeOption = None,
    as_json: JsonOption = False,
) -> None:
    """Work an order in shops whose laws the planner does not know: the chance stated against the jobs that held."""
    from lapwright.formats.order_toml import read_order
    from lapwright.formats.plans import order_dict
    from lapwright.sim.route_trials import GAUGE, summary, trials, worked_trial

    read = read_order(order)
    described = options.gauge(gauge_limit_um, gauge_local_um, gauge_resolution_um, gauge_repeatability_um)
    gauge = described or GAUGE
    parts = trials(read, gauge, target=target_chance_percent / 100.0, shops=shops, jobs=jobs, seed=seed)
    told = {"campaign": "route", "order": order_dict(read), "seed": seed, "shops": shops, "jobs": jobs}
    told |= {"target_chance_percent": target_chance_percent, "gauge": str(gauge)}
    rows = _worked("shops", worked_trial, parts, told, workers, scheduler, resume)
    warnings = []
    if described is None:
        from lapwright.formats.json_line import warning_dict

        sentence = "No gauge was given; played with one good to 1 µm. Give --gauge-limit-um."
        warnings.append(warning_dict("campaign.gauge_assumed", sentence))
    result = {"seed": seed, "target_chance_percent": target_chance_percent, **summary(rows), "by_shop": rows}
    give(result, as_json=as_json, show=_show_route, warnings=warnings)


# ----------------------------------------------------------------------------------------------------------------------


def _worked(
    what: str, do: Any, parts: list[Any], told: dict[str, Any], workers: int | None, scheduler: str | None, resume: Any
) -> list[dict[str, Any]]:
    """The rows of all parts, one after the other."""
    from lapwright import __version__
    from lapwright.app.workers import Finished, Work, open_workers, worked

    work = Work(do=do, keys=range(len(parts)), load=lambda number: parts[number], told={**told, "version": __version__})
    with shown_progress(what) as progress:
        done = worked(
            work,
            open_workers(workers, scheduler),
            finished=None if resume is None else Finished(resume),
            progress=progress,
        )
    return [row for rows in done for row in rows]


def _told(question: StopQuestion) -> dict[str, Any]:
    from dataclasses import asdict

    return asdict(question)


def _show_stop(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    good = result["fault_free"]
    print_line(f"{good['runs']} runs without a fault, relative to an ideal zero; simulated, not measured.")
    rows = [
        (
            rule["rule"].replace("_", " "),
            f"{rule['over_0_5_um']} of {good['runs']}",
            f"{rule['bound_percent']:.3f} %",
            shown(rule["largest_over_um"], 2, sign=True),
        )
        for rule in good["rules"]
    ]
    print_table(("stop by", "over by > 0.5 µm", "95 % bound", "largest over, µm"), rows, numbers=(1, 2, 3))
    print_line(
        f"Within ±0.5 µm of the target less the margin: {shown(good['stop_error_within_0_5_um_percent'], 2)} %; "
        f"margin {shown(good['margin_median_um'])} µm (95 %: {shown(good['margin_p95_um'])} µm)."
    )
    print_line(f"Truth inside the 90 % interval: {shown(good['inside_interval_percent'], 1)} %.")
    print_line(f"Stopped for nothing: {good['false_stops']}{_counted(good['false_stop_codes'])}.")
    faults = [
        (
            one["fault"].replace("_", " "),
            str(one["runs"]),
            _counted(one["said"]).strip(" ()"),
            " / ".join(shown(one[f"delay_{name}_s"], 1) for name in ("median", "p95", "largest")),
            shown(one["largest_over_um"], 2, sign=True),
        )
        for one in result["faults"]
    ]
    headings = ("planted", "runs", "stopped for", "after, s: median / 95 % / largest", "largest over, µm")
    print_table(headings, faults, numbers=(1, 3, 4))


def _counted(codes: Mapping[str, int]) -> str:
    return f" ({', '.join(f'{code} {count}' for code, count in codes.items())})" if codes else ""


def _show_route(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    print_line(f"{result['jobs']} simulated jobs in {result['shops']} shops; simulated, not measured.")
    half = result["held_half_width_percent"]
    rows = [
        ("stated by the planner", f"{shown(result['stated_percent'], 1)} %", ""),
        (
            "held, by its routes",
            f"{shown(result['held_percent'], 1)} % ± {shown(half, 1)} %",
            f"{shown(result['in_tolerance_percent'], 1)} %",
        ),
        (
            "held, by fixed shares and the last rate",
            f"{shown(result['reference_held_percent'], 1)} %",
            f"{shown(result['reference_in_tolerance_percent'], 1)} %",
        ),
    ]
    print_table(("", "every limit, no damage", "limits alone"), rows, numbers=(1, 2))
