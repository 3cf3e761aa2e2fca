"""A thin wafer in the hand: what bends it, the chance that it breaks, and from which thickness on it may go free.

It is bent by a force, but no tighter than what holds it allows. Forces, spots and radii are common practice without a
source and are arguments. Below the limits of the trade a wafer goes on a support whatever the chance says.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lapwright.errors import NotFound
from lapwright.library import Finish, HandlingWay, Library, Material
from lapwright.process.plate_stress import (
    bend_stress,
    own_weight_stress,
    push_stress,
    push_stress_at_rim,
    suction_stress,
)
from lapwright.process.sensible import need_length
from lapwright.process.strength import (
    REFERENCE_AREA,
    BreakageChance,
    FaceStrength,
    Stressing,
    breakage_chance,
    face_strength,
    rim_strength,
)

ALLOWED_CHANCE = 0.01
_THINNEST, _THICKEST = 5e-6, 2e-3
_HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Handling:
    """How roughly a wafer is handled; all defaults are common practice without a source. SI.

    `push` over a spot of radius `contact` bends it; `suction` over `opening` lifts it; a full-face support lets it bend
    no tighter than `support_radius`. On a hot plate two places of the wafer differ by `temperature_step` [K]. Solvent
    creeps in at `front_low` to `front_high`; a perforated carrier has holes every `hole_pitch`. The rim has chips of
    depth `chip` (50 µm were found on lithium tantalate lapped with loose silicon carbide). More than `allowed_chance`
    of breakage asks for a support.
    """

    push: float = 0.5
    contact: float = 2e-3
    suction: float = 30e3
    opening: float = 2e-3
    support_radius: float = 1.0
    temperature_step: float = 15.0
    slide_speed: float = 1e-3
    slide_width: float = 10e-3
    front_low: float = 0.5e-3 / _HOUR
    front_high: float = 2e-3 / _HOUR
    hole_pitch: float = 5e-3
    chip: float = 50e-6
    allowed_chance: float = ALLOWED_CHANCE


USUAL_HANDLING = Handling()


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldPiece:
    """A wafer as its stresses need it. SI."""

    thickness: float
    diameter: float
    youngs_modulus: float
    poisson_ratio: float
    density: float
    expansion: float
    rim: FaceStrength


def handling_breakage(
    library: Library,
    *,
    material: str,
    finish: Finish,
    thickness: float,
    diameter: float,
    is_supported: bool = True,
    handling: Handling = USUAL_HANDLING,
) -> BreakageChance:
    """Chance that a wafer breaks when it is picked up, carried and laid down, once it is off its carrier.

    Parameters
    ----------
    library : Library
        Strength, density, elastic constants.
    material : str
        Of the wafer.
    finish : Finish
        Of the weaker face.
    thickness : float [m]
        Of the wafer.
    diameter : float [m]
        Of the wafer.
    is_supported : bool
        Held over its whole face: film on a frame, carrier, tray.
    handling : Handling
        How roughly.

    Returns
    -------
    BreakageChance
        `expected` is what to plan with.

    Raises
    ------
    NotFound
        The library holds no strength, density or elastic constants of the material.
    OutOfValidRange
        A thickness or diameter not above zero, or a diameter no larger than the spot of the push.

    Examples
    --------
    >>> from lapwright.library import load
    >>> thin = handling_breakage(load(), material="Si", finish="lapped_coarse", thickness=80e-6, diameter=0.0508,
    ...                          is_supported=False)
    >>> thick = handling_breakage(load(), material="Si", finish="lapped_coarse", thickness=400e-6, diameter=0.0508,
    ...                           is_supported=False)
    >>> thick.expected < 0.001 < thin.expected
    True
    """
    piece = held_piece(library, material=material, thickness=thickness, diameter=diameter, chip=handling.chip)
    done = handling_stressings(piece, handling, is_supported=is_supported)
    return breakage_chance(done, face_strength(library, material=material, finish=finish))


def least_free_thickness(
    library: Library,
    *,
    material: str,
    finish: Finish,
    diameter: float,
    handling: Handling = USUAL_HANDLING,
) -> float:
    """Thickness from which on a wafer may be handled free with at most an allowed chance of breakage.

    Parameters
    ----------
    library : Library
        Strength, density, elastic constants; handling limits of the trade.
    material : str
        Of the wafer.
    finish : Finish
        Of the weaker face.
    diameter : float [m]
        Of the wafer.
    handling : Handling
        How roughly, and which chance is still taken.

    Returns
    -------
    float [m]
        The larger of the computed thickness and the trade's limit for a support; 5 µm to 2 mm.

    Raises
    ------
    NotFound
        The library holds no strength, density or elastic constants of the material.

    Examples
    --------
    >>> from lapwright.library import load
    >>> least = least_free_thickness(load(), material="GaAs", finish="lapped_fine", diameter=0.076)
    >>> least >= 150e-6
    True
    """

    def chance(thickness: float) -> float:
        found = handling_breakage(
            library,
            material=material,
            finish=finish,
            thickness=thickness,
            diameter=diameter,
            is_supported=False,
            handling=handling,
        )
        return found.expected

    low, high = _THINNEST, _THICKEST
    for _ in range(40):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if chance(middle) > handling.allowed_chance else (low, middle)
    return max(high, _limit_of_trade(library, material, diameter))


def handling_way(library: Library, *, material: str, thickness: float, diameter: float) -> HandlingWay | None:
    """How the trade holds a wafer of this thickness and diameter; None where it may be handled free.

    Parameters
    ----------
    library : Library
        Handling limits, strict ones first.
    material : str
        Of the wafer.
    thickness : float [m]
        Of the wafer.
    diameter : float [m]
        Of the wafer.

    Returns
    -------
    HandlingWay or None

    Examples
    --------
    >>> from lapwright.library import load
    >>> handling_way(load(), material="InP", thickness=120e-6, diameter=0.0508)
    'support'
    """
    name = library.material(material).material_id
    for row in library.handling_limits:
        if (not row.materials or name in row.materials) and thickness < row.thickness and diameter >= row.diameter:
            return row.way
    return None


def held_piece(library: Library, *, material: str, thickness: float, diameter: float, chip: float) -> HeldPiece:
    """A wafer with what the library knows of its material.

    Parameters
    ----------
    library : Library
        Elastic constants, density, expansion, toughness.
    material : str
        Of the wafer.
    thickness : float [m]
        Of the wafer.
    diameter : float [m]
        Of the wafer.
    chip : float [m]
        Depth of the usual chips of its rim.

    Returns
    -------
    HeldPiece
        Its expansion is the larger of the two axes.

    Raises
    ------
    NotFound
        The library lacks one of these.

    Examples
    --------
    >>> from lapwright.library import load
    >>> held_piece(load(), material="Si", thickness=1e-4, diameter=0.1, chip=5e-5).density
    2330.0
    """
    need_length("thickness", thickness)
    need_length("diameter", diameter)
    wafer = library.material(material)
    return HeldPiece(
        thickness=thickness,
        diameter=diameter,
        youngs_modulus=_value(wafer, "youngs_modulus"),
        poisson_ratio=_value(wafer, "poisson_ratio"),
        density=_value(wafer, "density"),
        expansion=max(_value(wafer, "expansion"), wafer.value("expansion_axial") or 0.0),
        rim=rim_strength(library, material=material, chip=chip),
    )


def handling_stressings(piece: HeldPiece, handling: Handling, *, is_supported: bool) -> tuple[Stressing, ...]:
    """What a wafer goes through in the hand: pushed, lifted by suction, carried on its rim; or held on a support.

    Parameters
    ----------
    piece : HeldPiece
        The wafer.
    handling : Handling
        How roughly.
    is_supported : bool
        On a full-face support the push bends it no tighter than the support.

    Returns
    -------
    tuple of Stressing

    Raises
    ------
    OutOfValidRange
        A thickness or diameter not above zero, or a diameter no larger than the spot of the push.

    Examples
    --------
    >>> from lapwright.library import load
    >>> piece = held_piece(load(), material="Si", thickness=1e-4, diameter=0.1, chip=5e-5)
    >>> len(handling_stressings(piece, USUAL_HANDLING, is_supported=True))
    2
    """
    radius, thickness = 0.5 * piece.diameter, piece.thickness
    spot = math.pi * handling.contact**2
    push = push_stress(
        handling.push, contact=handling.contact, radius=radius, thickness=thickness, poisson_ratio=piece.poisson_ratio
    )
    rim = push_stress_at_rim(handling.push, thickness=thickness, poisson_ratio=piece.poisson_ratio)
    if is_supported:
        plate = piece.youngs_modulus / (1.0 - piece.poisson_ratio)
        bent = bend_stress(plate, thickness=thickness, bend_radius=handling.support_radius)
        return (
            Stressing(name="bending on its support", stress=min(push, bent), area=spot),
            Stressing(name="the rim on its support", stress=min(rim, bent), area=REFERENCE_AREA, strength=piece.rim),
        )
    weight = own_weight_stress(
        thickness=thickness, radius=radius, density=piece.density, poisson_ratio=piece.poisson_ratio
    )
    cup = suction_stress(handling.suction, opening=handling.opening, thickness=thickness)
    lip = 2.0 * math.pi * handling.opening * thickness
    return (
        Stressing(name="a push in the middle", stress=push, area=spot),
        Stressing(name="the rim under that push", stress=rim, area=REFERENCE_AREA, strength=piece.rim),
        Stressing(name="the lip of the suction cup", stress=cup, area=lip),
        Stressing(name="its own weight", stress=weight, area=math.pi * radius**2 / 4.0),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _value(material: Material, name: str) -> float:
    value = material.value(name)
    if value is None:
        raise NotFound(
            f"The library holds no {name.replace('_', ' ')} of {material.material_id}. Add a row of your own.",
            name=material.material_id,
        )
    return value


def _limit_of_trade(library: Library, material: str, diameter: float) -> float:
    """Below this thickness the trade asks for a support or the carrier."""
    name = library.material(material).material_id
    asked = [
        row.thickness
        for row in library.handling_limits
        if row.way != "wand" and (not row.materials or name in row.materials) and diameter >= row.diameter
    ]
    return max(asked, default=0.0)
