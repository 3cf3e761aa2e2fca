"""`lapwright supplies`: what is used up, by lot: what is left, whether it may be used, when to order more."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from lapwright.cli.answer import JsonOption, give, show_fields
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, open_records, signed
from lapwright.errors import BadInput, Fault
from lapwright.model.supply import Measure, SupplyKind, UseKind

if TYPE_CHECKING:
    from lapwright.app.supplies import LotCard

app = typer.Typer(
    help="What is used up, by lot: what is left, and when to order more.", no_args_is_help=True, add_completion=False
)

LotArgument = Annotated[str, typer.Argument(metavar="LOT", help="Name of the lot.")]
Unit = Literal["l", "ml", "kg", "g", "pieces"]
UnitOption = Annotated[Unit, typer.Option(help="Unit of the amount.")]
_YES = {True: "yes", False: "no"}
_MEASURES: dict[str, tuple[Measure, float]] = {
    "l": ("volume", 1e-3), "ml": ("volume", 1e-6), "kg": ("mass", 1.0), "g": ("mass", 1e-3), "pieces": ("count", 1.0),
}  # fmt: skip


@app.command("list")
def supplies_list(*, data: DataOption = None, as_json: JsonOption = False) -> None:
    """List all lots as they stand, and each item with the day to order it."""
    from lapwright.app import supplies
    from lapwright.formats.supply_results import stock_dict

    open_records(data)
    today = datetime.now(tz=UTC).date()
    cards = supplies.lot_cards(on=today)
    stocks = [
        stock_dict(one.item, one.measure, one.left, one.outlook, one.order_by)
        for one in supplies.item_stocks(cards, on=today)
    ]
    give({"items": stocks, "lots": [_lot(card) for card in cards]}, as_json=as_json, show=_show)


@app.command("show")
def show(lot: LotArgument, *, data: DataOption = None, as_json: JsonOption = False) -> None:
    """Show one lot: what is left, the wafers it touched, what was taken by hand."""
    from lapwright.app import supplies

    open_records(data)
    give(_whole(supplies.lot_card(lot, on=datetime.now(tz=UTC).date())), as_json=as_json, show=show_fields)


@app.command("lot")
def record_lot(  # noqa: PLR0913  one parameter for each option
    lot: LotArgument,
    kind: Annotated[SupplyKind, typer.Argument(metavar="KIND", help="slurry, abrasive, adhesive, solvent or pad.")],
    item: Annotated[str, typer.Argument(metavar="ITEM", help="As in the library, or a name of the lab's own.")],
    amount: Annotated[float, typer.Argument(metavar="AMOUNT", help="What came.")],
    *,
    unit: UnitOption = "l",
    received: Annotated[datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Day it came; today.")] = None,
    expires: Annotated[datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Last day it is good.")] = None,
    feed_ml_per_min: Annotated[float | None, typer.Option(help="What a running station takes of it.")] = None,
    lead_days: Annotated[float, typer.Option(min=0.0, help="Days from an order to its delivery.")] = 0.0,
    per_bond: Annotated[float | None, typer.Option(help="What bonding one wafer takes, in the same unit.")] = None,
    held: Annotated[str, typer.Option(help="Why it may not be used; empty while it may.")] = "",
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "came",
    as_json: JsonOption = False,
) -> None:
    """Record a lot that came, or what changed about it."""
    from lapwright.app import supplies
    from lapwright.model.supply import SupplyLot

    measure, factor = _MEASURES[unit]
    why = signed(open_records(data), by, reason)
    new = SupplyLot(
        lot_id=lot, kind=kind, item=item, measure=measure, amount=amount * factor,
        received=_day(received) or why["at"].date(), expires=_day(expires),
        feed=None if feed_ml_per_min is None else feed_ml_per_min * 1e-6 / 60.0, lead_time=lead_days * 86_400.0,
        held=held, per_bond=None if per_bond is None else per_bond * factor,
    )  # fmt: skip
    supplies.record_lot(new, **why)
    give(_whole(supplies.lot_card(lot, on=why["at"].date())), as_json=as_json, show=show_fields)


@app.command("rename")
def rename(
    lot: LotArgument,
    name: Annotated[str, typer.Argument(metavar="NAME", help="The new name.")],
    *,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "renamed",
    as_json: JsonOption = False,
) -> None:
    """Give a lot another name; wafers and stations go with it, and the old name still finds it."""
    from lapwright.app import supplies

    why = signed(open_records(data), by, reason)
    found = supplies.rename_lot(lot, name, **why)
    give(_whole(supplies.lot_card(found.lot.lot_id, on=why["at"].date())), as_json=as_json, show=show_fields)


@app.command("of-wafer")
def of_wafer(
    wafer: Annotated[str, typer.Argument(metavar="WAFER", help="Name of the wafer.")],
    *,
    data: DataOption = None,
    as_json: JsonOption = False,
) -> None:
    """List what went into a wafer: lots of adhesive and abrasive, pads and plates."""
    from lapwright.app import lot_traces
    from lapwright.formats.supply_results import used_dict

    open_records(data)
    found = [used_dict(one) for one in lot_traces.lots_of_wafer(wafer)]
    give({"wafer": wafer, "used": found}, as_json=as_json, show=_show_used)


@app.command("take")
def take(
    lot: LotArgument,
    kind: Annotated[UseKind, typer.Argument(metavar="KIND", help="used, discarded or counted.")],
    amount: Annotated[float, typer.Argument(metavar="AMOUNT", help="How much; of a count what is left.")],
    *,
    unit: UnitOption = "l",
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:
    """Record what was taken of a lot by hand, thrown away, or counted."""
    from lapwright.app import supplies

    why = signed(open_records(data), by, reason)
    measure, factor = _MEASURES[unit]
    wanted = supplies.lot_card(lot, on=why["at"].date()).recorded.lot.measure
    if measure != wanted:
        raise BadInput([Fault(sentence=f"Lot {lot} is measured by {wanted}, found {unit}. Give that.", field="unit")])
    supplies.take_of_lot(lot, kind, amount * factor, **why)
    give(_whole(supplies.lot_card(lot, on=why["at"].date())), as_json=as_json, show=show_fields)


# ----------------------------------------------------------------------------------------------------------------------


def _day(moment: datetime | None) -> date | None:
    return None if moment is None else moment.date()


def _lot(card: LotCard) -> dict[str, Any]:
    from lapwright.formats.supply_results import lot_dict

    return lot_dict(card.recorded.lot, left=card.left, may=card.may, stations=card.stations)


def _whole(card: LotCard) -> dict[str, Any]:
    from lapwright.formats.supply_results import use_dict

    measure = card.recorded.lot.measure
    wafers = [{"order": order, "wafer": wafer} for order, wafer in card.wafers]
    return {**_lot(card), "wafers": wafers, "uses": [use_dict(one, measure) for one in card.recorded.uses]}


def _show_used(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_table

    lines = [
        (one["name"], one["kind"], one["item"] or "–", one["station"] or "–", one["at"][:16], _YES[one["on_shelf"]])
        for one in result["used"]
    ]
    print_table(("name", "kind", "item", "station", "when", "on the shelf"), lines)


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_table, shown

    items = [
        (one["item"], one["order_by"] or "–", f"{shown(one['left'])} {one['unit']}", shown(one["lasts_days"], 0))
        for one in result["items"]
    ]
    print_table(("item", "order by", "left", "lasts, days"), items, numbers=(2, 3))
    lots = [
        (one["lot"], one["item"], one["may_be_used"], f"{shown(one['left'])} {one['unit']}", one["expires"] or "–")
        for one in result["lots"]
    ]
    print_table(("lot", "item", "may be used", "left", "good until"), lots, numbers=(3,))
