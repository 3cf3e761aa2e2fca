"""`lapwright certificate`: the certificate of an order, written and recorded."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, open_records, signed
from lapwright.cli.orders import OrderArgument
from lapwright.errors import BadInput, Fault

app = typer.Typer(add_completion=False)


@app.command()
def certificate(
    order: OrderArgument,
    *,
    language: Annotated[Literal["en", "de"] | None, typer.Option(help="Language of the pages.")] = None,
    folder: Annotated[
        Path | None, typer.Option("--folder", metavar="DIR", help="Folder for copies under their names.")
    ] = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "certificate issued",
    as_json: JsonOption = False,
) -> None:
    """Issue the certificate of the judged wafers: PDF, HTML, CSV, JSON and QIF in the data folder."""
    from lapwright.app import certificates
    from lapwright.formats.job_results import document_dict

    settings = open_records(data)
    if folder is not None:
        _make(folder)
    kept = certificates.issue_certificate(order, language=language, **signed(settings, by, reason))
    documents = []
    for one in kept:
        file = certificates.document_path(one.document_id)
        if folder is not None:
            file = Path(shutil.copyfile(file, folder / one.name))
        documents.append({**document_dict(one), "file": str(file)})
    give({"order": order, "documents": documents}, as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _make(folder: Path) -> None:
    """The folder for the copies, before anything is issued."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        sentence = f"The folder {folder} cannot be made: {error.strerror}. Name another one."
        raise BadInput([Fault(sentence=sentence, field="--folder")]) from error


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    for one in result["documents"]:
        print_line(f"{one['name']}: {one['file']}")
