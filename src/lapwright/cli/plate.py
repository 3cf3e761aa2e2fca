"""`lapwright plate`: plates recorded, their checks, their ring, how they stand and where to set the ring next."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, open_records, signed
from lapwright.errors import CommandLineError
from lapwright.model.plates import CheckMethod

app = typer.Typer(
    help="Plates: checks, how they stand, and where to set the ring next.", no_args_is_help=True, add_completion=False
)

PlateArgument = Annotated[str, typer.Argument(metavar="PLATE", help="Its short name.")]
RanOption = Annotated[
    float | None, typer.Option("--ran-min", min=0.0, help="Running time since its last line; else by recorded runs.")
]


@app.command("list")
def plates(*, data: DataOption = None, as_json: JsonOption = False) -> None:
    """List the plates: how domed or dished, and which are due."""
    from lapwright.app.plates import list_plates
    from lapwright.formats.plate_results import trend_dict

    open_records(data)
    found = [
        {"plate": now.plate.plate_id, "trend": trend_dict(now.trend), "due": now.due, "sentence": now.sentence}
        for now in list_plates(at=datetime.now(tz=UTC))
    ]
    give({"plates": found}, as_json=as_json, show=_show_list)


@app.command("show")
def show(plate: PlateArgument, *, data: DataOption = None, as_json: JsonOption = False) -> None:
    """Show a plate: its shape over time, where to set the ring, when to look again."""
    from lapwright.app.plates import show_plate

    open_records(data)
    give(_standing(show_plate(plate, at=datetime.now(tz=UTC))), as_json=as_json, show=_show)


@app.command("add")
def add(  # noqa: PLR0913  one parameter for each option
    plate: PlateArgument,
    *,
    name: Annotated[str, typer.Option(help="What it is.")],
    land_inner_mm: Annotated[float, typer.Option(min=0.0, help="Inner radius of its working land.")],
    land_outer_mm: Annotated[float, typer.Option(help="Outer radius of the land.")],
    ring_outer_mm: Annotated[float, typer.Option(help="Outer radius of its ring.")],
    ring_inner_mm: Annotated[float, typer.Option(min=0.0, help="Inner radius; 0 for a ring filled with work.")] = 0.0,
    least_offset_mm: Annotated[float, typer.Option(min=0.0, help="Nearest place of the ring's axis to the plate's.")],
    most_offset_mm: Annotated[float, typer.Option(help="Farthest place.")],
    offset_mm: Annotated[float, typer.Option(help="Where the ring stands now.")],
    speed_ratio: Annotated[float, typer.Option(help="Speed of the ring over that of the plate.")] = 1.0,
    station: Annotated[
        str | None, typer.Option(help="Station that it lies on; its runs count as running time.")
    ] = None,
    dome_limit_um: Annotated[float, typer.Option(help="Largest dome or dish allowed.")] = 10.0,
    check_every_h: Annotated[float, typer.Option(help="Longest running time between checks.")] = 8.0,
    reading_uncertainty_um: Annotated[float, typer.Option(help="Standard uncertainty of a dial reading.")] = 0.5,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:
    """Record a plate with its ring."""
    from lapwright.app.plates import register_plate, show_plate
    from lapwright.model.plates import Plate

    settings = open_records(data)
    who = signed(settings, by, reason)
    lengths = {
        "inner_radius": land_inner_mm, "outer_radius": land_outer_mm, "ring_outer_radius": ring_outer_mm,
        "ring_inner_radius": ring_inner_mm, "least_offset": least_offset_mm, "most_offset": most_offset_mm,
        "offset": offset_mm,
    }  # fmt: skip
    record = Plate(
        plate_id=plate,
        name=name,
        station_id=station,
        speed_ratio=speed_ratio,
        dome_limit=options.metres(dome_limit_um, "µm"),
        check_every=options.si(check_every_h, "h", "time"),
        reading_uncertainty=options.metres(reading_uncertainty_um, "µm"),
        **{field: options.metres(value, "mm") for field, value in lengths.items()},
    )
    register_plate(record, **who)
    give(_standing(show_plate(plate, at=who["at"])), as_json=as_json, show=_show)


@app.command("check")
def check(  # noqa: PLR0913  one parameter for each option
    plate: PlateArgument,
    *,
    read: Annotated[
        list[str] | None,
        typer.Option(metavar="PLACE=VALUE …", help="Readings of one laying, places in mm from the axis."),
    ] = None,
    points: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Heights all over the plate: x mm, y mm, height in a row.")
    ] = None,
    method: Annotated[CheckMethod, typer.Option(help="All but a straight edge take one VALUE.")] = "straightedge",
    size_mm: Annotated[float | None, typer.Option(help="Span of a bridge, diameter of a block or wafer.")] = None,
    unit: Annotated[str, typer.Option(help="Unit of a bare number.")] = "µm",
    ran_min: RanOption = None,
    corrects: Annotated[int | None, typer.Option(help="Number of the check that this one corrects.")] = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:  # fmt: skip
    """Record a check of a plate and say how it stands."""
    from lapwright.app.plates import CheckRequest, record_check

    if (points is None) == (not read) or (method == "map") != (points is not None):
        raise CommandLineError("Give --read, or for --method map the file of --points.")
    rows, across = (_rows(read or [], method), ()) if points is None else _points(points)
    settings = open_records(data)
    request = CheckRequest(
        method=method,
        rows=rows,
        across=across,
        ran=_seconds(ran_min),
        size=options.metres_or_none(size_mm, "mm"),
        unit=unit,
        corrects=corrects,
    )
    give(_standing(record_check(plate, request, **signed(settings, by, reason))), as_json=as_json, show=_show)


@app.command("ring")
def ring(
    plate: PlateArgument,
    *,
    offset_mm: Annotated[float, typer.Option(help="Where it was set.")],
    speed_ratio: Annotated[float | None, typer.Option(help="Speed of the ring over that of the plate, if new.")] = None,
    ran_min: RanOption = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:
    """Record that the ring was set to another place."""
    from lapwright.app.plates import set_ring

    settings = open_records(data)
    now = set_ring(
        plate,
        options.metres(offset_mm, "mm"),
        speed_ratio=speed_ratio,
        ran=_seconds(ran_min),
        **signed(settings, by, reason),
    )
    give(_standing(now), as_json=as_json, show=_show)


@app.command("dressed")
def dressed(
    plate: PlateArgument,
    *,
    ran_min: RanOption = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:
    """Record that a plate was dressed or faced."""
    from lapwright.app.plates import record_dressing

    settings = open_records(data)
    now = record_dressing(plate, ran=_seconds(ran_min), **signed(settings, by, reason))
    give(_standing(now), as_json=as_json, show=_show)


@app.command("map")
def mapped(
    plate: PlateArgument,
    *,
    check_number: Annotated[int | None, typer.Option("--check", help="Number of the check; else the latest.")] = None,
    data: DataOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show the measured shape of a plate, point by point."""
    from lapwright.app.plate_maps import plate_map
    from lapwright.errors import NotFound
    from lapwright.formats.plate_points import point_dict
    from lapwright.formats.plate_results import shape_dict

    open_records(data)
    found = plate_map(plate, check_number, at=datetime.now(tz=UTC))
    if found is None:
        raise NotFound(f"The shape of plate {plate} was never read. Record a check first.")
    result = {
        "plate": plate,
        "check": found.check.entry_id,
        "at": found.check.at.isoformat(),
        "method": found.check.method,
        **shape_dict(found.shape),
        "points": [point_dict(one) for one in found.points],
    }
    give(result, as_json=as_json, show=_show_map)


