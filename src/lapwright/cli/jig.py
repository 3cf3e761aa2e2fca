"""`lapwright jig`: what to turn at each adjuster to take a wedge out; what a load presses."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, Literal

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give
from lapwright.errors import CommandLineError
from lapwright.process.jig import Adjuster, JigGeometry, View

app = typer.Typer(add_completion=False)


@app.command()
def jig(  # noqa: PLR0913  one parameter for each option
    *,
    wedge_um: Annotated[float, typer.Option(min=0.0, help="The WAFER's wedge: difference across its full diameter.")],
    azimuth_deg: Annotated[float, typer.Option(help="Azimuth of its thick edge, in the wafer frame.")],
    wafer_diameter_mm: Annotated[float, typer.Option(help="Full diameter of the wafer.")],
    adjuster_radius_mm: Annotated[str, typer.Option(metavar="R[,R…]", help="Distance of the adjusters from the axis.")],
    adjuster_azimuths_deg: Annotated[str, typer.Option(metavar="A,A,A[,A…]", help="Where the adjusters stand.")],
    um_per_division: Annotated[str, typer.Option(metavar="N[,N…]", help="Travel of one division.")],
    division_step: Annotated[float, typer.Option(help="Smallest part of a division that can be set.")] = 0.25,
    counts_away: Annotated[
        bool, typer.Option("--counts-away", help="Divisions counted upwards take the wafer away from the plate.")
    ] = False,
    view: Annotated[View, typer.Option(help="How the adjuster azimuths were noted.")] = "worked",
    mount_angle_deg: Annotated[
        float, typer.Option(help="Azimuth on the jig, face up, at which the wafer's +x lies.")
    ] = 0.0,
    fixed_adjuster: Annotated[
        int | None, typer.Option(metavar="K", min=1, help="This adjuster, counted from 1, must not move.")
    ] = None,
    only_positive: Annotated[bool, typer.Option("--only-positive", help="All moves towards the plate.")] = False,
    load_kg: Annotated[
        float | None, typer.Option(min=0.0, help="Load on the jig; the answer gives the pressure.")
    ] = None,
    pressure_kpa: Annotated[
        float | None, typer.Option(min=0.0, help="Pressure wanted; the answer gives the load.")
    ] = None,
    spring_lift_n: Annotated[float, typer.Option(help="What a spring takes off the load.")] = 0.0,
    ring_share_percent: Annotated[
        float, typer.Option(min=0.0, help="Part of the rest that foot or ring carries.")
    ] = 0.0,
    pieces: Annotated[int, typer.Option(min=1, help="Pieces of this size on the jig.")] = 1,
    as_json: JsonOption = False,
) -> None:
    """Correction of each adjuster that takes the wafer's wedge out, and the wedge left after rounding."""
    from lapwright.formats.results import jig_dict, load_dict
    from lapwright.model.wafer import Round, Wedge
    from lapwright.process.jig import adjuster_corrections
    from lapwright.process.loads import outline_area

    diameter = options.metres(wafer_diameter_mm, "mm")
    geometry = JigGeometry(
        adjusters=adjusters_of(adjuster_azimuths_deg, adjuster_radius_mm, um_per_division, counts_away=counts_away),
        division_step=division_step,
        view=view,
        mount_angle=math.radians(mount_angle_deg),
    )
    if fixed_adjuster is not None and fixed_adjuster > len(geometry.adjusters):
        raise CommandLineError(
            f"There is no adjuster {fixed_adjuster}; they count from 1 to {len(geometry.adjusters)}."
        )
    correction = adjuster_corrections(
        Wedge(amount=options.metres(wedge_um, "µm"), azimuth=math.radians(azimuth_deg)),
        diameter,
        geometry,
        fixed_adjuster=None if fixed_adjuster is None else fixed_adjuster - 1,
        only_positive=only_positive,
    )
    result = jig_dict(correction)
    if load_kg is not None or pressure_kpa is not None:
        lift = {"spring_lift": spring_lift_n, "carried_share": ring_share_percent / 100.0}
        areas = [outline_area(Round(diameter=diameter))] * pieces
        result |= load_dict(*_load_and_pressure(load_kg, pressure_kpa, areas, **lift))
    give(result, as_json=as_json, show=_show)


