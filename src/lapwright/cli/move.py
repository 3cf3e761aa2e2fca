"""`lapwright move`: all records into another database, compared row by row."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import DataOption, open_records
from lapwright.cli.settings import printable

app = typer.Typer(add_completion=False)


@app.command()
def move(
    *,
    to: Annotated[str, typer.Option(metavar="ADDRESS", help="Address of the empty database that takes the records.")],
    data: DataOption = None,
    as_json: JsonOption = False,
) -> None:
    """Copy all records into another, empty database; all of them or none."""
    from lapwright.app.moving import move_records
    from lapwright.formats.evidence_results import chain_dict

    settings = open_records(data)
    moved = move_records(to)
    result = {
        "from": printable(settings.database_url),
        "to": printable(to),
        "rows": moved.rows,
        "tables": [{"table": one.table, "rows": one.rows, "sha256": one.sha256} for one in moved.tables],
        "chain": chain_dict(moved.chain),
    }
    give(result, as_json=as_json, show=lambda shown: _show(shown, str(settings.data)))


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any], folder: str) -> None:
    from lapwright.cli.tables import print_line, print_table

    filled = [(one["table"], f"{one['rows']}", one["sha256"][:16]) for one in result["tables"] if one["rows"]]
    print_table(("table", "rows", "SHA-256, the same on both sides"), filled)
    holds = "holds" if result["chain"]["holds"] else "has the faults there that it has here; see lapwright verify"
    print_line(f"{result['rows']} rows are in {result['to']}, each as it was. The chain {holds}.")
    print_line(f'Now write  database = "{result["to"]}"  into {folder}/lapwright.toml and start again.')
    print_line("The records here are as they were. Set them aside, so that nobody goes on writing to them.")
