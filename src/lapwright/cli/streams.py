"""`lapwright streams`: how long the raw readings of runs are kept, and letting them go."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, open_records, signed
from lapwright.model.live import RecordedStream

app = typer.Typer(add_completion=False, no_args_is_help=True)


@app.callback()
def streams() -> None:
    """See which raw readings may go, and let them go."""


@app.command("list")
def list_streams(*, data: DataOption = None, as_json: JsonOption = False) -> None:
    """List the runs whose raw readings may go by the setting `keep_streams_days`; nothing is changed."""
    from lapwright.app import retention

    found = retention.droppable(open_records(data), at=datetime.now(tz=UTC))
    result = {"streams": [_plain(one) for one in found.streams], "raw_bytes": found.raw_bytes}
    give(result, as_json=as_json, show=_show)


@app.command("drop")
def drop_streams(
    *,
    reason: Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why they go; kept with the record.")],
    by: ByOption = None,
    data: DataOption = None,
    as_json: JsonOption = False,
) -> None:
    """Let the raw readings of those runs go, for good; what went is recorded in the audit chain."""
    from lapwright.app import retention

    settings = open_records(data)
    gone = retention.drop_raw_readings(settings, **signed(settings, by, reason))
    give({"streams": [_plain(one) for one in gone]}, as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _plain(stream: RecordedStream) -> dict[str, Any]:
    gone = stream.dropped
    return {
        "run": stream.run_id,
        "wafer": stream.wafer_id,
        "station": stream.station_id,
        "ended": None if stream.ended is None else stream.ended.isoformat(),
        "readings": stream.readings if gone is None else gone.readings,
        "sha256": None if gone is None else gone.sha256,
    }


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table

    rows = [
        (f"{one['run']}", one["wafer"], one["station"], (one["ended"] or "")[:10], f"{one['readings']}",
         (one["sha256"] or "still there")[:16])
        for one in result["streams"]
    ]  # fmt: skip
    print_table(("run", "wafer", "station", "ended", "raw readings", "SHA-256 of what went"), rows)
    if "raw_bytes" in result:
        print_line(f"{result['raw_bytes'] / 1e6:.1f} MB of raw readings are on record, packed.")
