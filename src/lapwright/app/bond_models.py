"""Use cases: what a bond will be like before it is made, what its heating was like, and how the wafer comes off.

Nothing is recorded here. The pages and commands that show these add the cautions of the step.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from lapwright.errors import BadInput, Fault, OutOfValidRange
from lapwright.library import load
from lapwright.process.bonding import FILM_BAND, squeeze_time, squeezed_film, viscosity_at
from lapwright.process.bonding_programme import (
    BondProgramme,
    BondWish,
    fastest_heating,
    suggested_programme,
    viscosity_curve,
)
from lapwright.process.bonding_stack import Cut, PairVerdict, StackBow, StackDesign, bow_as_it_thins, pair_verdict
from lapwright.process.bonding_trace import HeatTrace, TraceVerdict, judged_trace

if TYPE_CHECKING:
    from lapwright.library import Finish
    from lapwright.process.strength_debond import DebondChoice

ZERO_CELSIUS = 273.15


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmQuestion:
    """How thick a film gets: load [N], radius [m], film at the start [m], time [s]; a viscosity, or adhesive and heat.

    With `wanted` [m] the time to reach that film is told, too.
    """

    load: float
    radius: float
    start: float
    time: float
    viscosity: float | None = None
    adhesive: str | None = None
    temperature: float | None = None
    wanted: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmAnswer:
    """The film [m] with its ends, pressure [Pa], viscosity [Pa s] and where it is from, time to `wanted` [s]."""

    film: float
    low: float
    high: float
    pressure: float
    viscosity: float
    viscosity_from: str
    wanted: float | None
    time_to_wanted: float | None
    warnings: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StackAnswer:
    """Bow and stress now and at the target thickness, and whether the pair matches."""

    design: StackDesign
    now: StackBow
    target: StackBow | None
    pair: PairVerdict
    course: tuple[StackBow, ...]


def film_of(question: FilmQuestion, *, library_file: Path | None = None) -> FilmAnswer:
    """The film a press leaves. Raises `BadInput` when neither a viscosity nor adhesive and temperature are given."""
    viscosity, source, warnings = _viscosity(question, library_file)
    film = squeezed_film(
        question.load, radius=question.radius, viscosity=viscosity, start=question.start, time=question.time
    )
    time = None
    if question.wanted is not None:
        time = squeeze_time(
            question.load, radius=question.radius, viscosity=viscosity, start=question.start, end=question.wanted
        )
        if film > question.wanted * 1.001:
            sentence = (
                f"The film stays thicker than wanted: {film * 1e6:.3g} against {question.wanted * 1e6:.3g} µm. "
                f"It takes {time / 60.0:.3g} min in all; ten times less viscosity takes a tenth."
            )
            warnings.append(("bond.too_thick", sentence))
    if film > question.radius / 100.0:
        sentence = "The film is thicker than a hundredth of the radius: the squeeze law no longer holds well."
        warnings.append(("bond.beyond_law", sentence))
    return FilmAnswer(
        film=film,
        low=film / FILM_BAND,
        high=min(film * FILM_BAND, question.start),
        pressure=question.load / (math.pi * question.radius**2),
        viscosity=viscosity,
        viscosity_from=source,
        wanted=question.wanted,
        time_to_wanted=time,
        warnings=tuple(warnings),
    )


def stack_of(design: StackDesign, *, target: float | None = None, library_file: Path | None = None) -> StackAnswer:
    """How a cooled stack bows now and once its wafer has the target thickness [m]."""
    library = load(library_file)
    wafer = library.material(design.wafer).material_id
    known = replace(design, wafer=wafer, carrier=library.material(design.carrier).material_id)
    if target is not None and not 0.0 < target <= design.wafer_thickness:
        raise OutOfValidRange(
            "target thickness", target, f"more than zero, at most {design.wafer_thickness:g} m as it is"
        )
    last = design.wafer_thickness if target is None else target
    steps = [design.wafer_thickness + (last - design.wafer_thickness) * i / 8.0 for i in range(9)]
    course = bow_as_it_thins(library, known, steps)
    return StackAnswer(
        design=known,
        now=course[0],
        target=None if target is None else course[-1],
        pair=pair_verdict(library, known),
        course=course,
    )


def programme_of(wish: BondWish, *, library_file: Path | None = None) -> BondProgramme:
    """A programme of heat, load, dwell and cooling for a wanted film."""
    return suggested_programme(load(library_file), wish)


def setting_temperature(adhesive: str, *, library_file: Path | None = None) -> float | None:
    """The temperature [K] at which an adhesive sets on cooling, hottest of its range; None where not known."""
    glue = load(library_file).adhesive(adhesive)
    return glue.softens_high or glue.bonding_low


def trace_of_file(
    path: Path,
    *,
    material: str,
    carrier: str,
    adhesive: str | None = None,
    rate_limit: float | None = None,
    melts: float | None = None,
    library_file: Path | None = None,
) -> tuple[HeatTrace, TraceVerdict]:
    """A heating trace read from a CSV (`time_s`, `temperature_c`, and `set_c` where it was set) and judged.

    The limit is that of the more sensitive of wafer and carrier, the melting point that of the adhesive, unless given.
    """
    from lapwright.formats.heat_csv import read_heat_trace

    return judged(
        read_heat_trace(path),
        material=material,
        carrier=carrier,
        adhesive=adhesive,
        rate_limit=rate_limit,
        melts=melts,
        library_file=library_file,
    )


def judged(
    trace: HeatTrace,
    *,
    material: str,
    carrier: str,
    adhesive: str | None = None,
    rate_limit: float | None = None,
    melts: float | None = None,
    library_file: Path | None = None,
) -> tuple[HeatTrace, TraceVerdict]:
    """A trace already read, judged."""
    library = load(library_file)
    if rate_limit is None:
        rate_limit = fastest_heating(library, material, carrier)
    if melts is None and adhesive is not None:
        glue = library.adhesive(adhesive)
        melts = glue.bonding_low or glue.softens_high
    return trace, judged_trace(trace, rate_limit=rate_limit, melts=melts)


def ways_off(
    *,
    material: str,
    finish: Finish,
    thickness: float,
    diameter: float,
    adhesive: str,
    bond: float,
    library_file: Path | None = None,
) -> tuple[DebondChoice, ...]:
    """The ways to take a wafer off its carrier, the smallest chance of breakage first."""
    from lapwright.process.strength_debond import debond_choices

    return debond_choices(
        load(library_file),
        material=material,
        finish=finish,
        thickness=thickness,
        diameter=diameter,
        adhesive=adhesive,
        bond=bond,
    )


def cautions_of(material: str, step: str, adhesive: str, *, library_file: Path | None = None) -> tuple[str, ...]:
    """The cautions of bonding or debonding a material with an adhesive, those of its solvents included."""
    library = load(library_file)
    known = library.material(material).material_id
    glue = library.adhesive(adhesive)
    found = [
        hazard.caution
        for solvent in ("", *glue.solvents)
        for hazard in library.hazards_for(known, step=step, adhesive=glue.adhesive_id, solvent=solvent)
    ]
    return tuple(dict.fromkeys(found))


def cut_named(words: str) -> Cut:
    """The cut that words name."""
    from lapwright.process.bonding_stack import cut_of

    return cut_of(words)


# ----------------------------------------------------------------------------------------------------------------------


def _viscosity(question: FilmQuestion, library_file: Path | None) -> tuple[float, str, list[tuple[str, str]]]:
    if question.viscosity is not None:
        return question.viscosity, "as given", []
    if question.adhesive is None or question.temperature is None:
        sentence = "A film needs a viscosity, or an adhesive of the library and its temperature. Give one of them."
        raise BadInput([Fault(sentence=sentence, field="viscosity_pa_s")])
    library = load(library_file)
    glue = library.adhesive(question.adhesive)
    curve = viscosity_curve(library, question.adhesive)
    rows = library.viscosities_of(glue.adhesive_id)
    warnings = []
    if glue.bonding_low is not None and question.temperature < glue.bonding_low:
        sentence = (
            f"{question.temperature - ZERO_CELSIUS:.0f} °C is too cold for {glue.name}: it is bonded from "
            f"{glue.bonding_low - ZERO_CELSIUS:.0f} °C on."
        )
        warnings.append(("bond.too_cold", sentence))
    if rows[0].origin.trust not in ("own", "read", "table"):
        sentence = "The viscosity is an order of magnitude, and so is the film: measure the first bonds."
        warnings.append(("bond.viscosity_guess", sentence))
    return viscosity_at(curve, question.temperature), rows[0].origin.sentence(), warnings
