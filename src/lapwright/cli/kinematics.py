"""`lapwright kinematics`: how fast and how evenly a wafer slides on the plate, whether its paths repeat, what wears."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give
from lapwright.errors import CommandLineError

app = typer.Typer(add_completion=False)


@app.command()
def kinematics(  # noqa: PLR0913  one parameter for each option
    *,
    plate_speed_rpm: Annotated[float, typer.Option(help="Speed of the plate in the laboratory; negative turns back.")],
    jig_speed_rpm: Annotated[float, typer.Option(help="Speed of the jig in the laboratory, the same sense positive.")],
    offset_mm: Annotated[float, typer.Option(min=0.0, help="Distance between the axes of plate and jig.")],
    wafer_diameter_mm: Annotated[float, typer.Option(help="Diameter of the wafer.")],
    wafer_offset_mm: Annotated[float, typer.Option(min=0.0, help="How far its centre is off the jig's axis.")] = 0.0,
    sweep_half_stroke_mm: Annotated[float, typer.Option(min=0.0, help="Half the stroke of a sweep.")] = 0.0,
    sweep_period_s: Annotated[float | None, typer.Option(help="Time of one sweep to and fro.")] = None,
    arm_length_mm: Annotated[
        float | None, typer.Option(help="Arm that sweeps the jig; else a straight stroke.")
    ] = None,
    pivot_distance_mm: Annotated[float | None, typer.Option(help="From the plate's axis to the arm's pivot.")] = None,
    duration_min: Annotated[float | None, typer.Option(min=0.0, help="Running time; gives the distance slid.")] = None,
    track_um: Annotated[float | None, typer.Option(help="Width of one grain's line, for repeating paths.")] = None,
    land_inner_mm: Annotated[float, typer.Option(min=0.0, help="Inner radius of the plate's working land.")] = 0.0,
    land_outer_mm: Annotated[
        float | None, typer.Option(help="Outer radius of the land; gives coverage and wear of the plate.")
    ] = None,
    ring_outer_mm: Annotated[float | None, typer.Option(help="Outer radius of ring or foot that wears it.")] = None,
    ring_inner_mm: Annotated[float, typer.Option(min=0.0, help="Its inner radius.")] = 0.0,
    groove_width_mm: Annotated[float, typer.Option(min=0.0, help="Width of the plate's grooves.")] = 0.0,
    groove_pitch_mm: Annotated[float | None, typer.Option(help="From groove to groove.")] = None,
    crossed: Annotated[bool, typer.Option("--crossed", help="Two sets of grooves across each other.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Sliding speed over a wafer on a turning plate, and what wears the plate."""
    from lapwright.formats.kinematics_results import sliding_dict
    from lapwright.process.kinematics import Motion
    from lapwright.process.kinematics_sweep import Sweep
    from lapwright.process.plate_wear import groove_contact
    from lapwright.process.sliding import sliding

    motion = Motion(
        offset=options.metres(offset_mm, "mm"),
        plate_speed=options.si(plate_speed_rpm, "rpm", "rotation"),
        jig_speed=options.si(jig_speed_rpm, "rpm", "rotation"),
    )
    sweep = None
    if sweep_half_stroke_mm > 0.0:
        if sweep_period_s is None:
            raise CommandLineError("--sweep-half-stroke-mm needs --sweep-period-s: the time of one sweep to and fro.")
        sweep = Sweep(
            half_stroke=options.metres(sweep_half_stroke_mm, "mm"),
            period=sweep_period_s,
            arm_length=options.metres_or_none(arm_length_mm, "mm"),
            pivot_distance=options.metres_or_none(pivot_distance_mm, "mm"),
        )
    found = sliding(
        motion,
        options.metres(wafer_diameter_mm, "mm") / 2.0,
        wafer_offset=options.metres(wafer_offset_mm, "mm"),
        sweep=sweep,
        track_width=options.metres_or_none(track_um, "µm"),
    )
    result = sliding_dict(found, duration=None if duration_min is None else options.si(duration_min, "min", "time"))
    if groove_pitch_mm is not None:
        grooves = options.metres(groove_width_mm, "mm"), options.metres(groove_pitch_mm, "mm")
        result["contact_share"] = groove_contact(*grooves, crossed=crossed)
    if land_outer_mm is not None:
        ring = (ring_outer_mm if ring_outer_mm is not None else wafer_diameter_mm / 2.0, ring_inner_mm)
        result |= _wear(motion, found.speed_ratio, (land_inner_mm, land_outer_mm), ring, sweep_half_stroke_mm)
    give(result, as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _wear(
    motion: Any, ratio: float | None, land_mm: tuple[float, float], ring_mm: tuple[float, float], half_stroke_mm: float
) -> dict[str, Any]:
    from lapwright.formats.kinematics_results import wear_dict
    from lapwright.process.plate_wear import Footprint, Land, neutral_offset, wear_profile

    if ratio is None:
        raise CommandLineError("A plate that does not turn wears under the jig alone; give it a speed.")
    inner, outer = (options.metres(radius, "mm") for radius in land_mm)
    ring_outer, ring_inner = (options.metres(radius, "mm") for radius in ring_mm)
    land = Land(inner_radius=inner, outer_radius=outer)
    parts = (Footprint(outer_radius=ring_outer, inner_radius=ring_inner),)
    settings = {"speed_ratio": ratio, "half_stroke": options.metres(half_stroke_mm, "mm")}
    profile = wear_profile(land, parts, offset=motion.offset, **settings)
    return wear_dict(profile, neutral_offset(land, parts, **settings))


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    print_line(f"Mean sliding speed over the wafer: {shown(result['mean_speed_m_per_s'], 4)} m/s.")
    rows = [(shown(one["radius_mm"], 1), shown(one["mean_speed_m_per_s"], 5)) for one in result["radial"]]
    print_table(("from the jig's axis, mm", "mean speed, m/s"), rows, numbers=range(2))
    print_line(f"Largest less smallest over the mean: {shown(100.0 * result['nonuniformity'], 3)} %.")
    if result["path_unevenness"] is not None:
        print_line(f"Unevenness of the lines on the wafer: {shown(result['path_unevenness'], 3)}.")
    if "sliding_distance_m" in result:
        print_line(f"Distance slid: {shown(result['sliding_distance_m'], 1)} m.")
    if "contact_share" in result:
        print_line(f"Share of the plate that touches: {shown(100.0 * result['contact_share'], 1)} %.")
    for sentence in result["sentences"]:
        print_line(sentence)
    if "plate_radial" in result:
        worn = [
            (shown(one["radius_mm"], 1), shown(100.0 * one["covered_share"], 1), shown(one["wear_relative"], 2))
            for one in result["plate_radial"]
        ]
        print_table(("radius of the plate, mm", "covered, %", "wear over its mean"), worn, numbers=range(3))
        way = "domed" if result["plate_grows_domed_per_mean_wear"] > 0.0 else "dished"
        print_line(
            f"The plate grows {way}: {shown(abs(result['plate_grows_domed_per_mean_wear']), 2)} µm a µm of wear."
        )
        if result["neutral_offset_mm"] is not None:
            print_line(f"Neutral place of the ring: {shown(result['neutral_offset_mm'], 1)} mm from the plate's axis.")
