"""Taking a wafer off its carrier: the ways its adhesive allows, compared by chance of breakage and time.

The push itself stresses little; what breaks wafers off a hot plate is a cold spot at the rim, and what breaks them
everywhere is the handling afterwards (`strength_handling`). Solvent only takes time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from lapwright.library import Adhesive, Finish, Library
from lapwright.process.sensible import need_length
from lapwright.process.strength import REFERENCE_AREA, BreakageChance, Stressing, breakage_chance, face_strength
from lapwright.process.strength_handling import (
    USUAL_HANDLING,
    Handling,
    HeldPiece,
    handling_stressings,
    held_piece,
    least_free_thickness,
)
from lapwright.process.words import micrometres as um

DebondWay = Literal["slide_hot", "solvent_edge", "solvent_holes", "release_heat"]
_MINUTE, _HOUR = 60.0, 3600.0
_WAY_WORDS: dict[DebondWay, str] = {
    "slide_hot": "slide off on a hot plate",
    "solvent_edge": "solvent from the edge",
    "solvent_holes": "solvent through a perforated carrier",
    "release_heat": "heat to the release temperature",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DebondChoice:
    """One way to take the wafer off: chance free in the hand and on a full-face support, time [s] from … to, in words.

    `needs_support` is true where the free chance exceeds what is allowed or the trade's limit asks for a support.
    """

    way: DebondWay
    name: str
    free: BreakageChance
    supported: BreakageChance
    time_low: float
    time_high: float
    needs_support: bool
    sentence: str

    @property
    def chance(self) -> BreakageChance:
        """The chance with the support where one is needed."""
        return self.supported if self.needs_support else self.free


def debond_choices(
    library: Library,
    *,
    material: str,
    finish: Finish,
    thickness: float,
    diameter: float,
    adhesive: str,
    bond: float,
    handling: Handling = USUAL_HANDLING,
) -> tuple[DebondChoice, ...]:
    """The ways to take a wafer off its carrier that its adhesive allows, the smallest chance of breakage first.

    Parameters
    ----------
    library : Library
        Strength, elastic constants, adhesive with its viscosities.
    material : str
        Of the wafer.
    finish : Finish
        Of the weaker face.
    thickness : float [m]
        Of the wafer when it comes off.
    diameter : float [m]
        Of the wafer.
    adhesive : str
        Its id in the library.
    bond : float [m]
        Thickness of the adhesive.
    handling : Handling
        How roughly, and which chance is still taken without a support.

    Returns
    -------
    tuple of DebondChoice
        Three for a wax or resin, one for a tape.

    Raises
    ------
    NotFound
        The library holds no such adhesive, or too little about the material.
    OutOfValidRange
        A length not above zero.

    Examples
    --------
    >>> from lapwright.library import load
    >>> found = debond_choices(load(), material="LiTaO3", finish="polished", thickness=100e-6, diameter=0.0508,
    ...                        adhesive="mounting-wax", bond=5e-6)
    >>> sorted(one.way for one in found)
    ['slide_hot', 'solvent_edge', 'solvent_holes']
    """
    need_length("bond", bond)
    glue = library.adhesive(adhesive)
    piece = held_piece(library, material=material, thickness=thickness, diameter=diameter, chip=handling.chip)
    strength = face_strength(library, material=material, finish=finish)
    least = least_free_thickness(library, material=material, finish=finish, diameter=diameter, handling=handling)
    free = handling_stressings(piece, handling, is_supported=False)
    held = handling_stressings(piece, handling, is_supported=True)
    slide = _slide_force(library, glue, diameter, bond, handling)
    choices = []
    for way in _ways(glue):
        coming_off = _coming_off(way, piece, slide, handling)
        alone = breakage_chance([*coming_off, *free], strength)
        carried = breakage_chance([*coming_off, *held], strength)
        low, high = _time(way, diameter, handling)
        needs = thickness < least or alone.expected > handling.allowed_chance
        choices.append(
            DebondChoice(
                way=way,
                name=_WAY_WORDS[way],
                free=alone,
                supported=carried,
                time_low=low,
                time_high=high,
                needs_support=needs,
                sentence=_said(way, carried if needs else alone, low, high, least if thickness < least else None),
            )
        )
    return tuple(sorted(choices, key=lambda one: one.chance.expected))


# ----------------------------------------------------------------------------------------------------------------------


def _ways(glue: Adhesive) -> tuple[DebondWay, ...]:
    return ("release_heat",) if glue.kind == "tape" else ("slide_hot", "solvent_holes", "solvent_edge")


def _slide_force(library: Library, glue: Adhesive, diameter: float, bond: float, handling: Handling) -> float:
    """Force that shears the hot adhesive [N]; zero where its viscosity is not known."""
    viscosities = library.viscosities_of(glue.adhesive_id)
    if not viscosities:
        return 0.0
    return viscosities[-1].viscosity * math.pi * diameter**2 / 4.0 * handling.slide_speed / bond


def _coming_off(way: DebondWay, piece: HeldPiece, slide: float, handling: Handling) -> list[Stressing]:
    """What the way itself does to the wafer."""
    if way in ("solvent_edge", "solvent_holes"):
        return []
    cold = 0.5 * piece.youngs_modulus * piece.expansion * handling.temperature_step
    done = [Stressing(name="a cold spot at the rim", stress=cold, area=REFERENCE_AREA, strength=piece.rim)]
    if way == "slide_hot" and slide > 0.0:
        section = handling.slide_width * piece.thickness
        # pushed at the rim half a thickness off its middle: four times the even stress
        done.append(Stressing(name="the push that slides it", stress=4.0 * slide / section, area=section))
    return done


def _time(way: DebondWay, diameter: float, handling: Handling) -> tuple[float, float]:
    """From … to; heating up and cooling down included for the hot ways."""
    if way == "slide_hot":
        return 15.0 * _MINUTE, 40.0 * _MINUTE
    if way == "release_heat":
        return 5.0 * _MINUTE, 15.0 * _MINUTE
    path = 0.5 * (diameter if way == "solvent_edge" else handling.hole_pitch)
    return path / handling.front_high, path / handling.front_low


def _said(way: DebondWay, chance: BreakageChance, low: float, high: float, least: float | None) -> str:
    first = "" if least is None else f"Below {um(least)}: support only. "
    unit, per = ("min", _MINUTE) if high < 2.0 * _HOUR else ("h", _HOUR)
    return f"{first}{_WAY_WORDS[way].capitalize()}, {low / per:.3g} to {high / per:.3g} {unit}. {chance.sentence}"
