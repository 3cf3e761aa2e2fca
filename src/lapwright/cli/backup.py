"""`lapwright backup`: everything, while the work goes on; believed once it has been restored."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import DataOption, open_records

app = typer.Typer(add_completion=False)


@app.command()
def backup(
    *,
    to: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Folder that takes the backup; else the setting `backups`.")
    ] = None,
    keep: Annotated[
        int | None, typer.Option(min=1, metavar="N", help="Remove older backups in that folder beyond so many.")
    ] = None,
    trial: Annotated[
        bool, typer.Option("--trial/--no-trial", help="Restore it into a folder beside it, verify that, remove it.")
    ] = True,
    data: DataOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write a backup of everything, restore it for a try, and verify what came out."""
    from lapwright.app import backups

    settings = open_records(data, there=True)
    folder = (to or backups.backup_folder(settings)).absolute()
    sys.stderr.write("Copying records and files ...\n")
    made = backups.make_backup(settings, folder, at=datetime.now(tz=UTC))
    found: dict[str, Any] = {}
    if trial:
        sys.stderr.write("Restoring them for a try ...\n")
        found = backups.try_backup(made, at=datetime.now(tz=UTC))
    dropped = backups.drop_old(folder, keep=keep) if keep else ()
    result = {
        "backup": str(made.folder),
        "bytes": made.size,
        "files": len(made.files),
        "last_number": made.last_number,
        "last_digest": made.last_digest,
        "restored": trial,
        "holds": found.get("holds"),
        "removed": [str(one.folder) for one in dropped],
    }
    warnings = [{"code": "backup.chain", "sentence": fault["sentence"]} for fault in found.get("faults", [])]
    give(result, as_json=as_json, show=_show, warnings=warnings)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    print_line(f"{result['backup']}: {result['files']} files, {result['bytes'] / 1e6:.1f} MB.")
    print_line(f"Its chain ends at link {result['last_number']}, {result['last_digest']}.")
    if result["restored"]:
        said = "all holds" if result["holds"] else "the chain has the faults below, as it has in the records"
        print_line(f"It was restored into a folder of its own and verified there: {said}.")
    for one in result["removed"]:
        print_line(f"Removed: {one}.")
