"""`lapwright order`: orders received, listed and shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, open_records, signed

app = typer.Typer(help="Record, list and show orders.", no_args_is_help=True, add_completion=False)

OrderArgument = Annotated[str, typer.Argument(metavar="ORDER", help="Name of the order.")]


@app.command("new")
def order_new(
    file: Annotated[Path, typer.Argument(metavar="ORDER.toml", help="Order file.")],
    *,
    wafer: Annotated[list[str] | None, typer.Option("--wafer", help="Name of a wafer, once for each.")] = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "order received",
    as_json: JsonOption = False,
) -> None:
    """Record an order and its wafers from an order file."""
    from lapwright.app import orders
    from lapwright.formats.job_results import recorded_order_dict
    from lapwright.formats.json_line import warning_dict
    from lapwright.formats.order_toml import read_order

    order = read_order(file)
    settings = open_records(data)
    recorded = orders.receive_order(order, wafer_ids=tuple(wafer or ()), **signed(settings, by, reason))
    doubts = orders.gauge_doubts(order, on=recorded.signature.at.date())
    warnings = [warning_dict("order.gauge_cannot_prove", sentence) for sentence in doubts]
    give(recorded_order_dict(recorded), as_json=as_json, show=_show_new, warnings=warnings)


@app.command("list")
def order_list(*, data: DataOption = None, as_json: JsonOption = False) -> None:
    """List all orders, the earliest due first."""
    from lapwright.app import orders
    from lapwright.formats.job_results import order_line_dict

    open_records(data)
    lines = [order_line_dict(line) for line in orders.list_orders()]
    give({"orders": lines}, as_json=as_json, show=_show_list)


@app.command("show")
def order_show(order: OrderArgument, *, data: DataOption = None, as_json: JsonOption = False) -> None:
    """Show an order: its wafers, where each stands, its verdicts and documents."""
    from lapwright.app import orders
    from lapwright.formats.job_results import order_brief_dict

    open_records(data)
    give(order_brief_dict(orders.order_brief(order)), as_json=as_json, show=_show_story)


# ----------------------------------------------------------------------------------------------------------------------


def _show_new(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    print_line(f"Order {result['order']} recorded with wafers {', '.join(result['wafers'])}.")


def _show_list(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table

    if not result["orders"]:
        print_line("No order is recorded yet. Record one: lapwright order new ORDER.toml")
        return
    rows = [
        (
            line["order"],
            line["customer"],
            line["material"],
            str(line["quantity"]),
            line["due"] or "–",
            ", ".join(f"{count} {state.replace('_', ' ')}" for state, count in line["states"].items()),
            (line["worst_verdict"] or "–").replace("_", " "),
        )
        for line in result["orders"]
    ]
    print_table(("order", "customer", "material", "pieces", "due", "wafers", "worst verdict"), rows, numbers=(3,))


def _show_story(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    print_line(f"Order {result['order']} for {result['customer']}: {result['material']}")
    print_line(f"Target {shown(result['target_thickness_um'], 1)} µm; route: {result['route'] or 'none chosen yet'}")
    rows = [
        (
            wafer["wafer"] + (" (spare)" if wafer["spare"] else ""),
            wafer["state"].replace("_", " "),
            wafer["carrier"] or "–",
            f"{sum(one['state'] in ('done', 'skipped') for one in wafer['stages'])} of {len(wafer['stages'])}",
            _verdicts(wafer["verdicts"]),
        )
        for wafer in result["wafers"]
    ]
    print_table(("wafer", "stands", "carrier", "stages", "verdicts"), rows)
    for document in result["documents"]:
        print_line(f"{document['kind']}: {document['name']} ({document['path']})")


def _verdicts(every: Sequence[Mapping[str, Any]]) -> str:
    """The verdict that stands on each quantity: the last one."""
    standing = {one["quantity"]: one["outcome"] for one in every}
    return ", ".join(f"{quantity}: {outcome}".replace("_", " ") for quantity, outcome in standing.items()) or "–"
