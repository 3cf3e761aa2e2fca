"""`lapwright roughness`: parameters of a measured profile or map, with the settings they were taken with."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give
from lapwright.errors import CommandLineError

app = typer.Typer(add_completion=False)


@app.command()
def roughness(  # noqa: PLR0913  one parameter for each option
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Profile or map: CSV with x_mm,z_nm, X3P or SDF.")],
    *,
    cutoff_mm: Annotated[
        float | None, typer.Option(help="Cutoff; else a profile's own roughness chooses it from the standard's table.")
    ] = None,
    short_cutoff_um: Annotated[
        float | None, typer.Option(help="Shorter waves are left out; else what belongs to the cutoff.")
    ] = None,
    sections: Annotated[
        int, typer.Option(min=0, help="Sections of one cutoff to evaluate; 0 takes as many as the profile holds.")
    ] = 5,
    filter_kind: Annotated[
        Literal["gaussian", "robust_gaussian", "spline"], typer.Option("--filter", help="Filter of the mean line.")
    ] = "gaussian",
    form: Annotated[
        Literal["level", "line", "parabola", "cubic", "quartic", "arc", "plane", "quadric"] | None,
        typer.Option(help="Form taken out first: line of a profile and plane of a map, if not given."),
    ] = None,
    rule: Annotated[Literal["iso21920", "iso4288"], typer.Option(help="Table that chooses the cutoff.")] = "iso21920",
    selected_by: Annotated[Literal["ra", "rz", "rsm"], typer.Option(help="Parameter that chooses the cutoff.")] = "ra",
    instrument: Annotated[
        Literal["stylus", "optical", "not_stated"], typer.Option(help="What it was measured with.")
    ] = "not_stated",
    tip_radius_um: Annotated[float | None, typer.Option(min=0.0, help="Radius of a stylus tip.")] = None,
    noise_nm: Annotated[
        float | None, typer.Option(min=0.0, help="Rq or Sq of the instrument on a reference flat, same settings.")
    ] = None,
    height_uncertainty_percent: Annotated[
        float | None, typer.Option(min=0.0, help="Standard uncertainty of the height scale.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """How smooth a surface is: roughness parameters of a profile (Ra, Rq, Rz …) or of a map (Sa, Sq, Sz …)."""
    from lapwright.app.surfaces import MeasuredProfile, RoughnessQuestion, roughness_of_file
    from lapwright.formats.surface_results import areal_roughness_dict, roughness_dict
    from lapwright.metrology.roughness_settings import ProfileInstrument

    scale = height_uncertainty_percent
    question = RoughnessQuestion(
        cutoff=_length(cutoff_mm, "mm", "--cutoff-mm"),
        short_cutoff=_length(short_cutoff_um, "µm", "--short-cutoff-um"),
        sections=sections or None,
        filter_kind=filter_kind,
        form=form,
        rule=rule,
        selected_by=selected_by,
        instrument=ProfileInstrument(
            kind=instrument,
            tip_radius=options.metres_or_none(tip_radius_um, "µm"),
            noise=options.metres_or_none(noise_nm, "nm"),
            height_uncertainty=None if scale is None else scale / 100.0,
        ),
    )
    found = roughness_of_file(file, question)
    told: dict[str, Any]
    if isinstance(found, MeasuredProfile):
        told = roughness_dict(found.result, ra=found.ra, rq=found.rq)
        uncertain = found.ra
    else:
        told = areal_roughness_dict(found.result, sa=found.sa, sq=found.sq)
        uncertain = found.sa
    notices = [*found.result.warnings, *(uncertain.warnings if uncertain else ())]
    warnings = [{"code": code, "sentence": sentence} for code, sentence in dict.fromkeys(notices)]
    give({"file": file.name, **told}, as_json=as_json, show=_show, warnings=warnings)


# ----------------------------------------------------------------------------------------------------------------------


def _length(value: float | None, symbol: str, option: str) -> float | None:
    if value is not None and not 0.0 < value < float("inf"):
        raise CommandLineError(f"{option} is {value:g}; expected a length above zero.")
    return options.metres_or_none(value, symbol)


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    used = result["settings"]
    is_profile = result["kind"] == "profile"
    print_line(f"{result['file']}: {'profile' if is_profile else 'map'}, {used['n_points']} points")
    names = _PROFILE if is_profile else _AREAL
    rows = []
    for title, field, digits, unit in names:
        spread = result.get(f"{field.removesuffix('_nm')}_expanded_uncertainty_nm")
        value = shown(result[field], digits, sign=title[1:] == "sk")
        rows.append((title, value + (f" ± {shown(spread, digits)}" if spread is not None else ""), unit))
    print_table(("parameter", "value ± U", "unit"), rows, numbers=(1,))
    cutoff = "none" if used["cutoff_mm"] is None else f"{used['cutoff_mm']:g} mm"
    short = "none" if used["short_cutoff_um"] is None else f"{used['short_cutoff_um']:g} µm"
    print_line(f"Cutoff {cutoff}, short cutoff {short}, form taken out: {used['form']}.")
    if is_profile:
        named = f", class {used['setting_class']}" if used["setting_class"] else ""
        print_line(
            f"{used['sections']} sections, {used['evaluation_length_mm']:g} mm, {used['filter'].replace('_', ' ')} "
            f"filter{named}. {used['end_effects']}"
        )
    print_line("U: expanded uncertainty, 95 %, from place to place and what was stated of the instrument.")


_PROFILE = (
    ("Ra", "ra_nm", 2, "nm"), ("Rq", "rq_nm", 2, "nm"), ("Rz", "rz_nm", 1, "nm"), ("Rt", "rt_nm", 1, "nm"),
    ("Rp", "rp_nm", 1, "nm"), ("Rv", "rv_nm", 1, "nm"), ("Rsk", "rsk", 2, ""), ("Rku", "rku", 2, ""),
    ("Rdq", "rdq", 4, ""), ("Rsm", "rsm_um", 1, "µm"), ("Rk", "rk_nm", 1, "nm"), ("Rpk", "rpk_nm", 1, "nm"),
    ("Rvk", "rvk_nm", 1, "nm"), ("Wa", "wa_nm", 2, "nm"),
)  # fmt: skip
_AREAL = (
    ("Sa", "sa_nm", 2, "nm"), ("Sq", "sq_nm", 2, "nm"), ("Sz", "sz_nm", 1, "nm"), ("Sp", "sp_nm", 1, "nm"),
    ("Sv", "sv_nm", 1, "nm"), ("Ssk", "ssk", 2, ""), ("Sku", "sku", 2, ""), ("Sdq", "sdq", 4, ""),
    ("Sdr", "sdr_percent", 4, "%"), ("Sal", "sal_um", 1, "µm"), ("Str", "str_ratio", 2, ""), ("Sk", "sk_nm", 1, "nm"),
    ("Spk", "spk_nm", 1, "nm"), ("Svk", "svk_nm", 1, "nm"),
)  # fmt: skip
