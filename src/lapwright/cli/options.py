"""Options that several commands share, and what is made of them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from lapwright.errors import CommandLineError
from lapwright.formats.outlines import outline_from_text, round_outline
from lapwright.model.readings import Conditions, Gauge
from lapwright.model.wafer import Outline
from lapwright.units import find_unit, from_unit

Hold = Literal["free", "clamped"]

ReadingsArgument = Annotated[Path, typer.Argument(metavar="FILE", help="Readings file (CSV).")]
DiameterOption = Annotated[float | None, typer.Option("--diameter-mm", help="Diameter of a round piece.")]
OutlineOption = Annotated[
    str | None,
    typer.Option("--outline", metavar="25x25mm|FILE", help="Outline of a piece that is not round: sides, or corners."),
]
FlatOption = Annotated[float | None, typer.Option("--flat-length-mm", help="Length of the flat, at -y.")]
NotchOption = Annotated[bool, typer.Option("--notch", help="The wafer has a notch, at -y.")]
EdgeExclusionOption = Annotated[
    float, typer.Option("--edge-exclusion-mm", min=0.0, help="Sites nearer the edge do not count.")
]
GaugeLimitOption = Annotated[
    float | None,
    typer.Option("--gauge-limit-um", min=0.0, help="Accuracy limit (±) of the gauge, common to all sites of a set."),
]
GaugeLocalOption = Annotated[
    float | None, typer.Option("--gauge-local-um", min=0.0, help="Error limit (±) that differs from site to site.")
]
GaugeResolutionOption = Annotated[
    float | None, typer.Option("--gauge-resolution-um", min=0.0, help="Smallest step the gauge shows.")
]
GaugeRepeatabilityOption = Annotated[
    float | None,
    typer.Option(
        "--gauge-repeatability-um", min=0.0, help="Standard deviation of one reading, when sites are read once."
    ),
]
AllowedDriftOption = Annotated[
    float | None,
    typer.Option(
        "--allowed-drift-um", min=0.0, help="Largest move of the zero that is corrected; else the gauge limit."
    ),
]
HoldOption = Annotated[Hold | None, typer.Option("--hold", help="How the piece was held, where the file does not say.")]
TemperatureOption = Annotated[
    float | None, typer.Option("--temperature-c", help="Temperature of the piece, where the file does not say.")
]
SoakedOption = Annotated[
    bool | None,
    typer.Option("--soaked/--not-soaked", help="Whether it had soaked since a hot step, where the file does not say."),
]


def metres(value: float, symbol: str) -> float:
    """A length on the command line, in m."""
    return si(value, symbol, "length")


def metres_or_none(value: float | None, symbol: str) -> float | None:
    """A length on the command line, in m; None when it was not given."""
    return None if value is None else metres(value, symbol)


def si(value: float, symbol: str, dimension: str) -> float:
    """A number on the command line, in SI."""
    return from_unit(value, find_unit(symbol, dimension))


def piece_outline(
    diameter_mm: float | None, outline: str | None, flat_length_mm: float | None, *, notch: bool = False
) -> Outline:
    """The outline that the options describe; a diameter or an outline must be given, not both."""
    if (diameter_mm is None) == (outline is None):
        raise CommandLineError("Give the outline of the piece: either --diameter-mm or --outline.")
    if diameter_mm is not None:
        return round_outline(metres(diameter_mm, "mm"), flat_length=metres_or_none(flat_length_mm, "mm"), notch=notch)
    if flat_length_mm is not None or notch:
        raise CommandLineError("--flat-length-mm and --notch belong to --diameter-mm; leave them out with --outline.")
    return outline_from_text(outline or "")


def gauge(
    limit_um: float | None, local_um: float | None, resolution_um: float | None, repeatability_um: float | None
) -> Gauge | None:
    """The gauge that the options describe, None when they describe none."""
    if limit_um is None:
        if (local_um, resolution_um, repeatability_um) != (None, None, None):
            raise CommandLineError("What is known of the gauge begins with its accuracy limit: give --gauge-limit-um.")
        return None
    return Gauge(
        gauge_id="command-line",
        name="the gauge described",
        limit=metres(limit_um, "µm"),
        resolution=metres(resolution_um or 0.0, "µm"),
        local=metres_or_none(local_um, "µm"),
        repeatability=metres_or_none(repeatability_um, "µm"),
    )


def conditions(hold: Hold | None, temperature_c: float | None, *, soaked: bool | None) -> Conditions:
    """How the pieces were read, as far as the options say."""
    temperature = None if temperature_c is None else si(temperature_c, "°C", "temperature")
    return Conditions(hold=hold, temperature=temperature, soaked=soaked)
