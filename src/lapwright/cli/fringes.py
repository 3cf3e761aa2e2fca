"""`lapwright fringes`: a height map and the form of a sample from one fringe picture, or several with stepped phase."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give
from lapwright.errors import CommandLineError

if TYPE_CHECKING:
    from lapwright.app.fringe_maps import FringeQuestion, MeasuredFringes
    from lapwright.model.wafer import Outline

app = typer.Typer(add_completion=False)

Method = Literal["auto", "carrier", "closed", "steps"]
ChannelName = Literal["grey", "red", "green", "blue"]


@app.command()
def fringes(  # noqa: PLR0913  one parameter for each option
    images: Annotated[list[Path], typer.Argument(metavar="IMAGE…", help="Fringe pictures: PNG, TIFF or JPEG.")],
    *,
    fringe_um: Annotated[float | None, typer.Option(help="Height per fringe.")] = None,
    wavelength_nm: Annotated[float | None, typer.Option(help="Wavelength, in place of the height per fringe.")] = None,
    incidence_deg: Annotated[float, typer.Option(help="Angle of incidence from the surface NORMAL.")] = 0.0,
    diameter_mm: Annotated[float | None, typer.Option(help="Diameter of a round sample.")] = None,
    outline: Annotated[
        str | None, typer.Option(metavar="25x25mm|FILE", help="Sides of a sample that lies along the picture's sides.")
    ] = None,
    pixel_um: Annotated[
        str | None,
        typer.Option(metavar="W[,H]", help="Width and height of a pixel on the sample, in place of its size."),
    ] = None,
    pixel_aspect: Annotated[
        float | None, typer.Option(help="Height of a pixel over its width on the sample, for a view at a slant.")
    ] = None,
    method: Annotated[Method, typer.Option(help="How to read the pictures.")] = "auto",
    steps: Annotated[
        str | None,
        typer.Option(metavar="A,A,A…|equal|unknown", help="Phase of each picture in degrees, or what is known of it."),
    ] = None,
    mask: Annotated[
        list[str] | None,
        typer.Option(
            metavar="circle:X,Y,R|polygon:…|hole:…|FILE", help="Where the sample is, in pixels; may be repeated."
        ),
    ] = None,
    tilt_opens_toward_deg: Annotated[
        float | None, typer.Option(help="Where the gap to the reference opens to, counter-clockwise from the right.")
    ] = None,
    pressed_fringes_toward_deg: Annotated[
        float | None, typer.Option(help="Where tilt fringes move to when the sample is pressed towards the reference.")
    ] = None,
    pressed_fringes_move: Annotated[
        Literal["outward", "inward"] | None, typer.Option(help="The same for closed fringes.")
    ] = None,
    steps_open_gap: Annotated[
        bool | None, typer.Option("--steps-open-gap/--steps-close-gap", help="What a growing phase of the steps means.")
    ] = None,
    channel: Annotated[
        ChannelName | None, typer.Option(help="Channel of a colour picture; else the liveliest.")
    ] = None,
    zernike_terms: Annotated[int, typer.Option(min=1, help="Zernike terms, from j = 1.")] = 22,
    out: Annotated[
        Path | None, typer.Option(metavar="MAP.x3p|.sdf|.csv", help="Save the height map in this file.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """How flat a sample is, from fringe pictures: map, peak to valley, power, Zernike terms, what can be trusted."""
    from lapwright.app.fringe_maps import FringeQuestion, fringes_of_pictures, pictures_of_files
    from lapwright.formats.mask_text import mask_from_texts
    from lapwright.formats.surface_results import fringes_dict

    known, equal = _steps(steps, len(images))
    question = FringeQuestion(
        fringe_height=_fringe_height(fringe_um, wavelength_nm, incidence_deg),
        outline=_outline(diameter_mm, outline, pixel_um),
        pixel_size=_pixel_size(pixel_um),
        pixel_aspect=_positive(pixel_aspect, "--pixel-aspect"),
        method=method,
        channel=channel,
        steps=known,
        equal_steps=equal,
        steps_open_gap=steps_open_gap,
        tilt_opens_toward=_angle(tilt_opens_toward_deg),
        pressed_fringes_toward=_angle(pressed_fringes_toward_deg),
        pressed_fringes_move=pressed_fringes_move,
        zernike_terms=zernike_terms,
    )
    _need_writable(out)
    pictures = pictures_of_files(tuple(images), channel=channel)
    shape = pictures[0].intensity.shape
    found = fringes_of_pictures(pictures, question, mask=mask_from_texts(mask or (), (shape[0], shape[1])))
    answer = {
        "files": [path.name for path in images],
        "channel": found.channel,
        **fringes_dict(found.fringes, found.shape, found.zernike),
        "out": _saved(out, found, question),
    }
    warnings = [{"code": code, "sentence": sentence} for code, sentence in found.warnings]
    give(answer, as_json=as_json, show=_show, warnings=warnings)


# ----------------------------------------------------------------------------------------------------------------------


def _fringe_height(fringe_um: float | None, wavelength_nm: float | None, incidence_deg: float) -> float:
    from lapwright.metrology.fringes import fringe_height

    if (fringe_um is None) == (wavelength_nm is None):
        raise CommandLineError("Give the scale of height: either --fringe-um, or --wavelength-nm with --incidence-deg.")
    if fringe_um is not None:
        if incidence_deg:
            raise CommandLineError("--incidence-deg belongs to --wavelength-nm; --fringe-um is the height per fringe.")
        return options.metres(fringe_um, "µm")
    return fringe_height(wavelength=options.metres(wavelength_nm or 0.0, "nm"), incidence=math.radians(incidence_deg))


def _outline(diameter_mm: float | None, outline: str | None, pixel_um: str | None) -> Outline | None:
    if [diameter_mm, outline, pixel_um].count(None) != 2:
        raise CommandLineError("Give the scale of length once: --diameter-mm, --outline or --pixel-um.")
    return None if pixel_um is not None else options.piece_outline(diameter_mm, outline, None)


def _pixel_size(text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    try:
        sizes = [options.metres(float(part), "µm") for part in text.split(",")]
    except ValueError:
        sizes = []
    if len(sizes) not in (1, 2) or not all(math.isfinite(size) and size > 0.0 for size in sizes):
        raise CommandLineError(f"--pixel-um is {text!r}; expected a width, or width and height, like 50 or 50,52.")
    return sizes[-1], sizes[0]


def _positive(value: float | None, option: str) -> float | None:
    if value is not None and not (math.isfinite(value) and value > 0.0):
        raise CommandLineError(f"{option} is {value:g}; expected a number above zero.")
    return value


def _angle(value: float | None) -> float | None:
    if value is not None and not math.isfinite(value):
        raise CommandLineError(f"An azimuth is {value}; expected degrees.")
    return None if value is None else math.radians(value)


def _steps(text: str | None, pictures: int) -> tuple[tuple[float, ...] | None, bool]:
    """Known phases [rad] or None, and whether unknown ones are all alike."""
    if text is None or text in ("equal", "unknown"):
        return None, text == "equal"
    try:
        steps = tuple(math.radians(float(part)) for part in text.split(","))
    except ValueError as error:
        raise CommandLineError(
            f"--steps is {text!r}; expected 'equal', 'unknown', or degrees like 0,90,180,270."
        ) from error
    if len(steps) != pictures or not all(map(math.isfinite, steps)):
        raise CommandLineError(f"--steps names {len(steps)} phases for {pictures} pictures; one for each is expected.")
    return steps, False


def _need_writable(out: Path | None) -> None:
    """Say that the ending is unknown before the work, not after it."""
    from lapwright.formats.surfaces import ENDINGS

    if out is not None and out.suffix.lower() not in ENDINGS:
        raise CommandLineError(f"--out {out.name} ends in none of {', '.join(ENDINGS)}; give it one of these endings.")


def _saved(out: Path | None, found: MeasuredFringes, question: FringeQuestion) -> str | None:
    from datetime import UTC, datetime

    from lapwright.formats.surfaces import write_surface

    if out is None:
        return None
    about = f"height map from fringes, method {found.fringes.method}, {question.fringe_height * 1e6:.6g} um per fringe"
    write_surface(out, found.surface, at=datetime.now(UTC), about=about)
    return str(out)


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    how = {"carrier": "one picture with tilt fringes", "closed": "closed fringes", "steps": "phase steps"}
    print_line(f"{', '.join(result['files'])}: {how[result['method']]}, {shown(result['fringe_um'], 4)} µm per fringe")
    unknown = result["sign_ambiguous"]
    power_unit = "µm" if unknown else "µm" + _word(result)
    rows = [
        ("peak to valley, plane out", shown(result["pv_um"], 3), "µm"),
        ("root mean square, plane out", shown(result["rms_um"], 3), "µm"),
        ("power over the diameter", shown(result["power_um"], 3, sign=not unknown), power_unit),
        ("astigmatism", shown(result["astigmatism_um"], 3), "µm"),
        ("left after power and astigmatism, rms", shown(result["residual_rms_um"], 3), "µm"),
        ("tilt of the set-up (no wedge)", shown(result["tilt_um"], 3), "µm"),
        ("measured", shown(100.0 * result["coverage"], 1), f"% of the sample, {result['n_pixels']} pixels"),
        ("confidence", shown(result["confidence"], 2), "of 1"),
    ]  # fmt: skip
    print_table(("of the face", "value", "unit"), rows, numbers=(1,))
    if unknown:
        print_line(
            "Which way is up is not known: the map may be upside down. Say which way the tilt opens, or how the "
            "fringes move when the sample is pressed towards the reference."
        )
    for one in result["islands"]:
        print_line(f"Left out: {one['n_pixels']} pixels around ({one['x_px']:.0f}, {one['y_px']:.0f}), not joined.")
    if result["out"]:
        print_line(f"Map saved in {result['out']}.")


def _word(result: Mapping[str, Any]) -> str:
    """Domed or dished, where the power stands out of what is left beside it."""
    power, left = result["power_um"], result["residual_rms_um"]
    if power is None or left is None or abs(power) <= left:
        return ""
    return " (domed)" if power > 0 else " (dished)"
