"""`lapwright import`: a readings file recorded whole, or not at all."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, open_records, signed

app = typer.Typer(add_completion=False)

Moment = Literal["incoming", "carrier", "stack", "after_stage", "on_carrier", "final"]
#: Moment -> what was read then.
SUBJECTS: dict[str, Literal["wafer", "carrier", "stack"]] = {
    "incoming": "wafer",
    "carrier": "carrier",
    "stack": "stack",
    "after_stage": "stack",
    "on_carrier": "stack",
    "final": "wafer",
}


@app.command("import")
def import_file(  # noqa: PLR0913  one parameter for each option
    file: options.ReadingsArgument,
    *,
    moment: Annotated[Moment, typer.Option(help="When in the job the pieces were read.")] = "incoming",
    gauge: Annotated[str, typer.Option(help="Gauge, where the file does not name one.")] = "",
    order: Annotated[str | None, typer.Option(help="Order that all pieces must belong to.")] = None,
    hold: options.HoldOption = None,
    temperature_c: options.TemperatureOption = None,
    soaked: options.SoakedOption = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "imported",
    as_json: JsonOption = False,
) -> None:
    """Record all sets of a readings file, closed: all of them, or none when anything is wrong."""
    from lapwright.app import importing
    from lapwright.formats.job_results import set_dict
    from lapwright.model.request import ImportRequest
    from lapwright.model.story import SetBrief

    settings = open_records(data)
    request = ImportRequest(
        subject=SUBJECTS[moment],
        moment=moment,
        gauge_id=gauge,
        order_id=order,
        conditions=options.conditions(hold, temperature_c, soaked=soaked),
    )
    sets = importing.import_readings(Path(file), request, **signed(settings, by, reason))
    give({"file": file.name, "sets": [set_dict(SetBrief.of(one)) for one in sets]}, as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_table

    rows = [
        (str(one["set"]), one["piece"], one["moment"], one["gauge"], str(one["n_readings"])) for one in result["sets"]
    ]
    print_table(("set", "piece", "moment", "gauge", "readings"), rows, title=result["file"], numbers=(0, 4))
