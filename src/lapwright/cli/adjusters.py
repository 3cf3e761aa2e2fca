"""`lapwright adjusters`: what a division of each adjuster of a jig really moves, and its play, learned from moves."""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give
from lapwright.cli.jig import adjusters_of
from lapwright.errors import CommandLineError

app = typer.Typer(add_completion=False)

_COLUMNS = ("wedge_before_um", "azimuth_before_deg", "wedge_after_um", "azimuth_after_deg")


@app.command()
def adjusters(
    moves: Annotated[Path, typer.Argument(metavar="MOVES", help="Moves and what they did (CSV), in the order made.")],
    *,
    wafer_diameter_mm: Annotated[float, typer.Option(help="Full diameter of the wafers.")],
    adjuster_radius_mm: Annotated[str, typer.Option(metavar="R[,R…]", help="Distance of the adjusters from the axis.")],
    adjuster_azimuths_deg: Annotated[str, typer.Option(metavar="A,A,A", help="Where the three adjusters stand.")],
    um_per_division: Annotated[str, typer.Option(metavar="N[,N…]", help="Nominal travel of one division.")],
    wedge_uncertainty_um: Annotated[float, typer.Option(help="Standard uncertainty of a wedge, each part.")] = 0.3,
    as_json: JsonOption = False,
) -> None:
    """Learn what one division of each adjuster really moves, and how much play there is."""
    from lapwright.formats.edge_values import um
    from lapwright.formats.table_csv import read_columns
    from lapwright.process.adjuster_learning import AdjusterTrial, learned_adjusters
    from lapwright.process.jig import JigGeometry

    found = adjusters_of(adjuster_azimuths_deg, adjuster_radius_mm, um_per_division, counts_away=False)
    if len(found) != 3:
        raise CommandLineError(f"{len(found)} adjusters were named; moves can be told apart for three.")
    turned = tuple(f"divisions_{number}" for number in (1, 2, 3))
    table = read_columns(moves, numbers=(*turned, *_COLUMNS)).numbers
    trials = [
        AdjusterTrial(
            divisions=tuple(float(table[name][row]) for name in turned),
            wedge_before=_wedge(table["wedge_before_um"][row], table["azimuth_before_deg"][row]),
            wedge_after=_wedge(table["wedge_after_um"][row], table["azimuth_after_deg"][row]),
        )
        for row in range(len(table[turned[0]]))
    ]
    learned = learned_adjusters(
        trials,
        JigGeometry(adjusters=found),
        options.metres(wafer_diameter_mm, "mm"),
        wedge_uncertainty=options.metres(wedge_uncertainty_um, "µm"),
    )
    result = {
        "n_moves": len(trials),
        "adjusters": [
            {
                "nominal_um_per_division": um(one.travel_per_division),
                "learned_um_per_division": um(float(travel)),
                "standard_uncertainty_um": um(float(doubt)),
                "is_off": number in learned.off,
            }
            for number, (one, travel, doubt) in enumerate(
                zip(found, learned.travel, learned.travel_uncertainty, strict=True)
            )
        ],
        "play_divisions": learned.play,
        "play_standard_uncertainty_divisions": learned.play_uncertainty,
        "sentences": list(learned.sentences),
    }
    give(result, as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _wedge(amount_um: float, azimuth_deg: float) -> complex:
    return cmath.rect(options.metres(float(amount_um), "µm"), math.radians(float(azimuth_deg)))


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    rows = [
        (
            str(number),
            shown(one["nominal_um_per_division"], 2),
            f"{shown(one['learned_um_per_division'], 2)} ± {shown(2.0 * one['standard_uncertainty_um'], 2)}",
            "off" if one["is_off"] else "",
        )
        for number, one in enumerate(result["adjusters"], start=1)
    ]
    print_table(("adjuster", "nominal, µm/division", "learned (k = 2)", ""), rows, numbers=(0, 1, 2))
    play, doubt = result["play_divisions"], result["play_standard_uncertainty_divisions"]
    print_line(f"Play {shown(play, 2)} ± {shown(2.0 * doubt, 2)} divisions, from {result['n_moves']} moves.")
    for sentence in result["sentences"]:
        print_line(sentence)
