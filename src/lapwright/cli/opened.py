"""What commands that use the records share: the folder, who asks, and the start of the records."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, TypedDict

import typer

from lapwright.settings import Settings, read_settings

DataOption = Annotated[Path | None, typer.Option("--data", metavar="DIR", help="Data folder.")]
ByOption = Annotated[str | None, typer.Option("--by", metavar="NAME", help="Short name of who does it.")]
ReasonOption = Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why it is done; kept with the record.")]


class Signed(TypedDict):
    """What every write carries."""

    by: str
    reason: str
    at: datetime


def open_records(data: Path | None) -> Settings:
    """Start the records of a data folder; the settings they were started with."""
    from lapwright.app import wiring

    settings = read_settings({"data": data})
    wiring.start(settings)
    return settings


def signed(settings: Settings, by: str | None, reason: str) -> Signed:
    """Who, why, and that it is now."""
    return {"by": by or settings.person, "reason": reason, "at": datetime.now(tz=UTC)}
