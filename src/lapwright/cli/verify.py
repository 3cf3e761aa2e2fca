"""`lapwright verify`: are the records complete and untouched; does an archive come to the same numbers."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import DataOption, open_records

app = typer.Typer(add_completion=False)


@app.command()
def verify(
    *,
    recompute: Annotated[
        Path | None,
        typer.Option("--recompute", metavar="FILE", help="Recompute an archive of evidence; the records stay closed."),
    ] = None,
    data: DataOption = None,
    as_json: JsonOption = False,
) -> None:
    """Walk the audit chain and compare every row with it; or recompute an archive of evidence."""
    if recompute is not None:
        from lapwright.app.evidence import recompute_archive
        from lapwright.formats.evidence_results import recomputed_dict

        give(recomputed_dict(recompute_archive(recompute)), as_json=as_json, show=_show_recomputed)
        return
    from lapwright.app.verification import verify_records
    from lapwright.formats.evidence_results import chain_dict

    open_records(data, there=True)
    give(chain_dict(verify_records()), as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    print_line(f"{result['links']} links over {result['rows']} rows, {result['anchors']} anchors.")
    print_line(f"The last link is {result['last_number']}, {result['last_digest']}.")
    for fault in result["faults"]:
        print_line(f"- {fault['sentence']}")
    print_line("The records are complete and untouched." if result["holds"] else "The records do NOT hold.")


def _show_recomputed(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    for one in result["numbers"]:
        if not one["agrees"]:
            print_line(f"- {one['name']}: certified {one['told']}, recomputed {one['found']}")
    for sentence in result["faults"]:
        print_line(f"- {sentence}")
    print_line(f"{len(result['numbers'])} numbers of {', '.join(result['wafers'])} recomputed.")
    print_line("All agree." if result["agrees"] else "They do NOT agree.")
