"""`lapwright bond`: the adhesive between wafer and carrier, and the wafer it will give."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli import bond_model, options
from lapwright.cli.answer import JsonOption, give
from lapwright.errors import CommandLineError
from lapwright.model.wafer import Frame, Seen

app = typer.Typer(add_completion=False)

USUAL_TTV_LIMIT_UM = 2.0


@app.command()
def bond(  # noqa: PLR0913  one parameter for each option
    *,
    wafer: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Readings of the wafer before bonding; must be given, as must")
    ] = None,
    carrier: Annotated[Path | None, typer.Option(metavar="FILE", help="readings of the carrier, and")] = None,
    stack: Annotated[
        Path | None, typer.Option(metavar="FILE", help="readings of wafer and carrier bonded together.")
    ] = None,
    diameter_mm: options.DiameterOption = None,
    outline: options.OutlineOption = None,
    flat_length_mm: options.FlatOption = None,
    notch: options.NotchOption = False,
    carrier_diameter_mm: Annotated[
        float | None, typer.Option(help="Diameter of the carrier; else that of the wafer.")
    ] = None,
    wafer_id: Annotated[
        str | None, typer.Option(metavar="ID", help="Which wafer, where its file holds several.")
    ] = None,
    carrier_id: Annotated[str | None, typer.Option(metavar="ID", help="Which carrier.")] = None,
    stack_id: Annotated[str | None, typer.Option(metavar="ID", help="Which stack.")] = None,
    wafer_seen_from: Annotated[
        Seen, typer.Option(help="Face the wafer's map was looked at; 'bonded' mirrors x.")
    ] = "worked",
    wafer_turn_deg: Annotated[float, typer.Option(help="How far the wafer was turned when bonded.")] = 0.0,
    carrier_turn_deg: Annotated[float, typer.Option(help="How far the carrier was turned.")] = 0.0,
    edge_exclusion_mm: options.EdgeExclusionOption = 0.0,
    gauge_limit_um: options.GaugeLimitOption = None,
    gauge_local_um: options.GaugeLocalOption = None,
    gauge_resolution_um: options.GaugeResolutionOption = None,
    gauge_repeatability_um: options.GaugeRepeatabilityOption = None,
    allowed_drift_um: options.AllowedDriftOption = None,
    ttv_limit_um: Annotated[
        float | None, typer.Option(min=0.0, help=f"Limit of TTV the bond is judged by; else {USUAL_TTV_LIMIT_UM:g}.")
    ] = None,
    target_um: Annotated[float | None, typer.Option(help="Target thickness, for the predicted map.")] = None,
    rebond_cost: Annotated[
        float | None, typer.Option(help="Cost of bonding again, in the currency of --wafer-value.")
    ] = None,
    wafer_value: Annotated[float | None, typer.Option(help="What is lost with a wafer.")] = None,
    model: Annotated[
        bool, typer.Option("--model", help="Compute the film that a press leaves instead; no readings are taken.")
    ] = False,
    load_n: Annotated[float | None, typer.Option(help="Model: load on the stack.")] = None,
    radius_mm: Annotated[float | None, typer.Option(help="Model: radius of the wafer.")] = None,
    viscosity_pa_s: Annotated[float | None, typer.Option(help="Model: viscosity of the hot adhesive.")] = None,
    start_um: Annotated[float | None, typer.Option(help="Model: film before it is pressed.")] = None,
    time_s: Annotated[float | None, typer.Option(help="Model: how long it is pressed.")] = None,
    wanted_um: Annotated[float | None, typer.Option(help="Model: film wanted; the answer gives the time.")] = None,
    adhesive: Annotated[
        str | None, typer.Option(metavar="ID", help="Model: adhesive of the library, instead of a viscosity.")
    ] = None,
    temperature_c: Annotated[float | None, typer.Option(help="Model: temperature of the adhesive.")] = None,
    sites: Annotated[bool, typer.Option("--sites", help="Add the adhesive at every site to the answer.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Adhesive thickness from wafer, carrier and stack; the wafer it will give; keep the bond or make it again."""
    if model:
        press = bond_model.Press(load_n, radius_mm, start_um, time_s, viscosity_pa_s, wanted_um, temperature_c)
        bond_model.answer_model(press, adhesive, as_json=as_json)
        return
    if wafer is None or carrier is None or stack is None:
        missing = [f"--{name}" for name, one in (("wafer", wafer), ("carrier", carrier), ("stack", stack)) if not one]
        raise CommandLineError(
            f"{', '.join(missing)} not given: a bond is the stack less wafer less carrier. Give all three files, or "
            "--model with a load to compute the film of a press."
        )
    from lapwright.app.measure import BondFiles, BondQuestion, Circumstances, bond_of_files
    from lapwright.formats.json_line import warning_dict
    from lapwright.formats.results import bond_dict, notice_dicts

    limit_um = USUAL_TTV_LIMIT_UM if ttv_limit_um is None else ttv_limit_um
    measured = bond_of_files(
        BondFiles(
            wafer=wafer,
            carrier=carrier,
            stack=stack,
            wafer_id=wafer_id,
            carrier_id=carrier_id,
            stack_id=stack_id,
            wafer_frame=Frame(seen_from=wafer_seen_from, turn=math.radians(wafer_turn_deg)),
            carrier_frame=Frame(turn=math.radians(carrier_turn_deg)),
        ),
        Circumstances(
            outline=options.piece_outline(diameter_mm, outline, flat_length_mm, notch=notch),
            edge_exclusion=options.metres(edge_exclusion_mm, "mm"),
            gauge=options.gauge(gauge_limit_um, gauge_local_um, gauge_resolution_um, gauge_repeatability_um),
            allowed_drift=options.metres_or_none(allowed_drift_um, "µm"),
        ),
        BondQuestion(
            ttv_limit=options.metres(limit_um, "µm"),
            target_thickness=options.metres_or_none(target_um, "µm"),
            carrier_diameter=options.metres_or_none(carrier_diameter_mm, "mm"),
            rebond_cost=rebond_cost,
            wafer_value=wafer_value,
        ),
    )
    warnings = notice_dicts(measured.result.warnings)
    if ttv_limit_um is None:
        sentence = f"No limit of TTV was given; the bond is judged by {limit_um:g} µm."
        warnings.append(warning_dict("bond.limit_assumed", sentence))
    for role, one in (("wafer", measured.wafer), ("carrier", measured.carrier), ("stack", measured.stack)):
        warnings += notice_dicts(one.warnings, set=role)
    result = {
        "wafer": measured.wafer.piece,
        "carrier": measured.carrier.piece,
        "ttv_limit_um": limit_um,
        **bond_dict(measured.result, measured.verdict, with_sites=sites),
    }
    give(result, as_json=as_json, show=_show, warnings=warnings)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    bias, expanded = result["predicted_ttv_noise_bias_um"], result["predicted_ttv_expanded_uncertainty_um"]
    noise = f"noise adds {shown(bias)} µm; U {shown(expanded)} µm"
    rows = [
        ("bond, mean", f"{shown(result['mean_um'])} ± {shown(result['mean_expanded_uncertainty_um'])}", "µm", ""),
        ("bond, from … to", f"{shown(result['min_um'])} … {shown(result['max_um'])}", "µm", ""),
        ("bond, range", shown(result["range_um"]), "µm", ""),
        ("bond, wedge", shown(result["wedge_um"]), "µm", _thick(result["wedge_azimuth_deg"])),
        ("finished wafer, TTV raw", shown(result["predicted_ttv_um"]), "µm", noise),
        (
            "finished wafer, wedge",
            shown(result["predicted_wedge_um"]),
            "µm",
            _thick(result["predicted_wedge_azimuth_deg"]),
        ),
    ]
    print_line(f"Wafer {result['wafer']} on carrier {result['carrier']}, {result['n_sites']} sites")
    print_table(("what", "value", "unit", ""), rows, numbers=(1,))
    for suspect in result["suspects"]:
        print_line(f"Suspect site {suspect['site']}: {suspect['reason']}.")
    frame = result["frame"]
    print_line(
        f"Frame: looking at the worked face; wafer map seen from its {frame['wafer']['seen_from']} face, turned "
        f"{shown(frame['wafer']['turn_deg'], 0)}°, carrier turned {shown(frame['carrier']['turn_deg'], 0)}°."
    )
    print_line(result["verdict"]["reason"])


def _thick(azimuth: float | None) -> str:
    return "no direction to be told" if azimuth is None else f"thick at {azimuth:.0f}°"
