"""`lapwright job`: what is done to a wafer, step by step, as on the pages."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, Signed, open_records, signed
from lapwright.cli.orders import OrderArgument
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.clean_check import LookOutcome
from lapwright.model.job import RecordedBond, RecordedRun, RecordedStage
from lapwright.model.order import Quantity
from lapwright.model.wafer import Frame

app = typer.Typer(no_args_is_help=True, add_completion=False)

WaferArgument = Annotated[str, typer.Argument(metavar="WAFER", help="Name of the wafer.")]
StationArgument = Annotated[str, typer.Argument(metavar="STATION", help="Name of the station.")]
JigOption = Annotated[str | None, typer.Option("--jig", help="Name of the jig.")]


@app.command("tasks")
def tasks(*, data: DataOption = None, as_json: JsonOption = False) -> None:
    """List what waits for a hand now, warnings first, then the longest waiting."""
    from lapwright.app.tasks import waiting_tasks
    from lapwright.formats.job_results import task_dict

    open_records(data)
    found = [task_dict(task) for task in waiting_tasks(now=datetime.now(tz=UTC))]
    give({"tasks": found}, as_json=as_json, show=_show_tasks)


@app.command("bond")
def bond(  # noqa: PLR0913  one parameter for each option
    wafer: WaferArgument,
    carrier: Annotated[str, typer.Argument(metavar="CARRIER", help="Name of the carrier.")],
    *,
    adhesive: Annotated[str, typer.Option(help="What holds the wafer.")],
    adhesive_lot: Annotated[str, typer.Option(help="Its lot.")] = "",
    wafer_seen_from: Annotated[
        Literal["worked", "bonded"], typer.Option(help="Face the wafer was seen from when it was read in.")
    ] = "worked",
    wafer_turn_deg: Annotated[float, typer.Option(help="Turn of the wafer when mounted, counter-clockwise.")] = 0.0,
    carrier_turn_deg: Annotated[float, typer.Option(help="Turn of the carrier, counter-clockwise.")] = 0.0,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "bonded",
    as_json: JsonOption = False,
) -> None:
    """Record that a wafer was bonded to a carrier."""
    from lapwright.app import bonding
    from lapwright.formats.job_results import bond_record_dict
    from lapwright.model.request import BondRequest

    why = signed(open_records(data), by, reason)
    request = BondRequest(
        wafer_id=wafer,
        carrier_id=carrier,
        adhesive=adhesive,
        adhesive_lot=adhesive_lot,
        wafer_frame=Frame(seen_from=wafer_seen_from, turn=options.si(wafer_turn_deg, "°", "angle")),
        carrier_frame=Frame(turn=options.si(carrier_turn_deg, "°", "angle")),
    )
    give(bond_record_dict(bonding.record_bond(request, **why)), as_json=as_json, show=_show_fields)


@app.command("judge-bond")
def judge_bond(
    wafer: WaferArgument, *, data: DataOption = None, by: ByOption = None,
    reason: ReasonOption = "stack was read", as_json: JsonOption = False,
) -> None:  # fmt: skip
    """Judge a wafer's bond by the readings of wafer, carrier and stack."""
    from lapwright.app import bonding
    from lapwright.formats.job_results import bond_record_dict

    why = signed(open_records(data), by, reason)
    judged = bonding.judge_bond(_bond(wafer).bond_id, **why)
    give(bond_record_dict(judged), as_json=as_json, show=_show_fields)


