"""`lapwright turns`: what was turned at a jig, and what its adjusters really move by their own moves."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, open_records, signed
from lapwright.errors import CommandLineError, LapwrightError

app = typer.Typer(
    help="What was turned at a jig, and what its adjusters really move.", no_args_is_help=True, add_completion=False
)

JigArgument = Annotated[str, typer.Argument(metavar="JIG", help="Name of the jig.")]


@app.command("record")
def record(
    jig: JigArgument,
    *,
    divisions: Annotated[
        str, typer.Option(metavar="N,N,N", help="Divisions of each screw, wafer nearer the plate there positive.")
    ],
    wafer: Annotated[str | None, typer.Option(help="Wafer that hangs in the jig.")] = None,
    corrects: Annotated[
        int | None, typer.Option(help="Number of a move noted wrong; noughts say it was not made.")
    ] = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "turned",
    as_json: JsonOption = False,
) -> None:
    """Record what was turned; the zeros taken on the jig no longer hold."""
    from lapwright.app import jig_moves
    from lapwright.formats.jig_move_results import move_dict

    why = signed(open_records(data), by, reason)
    moved = jig_moves.record_move(jig, _numbers(divisions), wafer_id=wafer, corrects=corrects, **why)
    give(move_dict(moved), as_json=as_json, show=_show_move)


@app.command("list")
def listed(jig: JigArgument, *, data: DataOption = None, as_json: JsonOption = False) -> None:
    """List the moves of a jig, the earliest first."""
    from lapwright.app import jig_moves
    from lapwright.formats.jig_move_results import move_dict

    open_records(data)
    give({"moves": [move_dict(one) for one in jig_moves.list_moves(jig)]}, as_json=as_json, show=_show_moves)


@app.command("learned")
def learned(jig: JigArgument, *, data: DataOption = None, as_json: JsonOption = False) -> None:
    """Learn what one division of each screw really moves, and the play, from the recorded moves."""
    open_records(data)
    give(_learned(jig), as_json=as_json, show=_show_learned)


@app.command("take")
def take(jig: JigArgument, *, data: DataOption = None, by: ByOption = None, as_json: JsonOption = False) -> None:
    """Take the learned values for the corrections to come; the nominal one stays beside them."""
    from lapwright.app import jig_moves

    why = signed(open_records(data), by, "")
    jig_moves.take_learned(jig, by=why["by"], at=why["at"])
    give(_learned(jig), as_json=as_json, show=_show_learned)


# ----------------------------------------------------------------------------------------------------------------------


def _learned(jig: str) -> dict[str, Any]:
    from lapwright.app import jig_moves
    from lapwright.formats.jig_move_results import learned_dict

    found = jig_moves.learned_jig(jig)
    return learned_dict(jig, found, jig_moves.sentences_of(found))


def _numbers(text: str) -> tuple[float, ...]:
    from lapwright.units import number

    try:
        return tuple(number(part) for part in text.split(","))
    except LapwrightError as error:
        raise CommandLineError(
            f"--divisions is {text!r}; expected numbers with commas between, like 1.5,-3,0."
        ) from error


def _show_move(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    print_line(f"Move {result['move']} of jig {result['jig']} is recorded. Take the zero anew.")


def _show_moves(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table

    rows = [
        (
            str(one["move"]),
            one["made_at"][:16],
            one["by"],
            one["wafer"] or "–",
            ", ".join(f"{screw['divisions']:+g}" for screw in one["screws"]),
            "corrected" if one["replaced_by"] else "",
        )
        for one in result["moves"]
    ]
    print_table(("move", "when", "who", "wafer", "divisions", ""), rows, numbers=(0,))
    if not rows:
        print_line("None is recorded.")


def _show_learned(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    rows = [
        (
            str(one["screw"]),
            shown(one["nominal_um_per_division"], 2),
            shown(one["taken_um_per_division"], 2),
            f"{shown(one['learned_um_per_division'], 2)} ± {shown(2.0 * one['standard_uncertainty_um'], 2)}",
            "off" if one["is_off"] else "",
        )
        for one in result["screws"]
    ]
    print_table(("screw", "nominal, µm/division", "taken now", "learned (k = 2)", ""), rows, numbers=(0, 1, 2))
    for sentence in result["sentences"]:
        print_line(sentence)