@app.command("infer")
def infer(
    *,
    sagitta_um: Annotated[float, typer.Option(help="Sagitta of the lapped face over its diameter, domed positive.")],
    diameter_mm: Annotated[float, typer.Option(help="Diameter of wafer or test block.")],
    plate_diameter_mm: Annotated[float, typer.Option(help="Diameter of the plate.")],
    sagitta_uncertainty_um: Annotated[float, typer.Option(help="Standard uncertainty of the sagitta.")] = 0.05,
    torus: Annotated[bool, typer.Option("--torus", help="The land is a bulge of its own, not one cap.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Infer a plate's shape from a wafer or block lapped on it to full pattern. Nothing is recorded."""
    from lapwright.formats.plate_results import shape_dict
    from lapwright.process.plate import shape_from_lapped

    found = shape_from_lapped(
        options.metres(sagitta_um, "µm"),
        options.metres(diameter_mm, "mm"),
        plate_radius=options.metres(plate_diameter_mm, "mm") / 2.0,
        sagitta_uncertainty=options.metres(sagitta_uncertainty_um, "µm"),
        plate_form="torus" if torus else "cap",
    )
    give(shape_dict(found), as_json=as_json, show=_show_shape)


# ----------------------------------------------------------------------------------------------------------------------


def _seconds(minutes: float | None) -> float | None:
    return None if minutes is None else options.si(minutes, "min", "time")


def _rows(layings: list[str], method: CheckMethod) -> tuple[tuple[float, int, str], ...]:
    if method != "straightedge":
        return tuple((0.0, 0, text) for text in layings)
    rows, faults = [], []
    for number, laying in enumerate(layings):
        for pair in laying.split():
            place, _, value = pair.partition("=")
            try:
                rows.append((float(place), number, value))
            except ValueError:
                faults.append(pair)
    if faults:
        raise CommandLineError(
            f"--read holds {', '.join(faults)}; expected PLACE=VALUE, like -145=3.2, blanks between."
        )
    return tuple(rows)


def _points(path: Path) -> tuple[tuple[tuple[float, int, str], ...], tuple[float, ...]]:
    """Rows and second places of a file of heights. Raises `FileFormatError` and `BadInput`."""
    from lapwright.formats.delimited import open_text
    from lapwright.formats.plate_points import read_points

    with open_text(path) as lines:
        told = read_points("".join(lines))
    return tuple((x, 0, text) for x, _, text in told), tuple(y for _, y, _ in told)


def _show_map(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    print_line(f"Check {result['check']} of plate {result['plate']}: dome {shown(result['dome_um'], 2)} µm.")
    rows = [
        tuple(shown(one[name], 2) for name in ("x_mm", "y_mm", "reading_um", "height_um", "left_um"))
        for one in result["points"]
    ]
    print_table(("x, mm", "y, mm", "read, µm", "over the rim, µm", "left, µm"), rows, numbers=range(5))


def _standing(now: Any) -> dict[str, Any]:
    from lapwright.formats.edge_values import edge_value
    from lapwright.formats.plate_results import advice_dict, entry_dict, plate_dict, trend_dict

    return {
        **plate_dict(now.plate, offset=now.offset, speed_ratio=now.speed_ratio),
        "trend": trend_dict(now.trend),
        "advice": advice_dict(now.advice),
        "next_check_h": edge_value(now.next_check, "_h", "time"),
        "due": now.due,
        "sentence": now.sentence,
        "history": [
            entry_dict(line.recorded.entry, line.recorded.entry_id, line.shape, line.running_time)
            for line in now.lines
        ],
    }  # fmt: skip


def _show_shape(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    print_line(_shape_words(result["dome_um"], result["dome_standard_uncertainty_um"]))


def _shape_words(dome_um: float, doubt_um: float) -> str:
    from lapwright.cli.tables import shown

    way = "domed" if dome_um > 0.0 else "dished"
    return f"The plate is {way} by {shown(abs(dome_um), 2)} ± {shown(2.0 * doubt_um, 2)} µm (k = 2)."


def _show_list(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_table, shown

    rows = [
        (one["plate"], "–" if one["trend"] is None else shown(one["trend"]["dome_um"], 2, sign=True), one["sentence"])
        for one in result["plates"]
    ]
    print_table(("plate", "dome, µm", "next"), rows, numbers=(1,))


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    print_line(f"Plate {result['plate']}, {result['name']}; ring at {shown(result['offset_mm'], 1)} mm.")
    rows = [
        (
            str(one["entry"]),
            shown(one["running_h"], 1),
            one["kind"],
            shown(one["dome_um"], 2, sign=True) if "dome_um" in one else "",
            shown(one["offset_mm"], 1) if one["offset_mm"] is not None else "",
        )
        for one in result["history"]
    ]
    if rows:
        print_table(("line", "running, h", "what", "dome, µm", "ring at, mm"), rows, numbers=(0, 1, 3, 4))
    trend = result["trend"]
    if trend is not None:
        print_line(_shape_words(trend["dome_um"], trend["dome_standard_uncertainty_um"]))
        if trend["is_moving"]:
            print_line(f"It grows by {shown(trend['dome_rate_um_per_h'], 2, sign=True)} µm/h of running.")
        for sentence in result["advice"]["sentences"]:
            print_line(sentence)
    print_line(result["sentence"])
