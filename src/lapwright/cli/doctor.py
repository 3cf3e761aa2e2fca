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


@app.command()
def doctor(*, data: DataOption = None, as_json: JsonOption = False) -> None:
    """Look at version, clock, data folder, disk, database, permissions and gauges."""
    from lapwright.app import health

    checks = health.examine(read_settings({"data": data}), now=datetime.now(tz=UTC))
    result = {
        "healthy": all(check.good for check in checks),
        "checks": [{"name": check.name, "good": check.good, "sentence": check.sentence} for check in checks],
    }
    give(result, as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_table

    rows = [(one["name"], "good" if one["good"] else "LOOK", one["sentence"]) for one in result["checks"]]
    print_table(("what", "state", "found"), rows)
