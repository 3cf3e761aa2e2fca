"""`lapwright demo`: the whole job of an invented order, played in the simulated shop."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from datetime import UTC, datetime
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from lapwright.app import wiring
from lapwright.cli.answer import JsonOption, give
from lapwright.errors import Conflict, RecordError

if TYPE_CHECKING:
    from lapwright.sim.scenario import Played
    from lapwright.sim.scenario.calendar import Calendar

app = typer.Typer(add_completion=False)

MARKER = wiring.INVENTED
MARKER_TEXT = """\
Everything in this folder was made by `lapwright demo`: laboratory, customer, people and all readings are invented.
The next `lapwright demo` for this folder deletes it and makes it anew. Keep nothing of your own here.
"""
INVENTED = "All data are invented: made by Lapwright's own simulator from a fixed seed."


@app.command()
def demo(
    *,
    data: Annotated[Path, typer.Option("--data", metavar="DIR", help="Folder for the demonstration's data.")] = Path(
        "demo-data"
    ),
    first_day: Annotated[
        datetime | None,
        typer.Option(
            "--first-day",
            metavar="DATE",
            formats=["%Y-%m-%d"],
            help="The Monday on which the story begins; by default the latest by which it has ended.",
        ),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Play a whole invented job, from a box of wafers to the certificate, and show what was caught."""
    folder = data.expanduser().absolute()
    calendar = _calendar(first_day)
    _make_room(folder)
    played = _played(folder, calendar)
    give(_result(played, folder, _laid_out(played, folder)), as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _make_room(folder: Path) -> None:
    """An empty folder that bears the marker; raises `Conflict` when it holds what is not the demonstration's."""
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise Conflict(f"{folder} is not a plain folder; the demonstration needs one of its own. Give another --data.")
    if folder.exists() and any(folder.iterdir()):
        if not (folder / MARKER).is_file():
            raise Conflict(
                f"{folder} is not empty and was not made by the demonstration, so nothing there is touched."
                " Give another folder with --data."
            )
        shutil.rmtree(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / MARKER).write_text(MARKER_TEXT, encoding="utf-8")
    except OSError as error:
        raise RecordError(
            f"The data folder {folder} cannot be made: {error.strerror}. Name another with --data."
        ) from error


def _calendar(first_day: datetime | None) -> Calendar:
    from lapwright.sim.scenario.calendar import beginning, just_ended

    return just_ended(datetime.now(tz=UTC)) if first_day is None else beginning(first_day.date())


def _played(folder: Path, calendar: Calendar) -> Played:
    from dataclasses import replace

    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    from lapwright.app import wiring
    from lapwright.settings import FILE_NAME, read_settings
    from lapwright.sim import cast
    from lapwright.sim.scenario import STEPS, play

    (folder / FILE_NAME).write_text(
        f'laboratory = "{cast.LABORATORY}"\ntime_zone = "{cast.TIME_ZONE}"\n', encoding="utf-8"
    )
    gauge_files = folder / "gauge-files"
    gauge_files.mkdir()
    # the demonstration never writes to a database that the environment names
    wiring.start(replace(read_settings({"data": folder}), database=""))
    columns = (BarColumn(), TextColumn("{task.completed}/{task.total} {task.description}"), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True)) as progress:
        bar = progress.add_task("", total=STEPS)

        def tell(step: str) -> None:
            progress.update(bar, advance=1, description=step)

        return play(gauge_files=gauge_files, tell=tell, calendar=calendar)


def _laid_out(played: Played, folder: Path) -> list[Path]:
    """The certificate's files once more under their own names, where a person looks for them."""
    from lapwright.app import certificates

    place = folder / "certificate"
    place.mkdir()
    copies = [place / document.name for document in played.certificate]
    for document, copy in zip(played.certificate, copies, strict=True):
        shutil.copyfile(certificates.document_path(document.document_id), copy)
    return copies


def _result(played: Played, folder: Path, certificate: list[Path]) -> dict[str, Any]:
    return {
        "order": played.order_id,
        "simulated": True,
        "note": INVENTED,
        "data": str(folder),
        "caught": [
            {"kind": one.kind, "piece": one.piece, "sentence": one.sentence, "at": one.at.isoformat()}
            for one in played.caught
        ],
        "wafers": [
            {
                "wafer": wafer_id,
                "verdicts": [
                    {
                        "quantity": one.verdict.limit.quantity,
                        "outcome": one.verdict.outcome,
                        "value_um": one.verdict.value * 1e6,
                        "reason": one.verdict.reason,
                    }
                    for one in verdicts
                ],
            }
            for wafer_id, verdicts in played.verdicts.items()
        ],
        "certificate": [str(path) for path in certificate],
        "look": [f"lapwright serve --data {folder}", "./dev serve"],
    }


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    print_line(f"\n{result['note']}\n\nIn the program's own words:")
    for (kind, piece), group in groupby(result["caught"], key=lambda one: (one["kind"], one["piece"])):
        first, *more = group
        when = first["at"][5:16].replace("T", " ")
        print_line(f"  caught: {kind} ({piece}, {when}). {first['sentence']}{_and_more(len(more))}")
    print_line()
    rows = [
        (
            wafer["wafer"],
            one["quantity"].replace("_", " "),
            shown(one["value_um"], 4 if one["quantity"].startswith("roughness") else 2),
            one["outcome"].replace("_", " "),
            one["reason"],
        )
        for wafer in result["wafers"]
        for one in wafer["verdicts"]
    ]
    headings = ("wafer", "limit on", "value, µm", "verdict", "why")
    print_table(headings, rows, title=f"Order {result['order']}", numbers=(2,))
    print_line("Certificate:")
    for path in result["certificate"]:
        print_line(f"  {path}")
    print_line(f"Look at it all:  {result['look'][0]}   (or {result['look'][1]} in the project's folder)")


def _and_more(count: int) -> str:
    return f" (and {count} more of the kind)" if count else ""
