"""`lapwright watch`: a gauge followed to the stop."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import Annotated, Any, Literal

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.options import metres
from lapwright.errors import OutOfValidRange

app = typer.Typer(add_completion=False)

CAUTION = "Stop advice is advice; the machine's own interlocks stay in charge."
UNKNOWN_RATE_UM_PER_MIN = 2.0  # where none is given: the middle of lapping, with a band that holds all of it
UNKNOWN_BAND = 30.0


@app.command()
def watch(  # noqa: PLR0913  one parameter for each option
    *,
    source: Annotated[
        str,
        typer.Option(metavar="ADDRESS", help="Gauge: replay:FILE, serial:, tcp:, mqtt:, opcua:, folder:, keyboard:."),
    ],
    target_um: Annotated[float, typer.Option(help="Removal wanted at the gauge.")],
    rate_um_per_min: Annotated[float | None, typer.Option(help="Rate expected; learnt when not given.")] = None,
    rate_band: Annotated[
        float | None, typer.Option(help="Factor by which the rate may differ from the expected one; 3 by default.")
    ] = None,
    latency_s: Annotated[float, typer.Option(min=0.0, help="Time from the stop to no more removal.")] = 1.0,
    latency_spread_s: Annotated[float, typer.Option(min=0.0, help="Standard uncertainty of that time.")] = 0.1,
    stale_s: Annotated[float, typer.Option(help="Silence after which the run is stopped.")] = 5.0,
    direction: Annotated[
        Literal["growing", "shrinking"], typer.Option(help="Whether the length grows or shrinks with removal.")
    ] = "growing",
    zero_um: Annotated[float | None, typer.Option(help="Length that means no removal.")] = None,
    noise_um: Annotated[float, typer.Option(help="Noise of one reading, first guess.")] = 0.5,
    resolution_um: Annotated[float, typer.Option(min=0.0, help="Smallest step of the gauge.")] = 1.0,
    drift_limit_um: Annotated[float, typer.Option(min=0.0, help="Largest drift of the gauge during the run.")] = 0.0,
    zero_uncertainty_um: Annotated[float, typer.Option(min=0.0, help="Standard uncertainty of the zero.")] = 0.0,
    speed: Annotated[str, typer.Option(help="Speed of a replay: 1 as it was, max without waiting.")] = "max",
    as_json: JsonOption = False,
) -> None:
    """Follow a gauge until the stop is due, and say when, why and with what margin.

    Stop advice is advice: the machine's own interlocks stay in charge.
    """
    import asyncio

    from lapwright.app import watching
    from lapwright.formats.live_results import watched_result
    from lapwright.process.endpoint import EndpointConfig

    _need_above_zero(target_um=target_um, rate_um_per_min=rate_um_per_min, noise_um=noise_um, stale_s=stale_s)
    config = EndpointConfig(
        target=metres(target_um, "µm"),
        rate=metres(rate_um_per_min or UNKNOWN_RATE_UM_PER_MIN, "µm") / 60.0,
        rate_band=rate_band or (UNKNOWN_BAND if rate_um_per_min is None else 3.0),
        latency=latency_s,
        latency_spread=latency_spread_s,
        noise=metres(noise_um, "µm"),
        resolution=metres(resolution_um, "µm"),
        drift_limit=metres(drift_limit_um, "µm"),
        zero_uncertainty=metres(zero_uncertainty_um, "µm"),
        stale=stale_s,
    )
    watched = asyncio.run(
        watching.watch(
            _with_speed(source, speed),
            config,
            direction=direction,
            zero=None if zero_um is None else metres(zero_um, "µm"),
            progress=_progress,
        )
    )
    result = watched_result(watched.decision, readings=watched.readings, gaps=watched.gaps, zero=watched.zero)
    warnings = [{"code": "watch.zero_taken", "sentence": sentence} for sentence in watched.warnings]
    if watched.silent_because:
        warnings.append({"code": "watch.never_heard", "sentence": watched.silent_because})
    give(result, as_json=as_json, show=_show, warnings=warnings)


# ----------------------------------------------------------------------------------------------------------------------


def _need_above_zero(**options: float | None) -> None:
    """Say it in the option's own name and unit, before it becomes a length in metres."""
    for name, value in options.items():
        if value is not None and not 0.0 < value < float("inf"):
            raise OutOfValidRange(f"--{name.replace('_', '-')}", value, "a finite value above zero")


def _with_speed(source: str, speed: str) -> str:
    if not source.startswith("replay:") or "speed=" in source:
        return source
    return f"{source}{'&' if '?' in source else '?'}speed={speed}"


def _progress(decision: Any) -> None:
    """One line a second for people, on standard error, where it can be overwritten."""
    if not sys.stderr.isatty():
        return
    left = "–" if decision.time_left is None else f"{decision.time_left:.0f} s"
    sys.stderr.write(f"\r{decision.removed * 1e6:8.2f} µm removed, {decision.rate * 60e6:6.2f} µm/min, {left} left   ")
    sys.stderr.flush()


def _show(result: Mapping[str, Any]) -> None:
    words = {"run": "go on", "stop_now": "STOP NOW", "stop_fault": "STOP: FAULT"}
    typer.echo(f"{words[result['decision']]} at {result['stop_time_s']:.1f} s")
    typer.echo(
        f"removed {result['removed_um']:.2f} µm, rate {result['rate_um_per_min']:.2f} µm/min, margin"
        f" {result['margin_um']:.2f} µm, chance of being over {100 * result['chance_over_target']:.2f} %"
    )
    typer.echo(f"{result['n_readings']} readings, {result['n_gaps']} gaps")
    for fault in result["faults"]:
        typer.echo(f"  {fault['time_s']:.1f} s {fault['code']}: {fault['sentence']}")
    typer.echo(CAUTION)
