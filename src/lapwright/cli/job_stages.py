"""`lapwright job`, the stages: the next one, its zero, its run, its cleaning."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give, show_fields
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, WaferArgument, open_records, signed
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.clean_check import LookOutcome
from lapwright.model.job import RecordedRun, RecordedStage

StationArgument = Annotated[str, typer.Argument(metavar="STATION", help="Name of the station.")]
JigOption = Annotated[str | None, typer.Option("--jig", help="Name of the jig.")]


def next_stage(
    wafer: WaferArgument,
    *,
    jig: JigOption = None,
    station: Annotated[str | None, typer.Option(help="Name of the station.")] = None,
    data: DataOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show a wafer's next stage: the number to dial in, what it is made of, the screws to turn."""
    from lapwright.app import clean_checks, runs

    open_records(data)
    ahead = runs.next_stage(wafer, jig_id=jig, station_id=station)
    told = None if ahead is None else _next(ahead) | {"ends_with_look": clean_checks.look_due(wafer) is not None}
    give({"wafer": wafer, "next": told}, as_json=as_json, show=show_fields)


def zero(
    wafer: WaferArgument,
    station: StationArgument,
    texts: Annotated[list[str], typer.Argument(metavar="READING...", help="Three readings or more, in µm.")],
    *,
    jig: Annotated[str, typer.Option("--jig", help="Name of the jig.")],
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "zero before the run",
    as_json: JsonOption = False,
) -> None:
    """Record the zero of the jig's gauge, read three times or more."""
    from lapwright.app import runs
    from lapwright.formats.job_results import zero_dict
    from lapwright.model.request import ZeroRequest

    why = signed(open_records(data), by, reason)
    request = ZeroRequest(wafer_id=wafer, station_id=station, jig_id=jig, texts=tuple(texts))
    give(zero_dict(runs.take_zero(request, **why)), as_json=as_json, show=show_fields)


def start(  # noqa: PLR0913  one parameter for each option
    wafer: WaferArgument,
    station: StationArgument,
    *,
    jig: JigOption = None,
    preset_um: Annotated[float | None, typer.Option(help="What was dialled in, where it is not as planned.")] = None,
    goes_on: Annotated[
        bool, typer.Option("--goes-on", help="The stage goes on after this run, with a new zero.")
    ] = False,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "started at the station",
    as_json: JsonOption = False,
) -> None:
    """Record the start of a wafer's next run."""
    from lapwright.app import runs
    from lapwright.formats.job_results import run_dict
    from lapwright.model.request import RunRequest

    why = signed(open_records(data), by, reason)
    preset = options.metres_or_none(preset_um, "µm")
    step = "first" if goes_on else "whole"
    request = RunRequest(wafer_id=wafer, station_id=station, jig_id=jig, preset=preset, step=step)  # type: ignore[arg-type]
    give(run_dict(runs.start_run(request, **why)), as_json=as_json, show=show_fields)


def finish(
    wafer: WaferArgument,
    *,
    gauge_removal: Annotated[str | None, typer.Option(help="What the jig's gauge says, with unit: '398.2 um'.")] = None,
    stop_reason: Annotated[str, typer.Option(help="Why it stopped.")] = "preset reached",
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "stopped at the station",
    as_json: JsonOption = False,
) -> None:
    """Record the end of a wafer's run."""
    from lapwright.app import runs
    from lapwright.formats.job_results import run_dict

    why = signed(open_records(data), by, reason)
    ended = runs.finish_run(_run(wafer).run_id, gauge_removal=gauge_removal, stop_reason=stop_reason, **why)
    give(run_dict(ended), as_json=as_json, show=show_fields)


def done(
    wafer: WaferArgument, *, data: DataOption = None, by: ByOption = None, reason: ReasonOption = "done",
    as_json: JsonOption = False,
) -> None:  # fmt: skip
    """Record that a wafer's next stage, a cleaning, is done."""
    from lapwright.app import runs
    from lapwright.formats.job_results import recorded_stage_dict

    why = signed(open_records(data), by, reason)
    give(recorded_stage_dict(runs.complete_stage(_stage(wafer).stage_id, **why)), as_json=as_json, show=show_fields)


def look(
    wafer: WaferArgument,
    found: Annotated[LookOutcome, typer.Argument(metavar="FOUND", help="clean, not_clean or overruled.")],
    *,
    checked: Annotated[
        list[str] | None, typer.Option("--checked", metavar="ITEM", help="What was looked at; all for clean.")
    ] = None,
    photograph: Annotated[Path | None, typer.Option(metavar="FILE", help="Photograph of rinse water or plate.")] = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:
    """Record the look that a cleaning ends with; clean or overruled ends the stage."""
    from lapwright.app import clean_checks
    from lapwright.formats.job_results import look_dict

    why = signed(open_records(data), by, reason)
    picture = None if photograph is None else _photograph(photograph)
    taken = clean_checks.record_look(_stage(wafer).stage_id, found, checked=checked or (), photograph=picture, **why)
    give(look_dict(taken), as_json=as_json, show=show_fields)


def skip(
    wafer: WaferArgument, *, data: DataOption = None, by: ByOption = None, reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:  # fmt: skip
    """Leave a wafer's next stage out, with the reason."""
    from lapwright.app import runs
    from lapwright.formats.job_results import recorded_stage_dict

    why = signed(open_records(data), by, reason)
    give(recorded_stage_dict(runs.skip_stage(_stage(wafer).stage_id, **why)), as_json=as_json, show=show_fields)


# ----------------------------------------------------------------------------------------------------------------------


def _photograph(path: Path) -> tuple[str, bytes]:
    from lapwright.formats.photographs import photograph_name

    try:
        content = path.read_bytes()
    except OSError as error:
        sentence = f"The photograph {path} cannot be read: {error.strerror}. Name another file."
        raise BadInput([Fault(sentence=sentence, field="photograph")]) from error
    return photograph_name(content, path.name), content


def _run(wafer: str) -> RecordedRun:
    from lapwright.app import orders

    runs = [one for one in orders.show_wafer(wafer).runs if one.ended is None]
    if not runs:
        raise Conflict(f"No run of wafer {wafer!r} is going on. Start one first.")
    return runs[-1]


def _stage(wafer: str) -> RecordedStage:
    from lapwright.app import orders

    stages = [one for one in orders.show_wafer(wafer).stages if one.state in ("waiting", "running")]
    if not stages:
        raise Conflict(f"Wafer {wafer!r} has no stage waiting. Choose a route and keep its bond first.")
    return stages[0]


def _next(ahead: Any) -> dict[str, Any]:
    from lapwright.formats.edge_values import um
    from lapwright.formats.job_results import recorded_stage_dict, zero_dict
    from lapwright.formats.results import jig_dict

    return {
        "stage": recorded_stage_dict(ahead.stage),
        "thickness_now_um": um(ahead.thickness_now),
        "thickness_after_um": um(ahead.thickness_after),
        "removal_um": um(ahead.removal),
        "preset_um": um(ahead.preset),
        "preset_datum": ahead.preset_datum,
        "preset_contains": [{"part": part, "length_um": um(length)} for part, length in ahead.contains],
        "correction": None if ahead.correction is None else jig_dict(ahead.correction),
        "zero": None if ahead.zero is None else zero_dict(ahead.zero),
        "voids_zero": list(ahead.voids_zero),
        "cautions": list(ahead.cautions),
    }
