"""`lapwright heat`: a heating and cooling trace of a bonding, judged."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give

app = typer.Typer(add_completion=False)


@app.command()
def heat(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Trace: time_s, temperature_c of the stack, set_c.")],
    *,
    material: Annotated[str, typer.Option(help="Material of the wafer.")],
    carrier_material: Annotated[str, typer.Option(help="Material of the carrier.")] = "borosilicate",
    adhesive: Annotated[str | None, typer.Option(metavar="ID", help="Adhesive of the library; it melts there.")] = None,
    rate_limit_k_per_min: Annotated[
        float | None, typer.Option(help="Fastest heating or cooling; else what the library holds for the materials.")
    ] = None,
    melts_c: Annotated[float | None, typer.Option(help="From here on the adhesive flows; else the library's.")] = None,
    as_json: JsonOption = False,
) -> None:
    """How a bonding was heated and cooled: offset from the setting, rates against the limit, time above melting."""
    from lapwright.app.bond_models import ZERO_CELSIUS, trace_of_file
    from lapwright.formats.bond_results import trace_dict
    from lapwright.formats.json_line import warning_dict

    trace, verdict = trace_of_file(
        file,
        material=material,
        carrier=carrier_material,
        adhesive=adhesive,
        rate_limit=None if rate_limit_k_per_min is None else rate_limit_k_per_min / 60.0,
        melts=None if melts_c is None else melts_c + ZERO_CELSIUS,
    )
    warnings = [warning_dict(*one) for one in verdict.warnings]
    give(trace_dict(trace, verdict), as_json=as_json, show=_show, warnings=warnings)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_table, shown

    melted = result["time_above_melt_s"]
    rows = [
        ("highest", shown(result["highest_c"], 1), "°C"),
        ("stack less setting, held still", shown(result["offset_k"], 1, sign=True), "K"),
        ("time above melting", shown(None if melted is None else melted / 60.0, 1), "min"),
        ("fastest heating", shown(result["fastest_heating_k_per_min"], 1), "K/min"),
        ("fastest cooling", shown(result["fastest_cooling_k_per_min"], 1), "K/min"),
        ("limit", shown(result["rate_limit_k_per_min"], 1), "K/min"),
    ]
    print_table(("what", "value", "unit"), rows, numbers=(1,))
