"""`lapwright doctor`: whether the program is fit for work on this machine."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import DataOption
from lapwright.settings import read_settings

app = typer.Typer(add_completion=False)

WORDS = {"good": "good", "look": "LOOK", "wrong": "WRONG"}


@app.command()
def doctor(*, data: DataOption = None, as_json: JsonOption = False) -> None:
    """Look at version, clocks, folder, disk, permissions, database, recorder, gauges, chain and backups."""
    from lapwright.app import health

    checks = health.examine(read_settings({"data": data}), now=datetime.now(tz=UTC))
    result = {
        "healthy": all(check.is_good for check in checks),
        "checks": [
            {"name": check.name, "verdict": check.verdict, "sentence": check.sentence, "advice": check.advice}
            for check in checks
        ],
    }
    give(result, as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_table

    rows = [
        (one["name"], WORDS[one["verdict"]], f"{one['sentence']} {one['advice']}".strip()) for one in result["checks"]
    ]
    print_table(("what", "verdict", "found, and what to do"), rows)
