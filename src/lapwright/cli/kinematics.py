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
    from lapwright.app.kinematics import MotionQuestion, PlateQuestion, motion_answer
    from lapwright.process.kinematics import Motion
    from lapwright.process.kinematics_sweep import Sweep

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
    land = None if land_outer_mm is None else _radii(land_inner_mm, land_outer_mm)
    plate = PlateQuestion(
        land=land,
        ring=None if ring_outer_mm is None else _radii(ring_inner_mm, ring_outer_mm),
        groove_width=options.metres(groove_width_mm, "mm"),
        groove_pitch=options.metres_or_none(groove_pitch_mm, "mm"),
        crossed=crossed,
    )
    question = MotionQuestion(
        motion=Motion(
            offset=options.metres(offset_mm, "mm"),
            plate_speed=options.si(plate_speed_rpm, "rpm", "rotation"),
            jig_speed=options.si(jig_speed_rpm, "rpm", "rotation"),
        ),
        wafer_radius=options.metres(wafer_diameter_mm, "mm") / 2.0,
        wafer_offset=options.metres(wafer_offset_mm, "mm"),
        sweep=sweep,
        track_width=options.metres_or_none(track_um, "µm"),
        duration=None if duration_min is None else options.si(duration_min, "min", "time"),
        plate=plate,
    )
    give(motion_answer(question), as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _radii(inner_mm: float, outer_mm: float) -> tuple[float, float]:
    return options.metres(inner_mm, "mm"), options.metres(outer_mm, "mm")


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