def adjusters_of(azimuths: str, radii: str, travel: str, *, counts_away: bool) -> tuple[Adjuster, ...]:
    """The adjusters that the options describe; one value for all of them, or one for each."""
    angles = _numbers(azimuths, "--adjuster-azimuths-deg")
    if len(angles) < 3:
        raise CommandLineError(f"--adjuster-azimuths-deg names {len(angles)} adjusters; a jig has at least three.")
    sense: Literal[1, -1] = -1 if counts_away else 1
    return tuple(
        Adjuster(
            azimuth=math.radians(angle),
            radius=options.metres(radius, "mm"),
            travel_per_division=options.metres(step, "µm"),
            sense=sense,
        )
        for angle, radius, step in zip(
            angles,
            _one_or_each(radii, len(angles), "--adjuster-radius-mm"),
            _one_or_each(travel, len(angles), "--um-per-division"),
            strict=True,
        )
    )


# ----------------------------------------------------------------------------------------------------------------------


def _load_and_pressure(
    load_kg: float | None, pressure_kpa: float | None, areas: list[float], *, spring_lift: float, carried_share: float
) -> tuple[float, float]:
    """Load [N] and pressure [Pa], the one from the other."""
    from lapwright.process.loads import contact_pressure, load_for_pressure, weight

    if load_kg is not None and pressure_kpa is not None:
        raise CommandLineError("--load-kg and --pressure-kpa give one thing twice; leave one of them out.")
    if load_kg is not None:
        load = weight(load_kg)
        return load, contact_pressure(load, areas, spring_lift=spring_lift, carried_share=carried_share)
    pressure = options.si(pressure_kpa or 0.0, "kPa", "pressure")
    return load_for_pressure(pressure, areas, spring_lift=spring_lift, carried_share=carried_share), pressure


def _one_or_each(text: str, count: int, option: str) -> list[float]:
    values = _numbers(text, option)
    if len(values) not in (1, count):
        raise CommandLineError(f"{option} has {len(values)} values; expected one, or {count}: one for each adjuster.")
    return values * count if len(values) == 1 else values


def _numbers(text: str, option: str) -> list[float]:
    try:
        values = [float(part) for part in text.split(",")]
    except ValueError as error:
        raise CommandLineError(
            f"{option} is {text!r}; expected numbers with commas between, like 90,210,330."
        ) from error
    if not all(map(math.isfinite, values)):
        raise CommandLineError(f"{option} is {text!r}; expected finite numbers.")
    return values


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    rows = [
        (
            str(number),
            shown(one["azimuth_deg"], 1),
            shown(one["correction_um"], 2, sign=True),
            shown(one["divisions_exact"], 3, sign=True),
            shown(one["divisions_to_set"], 2, sign=True),
        )
        for number, one in enumerate(result["adjusters"], start=1)
    ]
    print_table(("adjuster", "at, °", "correction, µm", "divisions, exact", "divisions to set"), rows, numbers=range(5))
    print_line("+ brings the wafer nearer the plate there: more is removed.")
    azimuth = result["residual_azimuth_deg"]
    place = "" if azimuth is None else f", thick at {shown(azimuth, 0)}°"
    print_line(f"Wedge left after rounding: {shown(result['residual_wedge_um'], 3)} µm{place}.")
    if result["centre_shift_um"]:
        print_line(f"Centre of the wafer comes {shown(result['centre_shift_um'], 2, sign=True)} µm nearer the plate.")
    if "pressure_kpa" in result:
        print_line(f"Load {shown(result['load_kg'], 3)} kg, pressure {shown(result['pressure_kpa'], 3)} kPa.")
    for sentence in result["voids"]:
        print_line(sentence)
