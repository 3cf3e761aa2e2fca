"""`lapwright certificate`: the certificate of an order, written and recorded."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, open_records, signed
from lapwright.cli.orders import OrderArgument

app = typer.Typer(add_completion=False)


@app.command()
def certificate(
    order: OrderArgument,
    *,
    language: Annotated[Literal["en", "de"] | None, typer.Option(help="Language of the pages.")] = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "certificate issued",
    as_json: JsonOption = False,
) -> None:
    """Issue the certificate of the judged wafers: PDF, HTML, CSV, JSON and QIF in the data folder."""
    from lapwright.app import certificates
    from lapwright.formats.job_results import document_dict

    settings = open_records(data)
    kept = certificates.issue_certificate(order, language=language, **signed(settings, by, reason))
    documents = [{**document_dict(one), "file": str(certificates.document_path(one.document_id))} for one in kept]
    give({"order": order, "documents": documents}, as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    for one in result["documents"]:
        print_line(f"{one['name']}: {one['file']}")