@app.command("decide-bond")
def decide_bond(
    wafer: WaferArgument,
    decision: Annotated[Literal["keep", "rebond"], typer.Argument(metavar="keep|rebond", help="What to do.")],
    *,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:
    """Decide to keep a bond or to bond again; against the advice only with a reason."""
    from lapwright.app import bonding
    from lapwright.formats.job_results import bond_record_dict

    why = signed(open_records(data), by, reason)
    decided = bonding.decide_bond(_bond(wafer).bond_id, decision, **why)
    give(bond_record_dict(decided), as_json=as_json, show=_show_fields)


@app.command("debond")
def debond(
    wafer: WaferArgument,
    *,
    method: Annotated[str, typer.Option(help="How it was taken off.")],
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "taken off",
    as_json: JsonOption = False,
) -> None:
    """Record that a wafer was taken off its carrier."""
    from lapwright.app import bonding
    from lapwright.formats.job_results import bond_record_dict

    why = signed(open_records(data), by, reason)
    undone = bonding.record_debond(_bond(wafer).bond_id, method, **why)
    give(bond_record_dict(undone), as_json=as_json, show=_show_fields)


@app.command("route")
def choose_route(
    order: OrderArgument,
    *,
    alternative: Annotated[int, typer.Option(min=1, help="Which of the alternatives, the best is 1.")] = 1,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "best alternative",
    as_json: JsonOption = False,
) -> None:
    """Choose a route for an order, from the wafers as they were read."""
    from lapwright.app import routes
    from lapwright.formats.plans import plan_dict

    why = signed(open_records(data), by, reason)
    plans = routes.propose_routes(order)
    if alternative > len(plans):
        raise Conflict(
            f"There are {len(plans)} alternatives; alternative {alternative} was asked for. Take one of them."
        )
    chosen = routes.choose_route(order, plans[alternative - 1], **why)
    give({"order": order, "route": chosen.route_id, **plan_dict(chosen.plan)}, as_json=as_json, show=_show_fields)


@app.command("next")
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
    give({"wafer": wafer, "next": told}, as_json=as_json, show=_show_fields)


@app.command("zero")
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
    give(zero_dict(runs.take_zero(request, **why)), as_json=as_json, show=_show_fields)


@app.command("start")
def start(
    wafer: WaferArgument,
    station: StationArgument,
    *,
    jig: JigOption = None,
    preset_um: Annotated[float | None, typer.Option(help="What was dialled in, where it is not as planned.")] = None,
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
    request = RunRequest(wafer_id=wafer, station_id=station, jig_id=jig, preset=preset)
    give(run_dict(runs.start_run(request, **why)), as_json=as_json, show=_show_fields)


@app.command("finish")
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
    give(run_dict(ended), as_json=as_json, show=_show_fields)


@app.command("done")
def done(
    wafer: WaferArgument, *, data: DataOption = None, by: ByOption = None, reason: ReasonOption = "done",
    as_json: JsonOption = False,
) -> None:  # fmt: skip
    """Record that a wafer's next stage, a cleaning, is done."""
    from lapwright.app import runs
    from lapwright.formats.job_results import recorded_stage_dict

    why = signed(open_records(data), by, reason)
    give(recorded_stage_dict(runs.complete_stage(_stage(wafer).stage_id, **why)), as_json=as_json, show=_show_fields)


@app.command("look")
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
    give(look_dict(taken), as_json=as_json, show=_show_fields)


@app.command("skip")
def skip(
    wafer: WaferArgument, *, data: DataOption = None, by: ByOption = None, reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:  # fmt: skip
    """Leave a wafer's next stage out, with the reason."""
    from lapwright.app import runs
    from lapwright.formats.job_results import recorded_stage_dict

    why = signed(open_records(data), by, reason)
    give(recorded_stage_dict(runs.skip_stage(_stage(wafer).stage_id, **why)), as_json=as_json, show=_show_fields)


@app.command("finding")
def finding(  # noqa: PLR0913  one parameter for each option
    wafer: WaferArgument,
    quantity: Annotated[Quantity, typer.Argument(metavar="QUANTITY", help="roughness_ra, flatness, bow, …")],
    text: Annotated[str, typer.Argument(metavar="VALUE", help="With unit: '0.8 nm'.")],
    *,
    method: Annotated[str, typer.Option(help="How it was measured.")],
    expanded_uncertainty_nm: Annotated[float | None, typer.Option(help="Its expanded uncertainty, 95 %.")] = None,
    gauge: Annotated[str | None, typer.Option(help="Instrument, if it is recorded.")] = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "measured",
    as_json: JsonOption = False,
) -> None:
    """Record a quantity measured otherwise than by a readings set."""
    from lapwright.app import verdicts
    from lapwright.formats.job_results import finding_dict
    from lapwright.model.request import FindingRequest

    why = signed(open_records(data), by, reason)
    request = FindingRequest(
        wafer_id=wafer,
        quantity=quantity,
        text=text,
        method=method,
        expanded_uncertainty=options.metres_or_none(expanded_uncertainty_nm, "nm"),
        gauge_id=gauge,
    )
    give(finding_dict(verdicts.record_finding(request, **why)), as_json=as_json, show=_show_fields)


@app.command("judge")
def judge(
    wafer: WaferArgument, *, data: DataOption = None, by: ByOption = None,
    reason: ReasonOption = "final readings are in", as_json: JsonOption = False,
) -> None:  # fmt: skip
    """Judge every limit of a wafer's order."""
    from lapwright.app import verdicts
    from lapwright.formats.job_results import verdict_dict

    why = signed(open_records(data), by, reason)
    judged = [verdict_dict(one) for one in verdicts.judge_wafer(wafer, **why)]
    give({"wafer": wafer, "verdicts": judged}, as_json=as_json, show=_show_verdicts)


@app.command("set-aside")
def set_aside(
    wafer: WaferArgument, *, data: DataOption = None, by: ByOption = None, reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:  # fmt: skip
    """Take a wafer out of the work until it is taken up again."""
    from lapwright.app import orders

    _move(wafer, orders.set_aside, signed(open_records(data), by, reason), as_json=as_json)


@app.command("take-up")
def take_up(
    wafer: WaferArgument, *, data: DataOption = None, by: ByOption = None, reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:  # fmt: skip
    """Go on with a wafer that was set aside."""
    from lapwright.app import orders

    _move(wafer, orders.take_up, signed(open_records(data), by, reason), as_json=as_json)


@app.command("reject")
def reject(
    wafer: WaferArgument, *, data: DataOption = None, by: ByOption = None, reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:  # fmt: skip
    """End the work on a wafer that will not be delivered, with the reason."""
    from lapwright.app import orders

    _move(wafer, orders.reject_wafer, signed(open_records(data), by, reason), as_json=as_json)


# ----------------------------------------------------------------------------------------------------------------------


def _photograph(path: Path) -> tuple[str, bytes]:
    from lapwright.formats.photographs import photograph_name

    try:
        content = path.read_bytes()
    except OSError as error:
        sentence = f"The photograph {path} cannot be read: {error.strerror}. Name another file."
        raise BadInput([Fault(sentence=sentence, field="photograph")]) from error
    return photograph_name(content, path.name), content


def _move(wafer: str, use_case: Any, why: Signed, *, as_json: bool) -> None:
    from lapwright.formats.job_results import wafer_dict

    give(wafer_dict(use_case(wafer, **why)), as_json=as_json, show=_show_fields)


def _bond(wafer: str) -> RecordedBond:
    from lapwright.app import orders

    bonds = [one for one in orders.show_wafer(wafer).bonds if one.undone is None]
    if not bonds:
        raise Conflict(f"Wafer {wafer!r} is on no carrier. Bond it first.")
    return bonds[-1]


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


def _show_tasks(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table

    if not result["tasks"]:
        print_line("Nothing waits for a hand.")
        return
    rows = [
        (one["wafer"] or one["station"] or "–", one["verb"], _dial(one["number"]), one["since"][:16], one["why"])
        for one in result["tasks"]
    ]
    print_table(("wafer", "do", "number", "since, UTC", "why"), rows)


def _dial(number: Mapping[str, Any] | None) -> str:
    if number is None:
        return "–"
    field = next(name for name in number if name != "label")
    return f"{number['label']} {number[field]:g} {field.removeprefix('value_').replace('um', 'µm')}"


def _show_verdicts(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_table

    rows = [(one["quantity"], one["outcome"].replace("_", " "), one["reason"]) for one in result["verdicts"]]
    print_table(("limit", "verdict", "why"), rows, title=result["wafer"])


def _show_fields(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_fields

    print_fields(result)
