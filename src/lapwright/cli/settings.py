"""`lapwright settings`: every setting with its value and where the value came from."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.settings import describe_settings, read_settings

app = typer.Typer(add_completion=False)


@app.command()
def settings(
    *,
    data: Annotated[Path | None, typer.Option("--data", metavar="DIR", help="Data folder.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Show every setting with its value and where the value came from."""
    values = read_settings({"data": data})
    shown = [
        {
            "name": info.name,
            "value": printable(getattr(values, info.name)),
            "unit": info.unit,
            "origin": values.origins[info.name],
            "default": info.default,
            "variable": info.variable,
            "help": info.help,
        }
        for info in describe_settings()
    ]
    give({"settings": shown}, as_json=as_json, show=_show)


def printable(value: object) -> object:
    """The value as it may be shown: a path as text, an address without its password."""
    if isinstance(value, str):
        return re.sub(r"(://[^:/@]*):[^@]*@", r"\1:***@", value)
    return str(value) if isinstance(value, Path) else value


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_table

    rows = [
        (one["name"], f"{one['value']} {one['unit']}".strip(), one["origin"], one["help"]) for one in result["settings"]
    ]
    print_table(("setting", "value", "from", "what it is"), rows)
