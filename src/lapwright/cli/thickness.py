"""`lapwright thickness`: what a readings file says about each wafer in it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give

app = typer.Typer(add_completion=False)


@app.command()
def thickness(  # noqa: PLR0913  one parameter for each option
    file: options.ReadingsArgument,
    *,
    diameter_mm: options.DiameterOption = None,
    outline: options.OutlineOption = None,
    flat_length_mm: options.FlatOption = None,
    notch: options.NotchOption = False,
    wafer: Annotated[str | None, typer.Option(metavar="ID", help="Only this wafer.")] = None,
    edge_exclusion_mm: options.EdgeExclusionOption = 0.0,
    gauge_limit_um: options.GaugeLimitOption = None,
    gauge_local_um: options.GaugeLocalOption = None,
    gauge_resolution_um: options.GaugeResolutionOption = None,
    gauge_repeatability_um: options.GaugeRepeatabilityOption = None,
    allowed_drift_um: options.AllowedDriftOption = None,
    hold: options.HoldOption = None,
    temperature_c: options.TemperatureOption = None,
    soaked: options.SoakedOption = None,
    sites: Annotated[bool, typer.Option("--sites", help="Add the mean of every site to the answer.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Thickness, TTV, wedge and dome of every wafer in a readings file, each with its uncertainty."""
    from lapwright.app.measure import Circumstances, thickness_of_file
    from lapwright.formats.results import notice_dicts, thickness_dict

    shape = options.piece_outline(diameter_mm, outline, flat_length_mm, notch=notch)
    circumstances = Circumstances(
        outline=shape,
        edge_exclusion=options.metres(edge_exclusion_mm, "mm"),
        gauge=options.gauge(gauge_limit_um, gauge_local_um, gauge_resolution_um, gauge_repeatability_um),
        conditions=options.conditions(hold, temperature_c, soaked=soaked),
        allowed_drift=options.metres_or_none(allowed_drift_um, "µm"),
    )
    measured = thickness_of_file(file, circumstances, wafer=wafer)
    wafers = [thickness_dict(result, with_sites=sites) for result in measured.results]
    warnings = [{"code": one.error.code, "sentence": one.error.sentence, "wafer": one.piece} for one in measured.void]
    for result in measured.results:
        warnings += notice_dicts(result.warnings, wafer=result.piece)
    answer = {
        "file": measured.name,
        "n_rows": measured.n_rows,
        "edge_exclusion_mm": edge_exclusion_mm,
        "wafers": wafers,
    }
    if len(wafers) == 1:
        answer = {**wafers[0], **answer}
    give(answer, as_json=as_json, show=_show, warnings=warnings)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    wafers = result["wafers"]
    print_line(
        f"{result['file']}: {result['n_rows']} readings, edge exclusion {shown(result['edge_exclusion_mm'], 1)} mm"
    )
    rows = [
        (
            one["wafer"],
            str(one["n_sites"]),
            f"{shown(one['mean_um'])} ± {shown(one['mean_expanded_uncertainty_um'])}",
            shown(one["centre_um"]),
            f"{shown(one['min_um'])} … {shown(one['max_um'])}",
            shown(one["ttv_um"]),
            f"{shown(one['ttv_corrected_um'])} ± {shown(one['ttv_expanded_uncertainty_um'])}",
            shown(one["wedge_um"]),
            shown(one["wedge_azimuth_deg"], 0),
            shown(one["dome_um"], sign=True),
            ", ".join(outlier["site"] for outlier in one["outliers"]) or "–",
        )
        for one in wafers
    ]
    headings = (
        "wafer", "sites", "mean ± U, µm", "centre, µm", "min … max, µm", "TTV raw, µm", "TTV less noise ± U, µm",
        "wedge, µm", "thick at, °", "dome, µm", "sites that stand out",
    )  # fmt: skip
    print_table(headings, rows, numbers=range(1, 10))
    print_line("U: expanded uncertainty, 95 %. Dome: + is thicker in the middle. Wedge: over the full diameter.")
