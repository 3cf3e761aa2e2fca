"""`lapwright pieces`: several pieces on one carrier, before the first cut."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give
from lapwright.errors import CommandLineError

app = typer.Typer(add_completion=False)

ADVICE = {"lap": "lap as it lies", "tilt": "tilt first", "rebond": "bond again"}


@app.command()
def pieces(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", help="Sites: piece, at_x_mm, at_y_mm, turn_deg, x_mm, y_mm, wafer_um, stack_um."
        ),
    ],
    *,
    target_um: Annotated[float | None, typer.Option(help="Thickness that all pieces are to have.")] = None,
    tolerance_um: Annotated[float | None, typer.Option(help="What it may be off, either way.")] = None,
    ttv_um: Annotated[float | None, typer.Option(help="Largest TTV of a piece.")] = None,
    least_removal_um: Annotated[float, typer.Option(min=0.0, help="What must come off everywhere.")] = 0.0,
    pressure_kpa: Annotated[float | None, typer.Option(help="Pressure wanted once all pieces bear.")] = None,
    area_mm2: Annotated[float | None, typer.Option(help="Area of one piece.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Several pieces on one carrier: which touches first, what comes off until all do, whether each can be reached."""
    from lapwright.app.shared_carrier import CarrierQuestion, carrier_of_file
    from lapwright.formats.json_line import warning_dict
    from lapwright.formats.pieces_results import carrier_advice_dict, levelling_dict, wedge_dict

    if (target_um is None) != (tolerance_um is None) or (target_um is None and ttv_um is not None):
        raise CommandLineError("--target-um and --tolerance-um go together, and --ttv-um needs them. Give both.")
    if (pressure_kpa is None) != (area_mm2 is None):
        raise CommandLineError("--pressure-kpa and --area-mm2 go together. Give both, or none.")
    found = carrier_of_file(
        file,
        CarrierQuestion(
            target=options.metres_or_none(target_um, "µm"),
            tolerance=options.metres_or_none(tolerance_um, "µm"),
            ttv=options.metres_or_none(ttv_um, "µm"),
            least_removal=options.metres(least_removal_um, "µm"),
            pressure=None if pressure_kpa is None else pressure_kpa * 1e3,
            area=None if area_mm2 is None else area_mm2 * 1e-6,
        ),
    )
    reach = found.wedge.reach
    result = {
        "n_pieces": len(found.pieces),
        **wedge_dict(found.wedge),
        "parallel": levelling_dict(found.parallel, reach=reach),
        "tilted": levelling_dict(found.tilted, reach=reach),
        "load_n": None if found.load is None else float(f"{found.load:.6g}"),
        "first_pressure_kpa": None if found.first_pressure is None else float(f"{found.first_pressure / 1e3:.6g}"),
        "end": None if found.advice is None else carrier_advice_dict(found.advice, reach=reach),
    }
    give(result, as_json=as_json, show=_show, warnings=[warning_dict(*one) for one in found.warnings])


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    azimuth = result["common_azimuth_deg"]
    thickest = "" if azimuth is None else f", thickest at {round(azimuth) % 360}°"
    count = result["n_pieces"]
    print_line(
        f"{count} {'piece' if count == 1 else 'pieces'} within {shown(result['reach_mm'], 1)} mm; their faces have a"
        f" wedge of {shown(result['common_wedge_um'])} µm together{thickest}."
    )
    headings = ("piece", "touches after, µm", "all over after, µm")
    for words, name in (("plate parallel to the carrier", "parallel"), ("tilted for the least removal", "tilted")):
        touches = result[name]["touches"]
        rows = [(one["piece"], shown(one["touched_after_um"]), shown(one["whole_after_um"])) for one in touches]
        print_table(headings, rows, title=words, numbers=(1, 2))
        _show_plane(result[name])
    if result["load_n"] is not None:
        print_line(
            f"Load {shown(result['load_n'], 1)} N; while the first piece bears it alone,"
            f" {shown(result['first_pressure_kpa'], 1)} kPa."
        )
    if result["end"] is not None:
        _show_end(result["end"])


def _show_end(end: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    headings = ("piece", "thinnest, µm", "thickest, µm", "TTV, µm", "comes off, µm", "conforms")
    for words, name in (("ends, parallel", "parallel_end"), ("ends, tilted", "tilted_end")):
        rows = [
            (
                one["piece"],
                shown(one["thinnest_um"]),
                shown(one["thickest_um"]),
                shown(one["ttv_um"]),
                f"{shown(one['least_removal_um'], 1)} to {shown(one['most_removal_um'], 1)}",
                "yes" if one["conforms"] else "no",
            )
            for one in end[name]["pieces"]
        ]
        print_table(headings, rows, title=words, numbers=(1, 2, 3, 4))
        _show_plane(end[name])
    print_line(f"Advice: {ADVICE[end['advice']]}. {end['reason']}")


def _show_plane(plane: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, shown

    if plane["plane_wedge_um"]:
        azimuth = round(plane["plane_azimuth_deg"]) % 360
        print_line(f"The plane stands {shown(plane['plane_wedge_um'])} µm higher over the carrier at {azimuth}°.")
