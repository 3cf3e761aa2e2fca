"""What commands that use the records share: the folder, who asks, and the start of the records."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, TypedDict

import typer

from lapwright.errors import NotFound
from lapwright.settings import Settings, read_settings

WaferArgument = Annotated[str, typer.Argument(metavar="WAFER", help="Name of the wafer.")]
DataOption = Annotated[Path | None, typer.Option("--data", metavar="DIR", help="Data folder.")]
ByOption = Annotated[str | None, typer.Option("--by", metavar="NAME", help="Short name of who does it.")]
ReasonOption = Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why it is done; kept with the record.")]


class Signed(TypedDict):
    """What every write carries."""

    by: str
    reason: str
    at: datetime


def open_records(data: Path | None, *, there: bool = False) -> Settings:
    """Start the records of a data folder; the settings they were started with.

    They are made if there are none, unless they should be `there`: then `NotFound`, so that a folder that was mistyped
    is not given good news.
    """
    from lapwright.app import wiring

    settings = read_settings({"data": data})
    address = settings.database_url
    if there and address.startswith("sqlite:") and not Path(address.removeprefix("sqlite:///")).exists():
        raise NotFound(f"There are no records in {settings.data}. Name the folder that holds them with --data.")
    wiring.start(settings)
    return settings


def signed(settings: Settings, by: str | None, reason: str) -> Signed:
    """Who, why, and that it is now."""
    return {"by": by or settings.person, "reason": reason, "at": datetime.now(tz=UTC)}
