"""`lapwright job`: what is done to a wafer, step by step, as on the pages."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Annotated, Any

import typer

from lapwright.cli import job_bonds, job_stages, options
from lapwright.cli.answer import JsonOption, give, show_fields
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, Signed, WaferArgument, open_records, signed
from lapwright.cli.orders import OrderArgument
from lapwright.errors import Conflict
from lapwright.model.order import Quantity

app = typer.Typer(
    help="Do the steps of a wafer one by one, as on the pages.", no_args_is_help=True, add_completion=False
)


@app.command("tasks")
def tasks(*, data: DataOption = None, as_json: JsonOption = False) -> None:
    """List what waits for a hand now, warnings first, then the longest waiting."""
    from lapwright.app.tasks import waiting_tasks
    from lapwright.formats.job_results import task_dict

    open_records(data)
    found = [task_dict(task) for task in waiting_tasks(now=datetime.now(tz=UTC))]
    give({"tasks": found}, as_json=as_json, show=_show_tasks)


app.command("bond")(job_bonds.bond)
app.command("judge-bond")(job_bonds.judge_bond)
app.command("decide-bond")(job_bonds.decide_bond)
app.command("debond")(job_bonds.debond)


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
    give({"order": order, "route": chosen.route_id, **plan_dict(chosen.plan)}, as_json=as_json, show=show_fields)


app.command("next")(job_stages.next_stage)
app.command("zero")(job_stages.zero)
app.command("start")(job_stages.start)
app.command("finish")(job_stages.finish)
app.command("done")(job_stages.done)
app.command("look")(job_stages.look)
app.command("skip")(job_stages.skip)


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
    give(finding_dict(verdicts.record_finding(request, **why)), as_json=as_json, show=show_fields)


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


def _move(wafer: str, use_case: Any, why: Signed, *, as_json: bool) -> None:
    from lapwright.formats.job_results import wafer_dict

    give(wafer_dict(use_case(wafer, **why)), as_json=as_json, show=show_fields)


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
