"""`lapwright debond`: the ways to take a wafer off its carrier, with chance of breakage and time."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give

app = typer.Typer(add_completion=False)

FinishWord = Literal["lapped_coarse", "lapped_fine", "ground", "polished"]


@app.command()
def debond(
    *,
    material: Annotated[str, typer.Option(help="Material of the wafer.")],
    finish: Annotated[FinishWord, typer.Option(help="Finish of its weaker face.")],
    thickness_um: Annotated[float, typer.Option(help="Thickness when it comes off.")],
    diameter_mm: Annotated[float, typer.Option(help="Diameter of the wafer.")],
    adhesive: Annotated[str, typer.Option(metavar="ID", help="Adhesive of the library.")] = "mounting-wax",
    bond_um: Annotated[float, typer.Option(help="Thickness of the adhesive.")] = 5.0,
    as_json: JsonOption = False,
) -> None:
    """Ways to take a wafer off: chance of breakage, time, and whether it needs a full-face support."""
    from lapwright.app.bond_models import cautions_of, ways_off
    from lapwright.formats.bond_results import debond_dict
    from lapwright.formats.json_line import warning_dict
    from lapwright.process.strength import ROUGHNESS_WARNING

    choices = ways_off(
        material=material,
        finish=finish,
        thickness=options.metres(thickness_um, "µm"),
        diameter=options.metres(diameter_mm, "mm"),
        adhesive=adhesive,
        bond=options.metres(bond_um, "µm"),
    )
    result = {**debond_dict(choices), "cautions": list(cautions_of(material, "debond", adhesive))}
    give(result, as_json=as_json, show=_show, warnings=[warning_dict("debond.rough", ROUGHNESS_WARNING)])


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown
    from lapwright.library import SAFETY_FIRST

    rows = [
        (
            one["name"],
            shown(one["chance_of_breakage"] * 100.0, 2),
            f"{shown(one['chance_low'] * 100.0, 2)} … {shown(one['chance_high'] * 100.0, 2)}",
            f"{shown(one['time_low_min'], 0)} … {shown(one['time_high_min'], 0)}",
            "support only" if one["needs_support"] else "may go free",
        )
        for one in result["ways"]
    ]
    print_table(("way", "breaks, %", "from … to, %", "time, min", ""), rows, numbers=(1, 2, 3))
    for one in result["ways"]:
        print_line(one["sentence"])
    print_line(SAFETY_FIRST)
    for caution in result["cautions"]:
        print_line(f"· {caution}")
