"""`lapwright export`: the evidence for one wafer as one archive."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import DataOption, open_records
from lapwright.errors import BadInput, Fault

app = typer.Typer(add_completion=False)


@app.command()
def export(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Archive to be written.")],
    *,
    wafer: Annotated[str, typer.Option(metavar="WAFER", help="Wafer whose evidence it is.")],
    data: DataOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write the evidence for one wafer into one archive."""
    from lapwright.app.evidence import export_evidence

    open_records(data, there=True)
    content = export_evidence(wafer, at=datetime.now(tz=UTC))
    try:
        file.write_bytes(content)
    except OSError as error:
        sentence = f"The archive cannot be written to {file}: {error.strerror}. Name another file."
        raise BadInput([Fault(sentence=sentence, field="FILE")]) from error
    told = {"file": str(file), "wafer": wafer, "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
    give(told, as_json=as_json, show=lambda result: typer.echo(f"{result['file']}: {result['bytes']} bytes."))
