"""`lapwright quote`: what a job costs and when it is done, with its chances; recorded when asked."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, open_records, signed
from lapwright.errors import BadInput, Fault

app = typer.Typer(add_completion=False)


@app.command()
def quote(  # noqa: PLR0913  one parameter for each option
    file: Annotated[Path | None, typer.Argument(metavar="ORDER.toml", help="Order file of a request.")] = None,
    *,
    order: Annotated[str | None, typer.Option(help="Name of an order on record instead.")] = None,
    record: Annotated[
        bool, typer.Option("--record", help="Record it as the order's next quotation, with PDF.")
    ] = False,
    start: Annotated[int | None, typer.Option(help="Wafers to start; else as many as the chance asks for.")] = None,
    chance_percent: Annotated[float, typer.Option(help="Chance of delivering the whole quantity.")] = 90.0,
    valid_days: Annotated[int, typer.Option(help="Days that it holds.")] = 30,
    language: Annotated[Literal["en", "de"] | None, typer.Option(help="Language of the PDF.")] = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "quotation asked for",
    as_json: JsonOption = False,
) -> None:
    """What an order costs at 50 and 90 % chance, when it is done, and how many wafers to start."""
    from lapwright.app import quotation_actual, quotations
    from lapwright.formats.quotation_results import order_quote_dict, quotation_dict

    if (file is None) == (order is None) or (record and order is None):
        sentence = "Give an order file, or --order with the name of one on record; only that can be recorded."
        raise BadInput([Fault(sentence=sentence, field="order")])
    settings = open_records(data)
    offer = quotations.Offer(confidence=0.01 * chance_percent, started=start, valid_days=valid_days)
    why = signed(settings, by, reason)
    on = why["at"].date()
    if record and order is not None:
        kept = quotations.record_quotation(order, offer=offer, language=language, **why)
        result = quotation_dict(kept.quotation, kept)
    elif order is not None:
        result = order_quote_dict(
            quotations.reckon_order(order, on=on, offer=offer), quotation_actual.latest_actual(order)
        )
    else:
        if not Path(str(file)).exists() and "." not in str(file):
            sentence = f"There is no file {str(file)!r}. For an order on record give --order {file}."
            raise BadInput([Fault(sentence=sentence, field="file")])
        result = quotation_dict(quotations.reckon_file(str(file), on=on, offer=offer))
    give(result, as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table

    money = result["currency"] or "in no particular currency"
    print_line(
        f"{result['order']}: {result['piece_price_50']:.2f} a piece, {result['price_50']:.2f} in total at 50 %;"
        f" {result['piece_price_90']:.2f} and {result['price_90']:.2f} at 90 % ({money})."
    )
    print_line(
        f"Start {result['wafers_to_start']} to deliver {result['quantity']}"
        f" ({100.0 * result['chance_of_enough']:.0f} %); one fewer: {100.0 * result['chance_with_one_fewer']:.0f} %."
    )
    print_line(f"Done by {result['delivery_50']} (50 %), {result['delivery_90']} (90 %). {result['route']}.")
    rows = [
        (one["stage"], f"{one['cost']:.2f}", f"{one['cost_low']:.2f} … {one['cost_high']:.2f}")
        for one in result["stages"]
    ]
    rows.append(("together", f"{result['cost_expected']:.2f}", f"{result['cost_low']:.2f} … {result['cost_high']:.2f}"))
    print_table(("stage", "expected", "nine of ten jobs"), rows, numbers=(1,))
    if result["number"]:
        print_line(f"Recorded as {result['number']}, holds until {result['valid_until']}.")
