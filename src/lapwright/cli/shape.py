"""`lapwright shape`: form, flatness and site terms of a height or thickness map."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give
from lapwright.errors import CommandLineError

if TYPE_CHECKING:
    from lapwright.app.surfaces import MeasuredShape
    from lapwright.metrology.shape_sites import SiteGrid

app = typer.Typer(add_completion=False)


@app.command()
def shape(  # noqa: PLR0913  one parameter for each option
    file: Annotated[Path, typer.Argument(metavar="MAP", help="Map: X3P, SDF, or CSV with x_mm,y_mm,z_um.")],
    *,
    map_of: Annotated[
        Literal["face", "thickness", "median"] | None,
        typer.Option(help="What the heights are; else what the file says, or a face."),
    ] = None,
    diameter_mm: Annotated[
        float | None, typer.Option(help="Diameter to look at; else the circle that the measured points fill.")
    ] = None,
    edge_exclusion_mm: Annotated[float, typer.Option(min=0.0, help="Rim left out.")] = 0.0,
    site_mm: Annotated[
        str | None, typer.Option(metavar="25x25", help="Width and height of the sites; else no site terms.")
    ] = None,
    site_corner_mm: Annotated[
        str, typer.Option(metavar="X,Y", help="Where a corner common to four sites lies, from the centre.")
    ] = "0,0",
    partial_sites_percent: Annotated[
        float,
        typer.Option(min=1.0, max=100.0, help="Least share of a site that must be measured; 100: whole sites only."),
    ] = 100.0,
    zernike_terms: Annotated[int, typer.Option(min=1, help="Zernike terms, from j = 1.")] = 22,
    as_json: JsonOption = False,
) -> None:
    """How flat a face is, or how even a thickness: form, flatness, Zernike terms, rim, and site by site."""
    from lapwright.app.surfaces import ShapeQuestion, shape_of_file

    if diameter_mm is not None and not 0.0 < diameter_mm < float("inf"):
        raise CommandLineError(f"--diameter-mm is {diameter_mm:g}; expected a length above zero.")
    question = ShapeQuestion(
        map_of=map_of,
        diameter=options.metres_or_none(diameter_mm, "mm"),
        edge_exclusion=options.metres(edge_exclusion_mm, "mm"),
        sites=_sites(site_mm, site_corner_mm),
        min_measured=partial_sites_percent / 100.0,
        zernike_terms=zernike_terms,
    )
    found = shape_of_file(file, question)
    warnings = [{"code": code, "sentence": sentence} for code, sentence in found.warnings]
    give({"file": file.name, **_answer(found)}, as_json=as_json, show=_show, warnings=warnings)


# ----------------------------------------------------------------------------------------------------------------------


def _answer(found: MeasuredShape) -> dict[str, Any]:
    from lapwright.formats import surface_results as results
    from lapwright.formats.edge_values import deg, um

    known = not found.surface.sign_ambiguous
    is_thickness = found.map_of == "thickness"
    rows, columns = found.surface.height.shape
    sites = results.sites_dict(found.sites, is_thickness=is_thickness) if found.sites else {"n_sites": None}
    return {
        "map_of": found.map_of,
        "n_rows": rows,
        "n_columns": columns,
        "pixel_width_um": um(found.surface.pixel_size[1]),
        "pixel_height_um": um(found.surface.pixel_size[0]),
        "n_pixels": found.shape.n_pixels,
        **results.form_dict(found.shape, sign_known=known),
        "tilt_um": um(found.shape.tilt),
        "tilt_azimuth_deg": deg(found.shape.tilt_azimuth) if known and found.shape.tilt > _NO_TILT else None,
        "sign_ambiguous": not known,
        **results.flatness_dict(found.flatness, found.minimum_zone, sign_known=known),
        **results.overall_dict(found.overall, is_thickness=is_thickness),
        **results.bow_dict(found.bow, is_median=found.map_of == "median", sign_known=known),
        **results.rim_dict(found.rim, sign_known=known),
        "zernike_um": results.zernike_list(found.zernike),
        **sites,
    }


def _sites(text: str | None, corner: str) -> SiteGrid | None:
    from lapwright.metrology.shape_sites import SiteGrid
    from lapwright.units import number

    if text is None:
        return None
    sizes = re.fullmatch(r"\s*([\d.]+)\s*(?:mm)?\s*[x×X*]\s*([\d.]+)\s*(?:mm)?\s*", text)
    place = re.fullmatch(r"\s*(-?[\d.]+)\s*,\s*(-?[\d.]+)\s*", corner)
    if sizes is None or place is None:
        raise CommandLineError(
            f"--site-mm is {text!r} and --site-corner-mm {corner!r}; expected two sides like 25x25, a place like 0,0."
        )
    width, height, x, y = (options.si(number(one), "mm", "length") for one in (*sizes.groups(), *place.groups()))
    return SiteGrid(width=width, height=height, corner_x=x, corner_y=y)


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    of = {"face": "height of a face", "thickness": "thickness", "median": "median surface"}[result["map_of"]]
    print_line(
        f"{result['file']}: {of}, {result['n_pixels']} points over a diameter of {shown(result['diameter_mm'], 2)} mm"
    )
    names = _OF_ANY + (_OF_THICKNESS if result["map_of"] == "thickness" else ())
    names += _OF_MEDIAN if result["map_of"] == "median" else ()
    signed = () if result["sign_ambiguous"] else _SIGNED
    rows = [(title, shown(result[field], 3, sign=field in signed), unit) for title, field, unit in names]
    print_table(("term", "value", "unit"), rows, numbers=(1,))
    if result["sign_ambiguous"]:
        print_line("Which way is up is not known of this map: power is a size, and the map may be upside down.")
    elif result["map_of"] == "face":
        print_line("Power: + is domed, − is dished.")
    if result["n_sites"]:
        print_line(
            f"{result['n_sites']} sites: largest SFQR {shown(result['sfqr_max_um'], 3)} µm, "
            f"SFQD {shown(result['sfqd_max_um'], 3)} µm, SFLR {shown(result['sflr_max_um'], 3)} µm, "
            f"SBIR {shown(result['sbir_max_um'], 3)} µm. {result['partial_rule']}"
        )


_NO_TILT = 1e-12  # m: less is rounding
_SIGNED = ("power_um", "bow_um")
_OF_ANY = (
    ("peak to valley, plane out", "pv_um", "µm"),
    ("root mean square, plane out", "rms_um", "µm"),
    ("power over the diameter", "power_um", "µm"),
    ("astigmatism", "astigmatism_um", "µm"),
    ("left after power and astigmatism, rms", "residual_rms_um", "µm"),
    ("tilt of the map", "tilt_um", "µm"),
    ("FLTt, least squares", "fltt_um", "µm"),
    ("FLTt, minimum zone", "fltt_minimum_zone_um", "µm"),
    ("rim begins at radius", "rim_radius_mm", "mm"),
)
_OF_THICKNESS = (("GBIR", "gbir_um", "µm"), ("GFLR", "gflr_um", "µm"))
_OF_MEDIAN = (("bow", "bow_um", "µm"), ("warp", "warp_um", "µm"))
