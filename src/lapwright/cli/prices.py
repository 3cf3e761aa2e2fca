"""`lapwright prices`: what work costs: shown, recorded in versions, and what each version changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, open_records, signed
from lapwright.errors import BadInput, Fault, LapwrightError

app = typer.Typer(help="What work costs: shown, and recorded in versions.", no_args_is_help=True, add_completion=False)


@app.command("show")
def show(*, data: DataOption = None, as_json: JsonOption = False) -> None:
    """Show the prices that hold; the usual ones while none are recorded."""
    from lapwright.app import prices
    from lapwright.formats.price_results import price_dict

    open_records(data)
    give(price_dict(prices.price_list(), prices.recorded_prices()), as_json=as_json, show=_show)


@app.command("set")
def set_prices(  # noqa: PLR0913  one parameter for each option
    *,
    currency: Annotated[str | None, typer.Option(help="What the money is called: EUR.")] = None,
    labour_per_hour: Annotated[float | None, typer.Option(help="An hour of a person.")] = None,
    station_per_hour: Annotated[float | None, typer.Option(help="An hour of a station not named otherwise.")] = None,
    station: Annotated[
        list[str] | None, typer.Option(metavar="NAME=PRICE", help="An hour of one station; NAME= takes it back.")
    ] = None,
    slurry: Annotated[
        list[str] | None, typer.Option(metavar="KIND=PRICE", help="An hour of slurry of one kind of abrasive.")
    ] = None,
    pad_price: Annotated[float | None, typer.Option(help="One pad.")] = None,
    pad_life_h: Annotated[float | None, typer.Option(help="Hours that it lasts.")] = None,
    piece_price: Annotated[float | None, typer.Option(help="What each wafer uses up besides.")] = None,
    scrap_price: Annotated[float | None, typer.Option(help="A lost wafer whose order names no value.")] = None,
    measuring_min: Annotated[float | None, typer.Option(help="A person's minutes for one measurement.")] = None,
    cleaning_min: Annotated[float | None, typer.Option(help="A person's minutes for one cleaning.")] = None,
    set_up_min: Annotated[float | None, typer.Option(help="A person's minutes to set up an order.")] = None,
    overhead_percent: Annotated[float | None, typer.Option(help="Share on all that the lab spends.")] = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "new prices",
    as_json: JsonOption = False,
) -> None:
    """Record a new version of the price list; what is not given stays as it is."""
    from lapwright.app import prices
    from lapwright.formats.price_results import price_dict

    settings = open_records(data)
    held, recorded = prices.price_list(), prices.recorded_prices()
    told: dict[str, Any] = {
        "currency": currency, "labour": labour_per_hour, "station_hour": station_per_hour, "pad": pad_price,
        "pad_life": None if pad_life_h is None else 3600.0 * pad_life_h,
        "piece_price": piece_price, "scrap": scrap_price,
        "measuring_time": None if measuring_min is None else 60.0 * measuring_min,
        "cleaning_time": None if cleaning_min is None else 60.0 * cleaning_min,
        "set_up_time": None if set_up_min is None else 60.0 * set_up_min,
        "overhead": None if overhead_percent is None else 0.01 * overhead_percent,
        "station_hours": _priced(held.station_hours, station or [], "station"),
        "slurry_hours": _priced(held.slurry_hours, slurry or [], "slurry"),
    }  # fmt: skip
    wanted = replace(held, **{name: value for name, value in told.items() if value is not None})
    after = 0 if recorded is None else recorded.number
    kept = prices.record_prices(wanted, after=after, **signed(settings, by, reason))
    give(price_dict(prices.price_list(), kept), as_json=as_json, show=_show)


@app.command("versions")
def versions(*, data: DataOption = None, as_json: JsonOption = False) -> None:
    """List the versions of the price list, the latest last, and what each changed."""
    from lapwright.app import prices
    from lapwright.formats.price_results import price_dict

    open_records(data)
    listed: list[dict[str, Any]] = []
    before = prices.usual_prices()
    for one in prices.price_versions():
        listed.append({**price_dict(one.prices, one), "changed": list(prices.differences(before, one.prices))})
        before = one.prices
    give({"versions": listed}, as_json=as_json, show=_show_versions)


# ----------------------------------------------------------------------------------------------------------------------


def _priced(held: tuple[tuple[str, float], ...], told: list[str], option: str) -> tuple[tuple[str, float], ...]:
    """The prices by name with those told put in their place; all faults at once."""
    from lapwright.units import number

    found, faults = dict(held), []
    for text in told:
        name, sign, price = text.partition("=")
        try:
            if not sign:
                faults.append(Fault(sentence=f"--{option}: found {text!r}, expected NAME=PRICE.", field=option))
            elif price.strip():
                found[name.strip()] = number(price)
            else:
                found.pop(name.strip(), None)
        except LapwrightError as error:
            faults.append(Fault(sentence=f"--{option} {name}: {error.sentence}", field=option))
    if faults:
        raise BadInput(faults, subject="The price list")
    return tuple(found.items())


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table

    rows = [
        ("an hour of a person", f"{result['labour_per_hour']:g}"),
        ("an hour of a station", f"{result['station_per_hour']:g}"),
        *((f"an hour of station {one['station']}", f"{one['per_hour']:g}") for one in result["stations"]),
        *((f"an hour of slurry, {one['abrasive_kind']}", f"{one['per_hour']:g}") for one in result["slurries"]),
        ("a pad", f"{result['pad_price']:g}"),
        ("hours that it lasts", f"{result['pad_life_h']:g}"),
        ("consumables of a wafer", f"{result['piece_price']:g}"),
        ("a lost wafer", "as its order says" if result["scrap_price"] is None else f"{result['scrap_price']:g}"),
        ("minutes of a measurement", f"{result['measuring_min']:g}"),
        ("minutes of a cleaning", f"{result['cleaning_min']:g}"),
        ("minutes to set up an order", f"{result['set_up_min']:g}"),
        ("overhead, %", f"{result['overhead_percent']:g}"),
    ]
    print_table(("what", result["currency"] or "no particular currency"), rows, numbers=(1,))
    if result["version"]:
        print_line(f"Version {result['version']}, by {result['by']}, {result['at']}: {result['reason']}.")
    else:
        print_line("Usual prices: none of this lab are recorded.")


def _show_versions(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    for one in result["versions"]:
        changed = "; ".join(one["changed"]) or "nothing changed"
        print_line(f"{one['version']}. {one['at']}, {one['by']}: {one['reason']}. {changed}.")
    if not result["versions"]:
        print_line("None recorded: the usual prices hold.")
