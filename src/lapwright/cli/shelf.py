"""`lapwright shelf`: people, gauges, carriers, jigs and stations recorded and listed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Annotated, Any, Literal

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, open_records, signed
from lapwright.model.shelf import StationKind

app = typer.Typer(
    help="Record and list people, gauges, carriers, jigs and stations.", no_args_is_help=True, add_completion=False
)

NameArgument = Annotated[str, typer.Argument(metavar="NAME", help="Its name.")]


@app.command("list")
def shelf_list(*, data: DataOption = None, as_json: JsonOption = False) -> None:
    """List what stands on the shelf and in the room, and who works here."""
    from lapwright.app import gauges, people, shelf

    open_records(data)
    today = datetime.now(tz=UTC).date()
    result = {
        "people": [one.name for one in people.list_people()],
        "gauges": [
            {"gauge": one.gauge.gauge_id, "calibration": one.calibration_state} for one in gauges.list_gauges(on=today)
        ],
        "carriers": [
            {"carrier": one.carrier.carrier_id, "wafer": one.wafer_id, "set": one.set_id}
            for one in shelf.list_carriers()
        ],
        "jigs": [one.jig.jig_id for one in shelf.list_jigs()],
        "stations": [
            {"station": one.station.station_id, "plate": one.station.plate, "abrasive": one.station.abrasive}
            for one in shelf.list_stations()
        ],
    }
    give(result, as_json=as_json, show=_show)


@app.command("person")
def person(
    name: NameArgument,
    *,
    full_name: Annotated[str, typer.Option(help="Name as certificates print it.")] = "",
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "works here",
    as_json: JsonOption = False,
) -> None:
    """Record somebody who works here."""
    from lapwright.app import people

    added = people.add_person(name, full_name, **signed(open_records(data), by, reason))
    give({"name": added.name, "full_name": added.full_name}, as_json=as_json, show=_show)


@app.command("gauge")
def gauge(  # noqa: PLR0913  one parameter for each option
    name: NameArgument,
    *,
    limit_um: Annotated[float, typer.Option("--limit-um", min=0.0, help="Accuracy limit (±).")],
    local_um: options.GaugeLocalOption = None,
    resolution_um: options.GaugeResolutionOption = None,
    repeatability_um: options.GaugeRepeatabilityOption = None,
    described: Annotated[str, typer.Option(help="What it is.")] = "",
    when_unfit: Annotated[
        Literal["flag", "block"] | None,
        typer.Option(help="What happens to new sets while it is past due or failed; as before unless given."),
    ] = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "recorded",
    as_json: JsonOption = False,
) -> None:
    """Record a gauge, or what is newly known of it."""
    from lapwright.app import gauge_care, gauges
    from lapwright.model.readings import Gauge

    signature = signed(open_records(data), by, reason)
    known = Gauge(
        gauge_id=name,
        name=described or name,
        limit=options.metres(limit_um, "µm"),
        local=options.metres_or_none(local_um, "µm"),
        resolution=options.metres(resolution_um or 0.0, "µm"),
        repeatability=options.metres_or_none(repeatability_um, "µm"),
        when_unfit=when_unfit or gauge_care.policy_of(name),
    )
    recorded = gauges.register_gauge(known, **signature)
    give({"gauge": name, "calibration": recorded.calibration_state}, as_json=as_json, show=_show)


@app.command("calibration")
def calibration(  # noqa: PLR0913  one parameter for each option
    gauge_name: Annotated[str, typer.Argument(metavar="GAUGE", help="Name of the gauge.")],
    certificate: Annotated[str, typer.Argument(metavar="CERTIFICATE", help="Its certificate.")],
    *,
    done: Annotated[datetime, typer.Option(formats=["%Y-%m-%d"], help="Day it was done.")],
    due: Annotated[datetime, typer.Option(formats=["%Y-%m-%d"], help="Day the next is due.")],
    deviation_um: Annotated[float, typer.Option(help="Deviation found.")],
    expanded_uncertainty_um: Annotated[float, typer.Option(min=0.0, help="Its expanded uncertainty, 95 %.")],
    passed: Annotated[bool, typer.Option("--passed/--failed", help="Whether the gauge passed.")] = True,
    as_found_um: Annotated[float | None, typer.Option(help="Largest deviation before anything was adjusted.")] = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "calibrated",
    as_json: JsonOption = False,
) -> None:
    """Record a calibration of a gauge."""
    from lapwright.app import gauges
    from lapwright.model.readings import Calibration

    found = Calibration(
        gauge_id=gauge_name,
        certificate=certificate,
        done=done.date(),
        due=due.date(),
        deviation=options.metres(deviation_um, "µm"),
        expanded_uncertainty=options.metres(expanded_uncertainty_um, "µm"),
        passed=passed,
        interval_days=max((due - done).days, 0) or None,
        as_found=options.metres_or_none(as_found_um, "µm"),
    )
    recorded = gauges.record_calibration(found, **signed(open_records(data), by, reason))
    give({"gauge": gauge_name, "calibration": recorded.calibration_state}, as_json=as_json, show=_show)


@app.command("carrier")
def carrier(
    name: NameArgument,
    *,
    material: Annotated[str, typer.Option(help="What it is made of.")],
    diameter_mm: Annotated[float, typer.Option(min=0.0, help="Its diameter.")],
    thickness_mm: Annotated[float, typer.Option(min=0.0, help="Its nominal thickness.")],
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "on the shelf",
    as_json: JsonOption = False,
) -> None:
    """Record a carrier."""
    from lapwright.app import shelf
    from lapwright.model.wafer import Carrier

    received = Carrier(
        carrier_id=name,
        material=material,
        diameter=options.metres(diameter_mm, "mm"),
        nominal_thickness=options.metres(thickness_mm, "mm"),
    )
    shelf.receive_carrier(received, **signed(open_records(data), by, reason))
    give({"carrier": name}, as_json=as_json, show=_show)


@app.command("jig")
def jig(  # noqa: PLR0913  one parameter for each option
    name: NameArgument,
    *,
    adjuster_radius_mm: Annotated[float, typer.Option(min=0.0, help="How far from the axis the adjusters stand.")],
    adjuster_azimuths_deg: Annotated[str, typer.Option(help="Where, jig face up: 90,210,330")],
    um_per_division: Annotated[float, typer.Option(min=0.0, help="What one division moves.")],
    division_step: Annotated[float, typer.Option(min=0.0, help="Smallest part of a division.")] = 0.25,
    mass_kg: Annotated[float, typer.Option(min=0.0, help="What rests on the wafer without weights.")] = 0.0,
    clockwise: Annotated[
        Literal["near", "away"] | None,
        typer.Option(help="Where a clockwise turn, seen by who turns it, brings the wafer; try it with one turn."),
    ] = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "on the shelf",
    as_json: JsonOption = False,
) -> None:
    """Record a jig, or its changed geometry; what was learned of its screws stays while they do."""
    from lapwright.app import jig_moves, shelf
    from lapwright.model.shelf import Jig
    from lapwright.units import number

    signature = signed(open_records(data), by, reason)
    azimuths = tuple(math.radians(number(text)) for text in adjuster_azimuths_deg.split(","))
    advance = options.metres(um_per_division, "µm")
    known = Jig(
        jig_id=name,
        name=name,
        adjuster_radius=options.metres(adjuster_radius_mm, "mm"),
        adjuster_azimuths=azimuths,
        advance_per_division=advance,
        division_step=division_step,
        mass=mass_kg,
        clockwise_brings_near=None if clockwise is None else clockwise == "near",
        learned_advances=jig_moves.learned_before(name, advance, azimuths),
    )
    shelf.register_jig(known, **signature)
    give({"jig": name}, as_json=as_json, show=_show)


@app.command("station")
def station(  # noqa: PLR0913  one parameter for each option
    name: NameArgument,
    *,
    kind: Annotated[StationKind, typer.Option(help="What is done there.")],
    plate: Annotated[str | None, typer.Option(help="Plate or pad on it now, by its name in the library.")] = None,
    abrasive: Annotated[str | None, typer.Option(help="Abrasive or slurry on it now, likewise.")] = None,
    plate_piece: Annotated[str | None, typer.Option(help="Name of this very plate or pad.")] = None,
    abrasive_lot: Annotated[str | None, typer.Option(help="Lot of the abrasive on it now.")] = None,
    fresh: Annotated[bool, typer.Option("--fresh", help="Fresh slurry was put on now.")] = False,
    dressed: Annotated[bool, typer.Option("--dressed", help="Plate or pad was dressed now.")] = False,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "set up",
    as_json: JsonOption = False,
) -> None:
    """Record a station and what is on it now; another plate or abrasive voids the zeros taken there."""
    from lapwright.app import shelf, station_setup
    from lapwright.model.shelf import Station

    signature = signed(open_records(data), by, reason)
    known = Station(
        station_id=name,
        name=name,
        kind=kind,
        plate=plate,
        abrasive=abrasive,
        plate_piece=plate_piece,
        abrasive_lot=abrasive_lot,
    )
    shelf.set_up_station(
        station_setup.with_ages(known, is_charged=fresh, is_dressed=dressed, at=signature["at"]), **signature
    )
    give({"station": name, "plate": plate, "abrasive": abrasive}, as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_table

    print_table(("what", "recorded"), [(name, "–" if value is None else str(value)) for name, value in result.items()])
