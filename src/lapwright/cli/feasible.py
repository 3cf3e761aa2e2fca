"""`lapwright feasible`: can an order be met, which limit binds, and what the free wafer will be like."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give
from lapwright.cli.debond import FinishWord

app = typer.Typer(add_completion=False)


@app.command()
def feasible(  # noqa: PLR0913  one parameter for each option
    order: Annotated[Path, typer.Argument(metavar="ORDER.toml", help="Order file.")],
    *,
    bonded_face: Annotated[FinishWord, typer.Option(help="Finish of the face that is bonded.")] = "polished",
    edge: Annotated[
        Literal["square", "bevelled", "not_stated"], typer.Option(help="Shape of the wafer's edge.")
    ] = "not_stated",
    carrier_material: Annotated[str, typer.Option(help="Material of the carrier.")] = "borosilicate",
    carrier_um: Annotated[float, typer.Option(help="Thickness of the carrier.")] = 6000.0,
    gauge_limit_um: options.GaugeLimitOption = None,
    gauge_local_um: options.GaugeLocalOption = None,
    gauge_resolution_um: options.GaugeResolutionOption = None,
    gauge_repeatability_um: options.GaugeRepeatabilityOption = None,
    as_json: JsonOption = False,
) -> None:
    """Whether an order can be met: three lines, each limit weighed, and what the free wafer will be like."""
    from lapwright.app.measure import feasibility_of_file
    from lapwright.formats.plans import feasibility_dict
    from lapwright.process.release_checks import ReleaseAssumptions

    found = feasibility_of_file(
        order,
        gauge=options.gauge(gauge_limit_um, gauge_local_um, gauge_resolution_um, gauge_repeatability_um),
        release=ReleaseAssumptions(
            other_finish=bonded_face,
            edge=edge,
            carrier=carrier_material,
            carrier_thickness=options.metres(carrier_um, "µm"),
        ),
    )
    give(feasibility_dict(found), as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    for line in result["lines"]:
        print_line(line)
    rows = [
        (
            one["limit"].replace("_", " "),
            shown(one["has_um"], 3),
            shown(one["needs_um"], 3),
            one["answer"].replace("_", " "),
        )
        for one in result["checks"]
    ]
    print_table(("limit", "there is, µm", "it takes, µm", "answer"), rows, numbers=(1, 2))
    for remark in result["remarks"]:
        print_line(f"· {remark}")
