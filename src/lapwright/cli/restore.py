"""`lapwright restore`: a new data folder from a backup."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import open_records

app = typer.Typer(add_completion=False)


@app.command()
def restore(
    backup: Annotated[Path, typer.Argument(metavar="BACKUP", help="Folder of one backup.")],
    *,
    data: Annotated[Path, typer.Option("--data", metavar="DIR", help="New data folder that is made of it.")],
    as_json: JsonOption = False,
) -> None:
    """Make a new data folder of a backup, every file compared, and verify the records in it."""
    from lapwright.app import backups
    from lapwright.app.verification import verify_records
    from lapwright.formats.evidence_results import chain_dict

    found = backups.read_backup(backup.absolute())
    backups.restore_files(found, data.absolute())
    open_records(data)
    result = {
        "data": str(data.absolute()),
        "made": found.at.isoformat(),
        "version": found.version,
        "files": len(found.files),
        "chain": chain_dict(verify_records()),
    }
    give(result, as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    chain = result["chain"]
    print_line(f"{result['data']} is as it was at {result['made']}: {result['files']} files, each as it was written.")
    for fault in chain["faults"]:
        print_line(f"- {fault['sentence']}")
    print_line(f"{chain['rows']} rows, {chain['links']} links: {'all hold' if chain['holds'] else 'they do NOT hold'}.")
    print_line("The setting of the database was left out; these records are in a SQLite file of the folder.")
