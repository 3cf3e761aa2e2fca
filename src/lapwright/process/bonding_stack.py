"""Wafer, adhesive and carrier as layers: cooling stress and bow as the wafer thins, and pairs that do not match.

An upper limit: the adhesive is taken as rigid from its softening point down, and a soft wax relaxes most of the stress.
Crystals whose expansion differs in the plane of the wafer are taken axis by axis.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from lapwright.errors import NotFound
from lapwright.library import Library, Material
from lapwright.process.bonding_stress import BondedPlate, Layer, bonded_plate, isotropic_layer
from lapwright.process.sensible import need_length

#: Which axes of the crystal lie in the wafer's plane: two alike, or x across and y along the crystal's axis.
Cut = Literal["axis_normal", "axis_in_plane"]
CLOSE_EXPANSION = 1e-6  # 1/K; expansions this close match (common practice, no source)
THICK_CARRIER = 5.0  # carrier over wafer; at least (common practice, no source)
ROOM = 294.15  # K
ADHESIVE_MODULUS = 1e9  # Pa; a hard wax or resin, cold (common practice, no source)
ADHESIVE_POISSON = 0.35
ADHESIVE_EXPANSION = 100e-6  # 1/K; a wax or resin (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class StackDesign:
    """Wafer on carrier: materials, cut, thicknesses and wafer diameter [m], where the bond sets and is used [K].

    `bond` is the adhesive's thickness; its own small stiffness is taken in.
    """

    wafer: str
    cut: Cut
    wafer_thickness: float
    diameter: float
    carrier: str
    carrier_thickness: float
    bond: float
    set_temperature: float
    use_temperature: float = ROOM


@dataclass(frozen=True, slots=True, kw_only=True)
class StackBow:
    """A stack at one thickness of its wafer: bow along x and y [m], positive when domed; stress in the wafer [Pa]."""

    wafer_thickness: float
    bows: tuple[float, float]
    mean_stress: tuple[float, float]
    largest_tension: float
    carrier_tension: float

    @property
    def largest(self) -> float:
        """The bow of the axis that bows most, with its sign [m]."""
        return max(self.bows, key=abs)


@dataclass(frozen=True, slots=True, kw_only=True)
class PairVerdict:
    """Whether wafer and carrier match: difference of expansion by axis [1/K], and what speaks against them."""

    mismatch: tuple[float, float]
    warnings: tuple[tuple[str, str], ...]


def cut_of(orientation: str) -> Cut:
    """The cut that the words of an order name.

    Parameters
    ----------
    orientation : str
        As written: "Z cut", "c plane", "(0001)", "X cut", "42 Y" …

    Returns
    -------
    Cut
        `axis_in_plane` unless the words name a cut across the crystal's axis, or nothing at all.

    Examples
    --------
    >>> cut_of("Z cut"), cut_of("X cut"), cut_of("")
    ('axis_normal', 'axis_in_plane', 'axis_normal')
    """
    words = orientation.casefold().replace("-", " ").replace(",", " ").split()
    across = {"z", "c", "(0001)", "0001", "z+", "z cut", "(100)", "(001)", "(111)", "100", "001", "111"}
    return "axis_normal" if not words or any(word in across for word in words) else "axis_in_plane"


def crystal_layer(library: Library, material: str, *, thickness: float, cut: Cut = "axis_normal") -> Layer:
    """A plate of a material of the library, axis by axis.

    Parameters
    ----------
    library : Library
        Elastic constants and expansions.
    material : str
        Of the plate.
    thickness : float [m]
        Of the plate.
    cut : Cut
        With `axis_in_plane` y lies along the crystal's axis, where it has values of its own.

    Returns
    -------
    Layer

    Raises
    ------
    NotFound
        The library holds no modulus, Poisson's ratio or expansion of the material.

    Examples
    --------
    >>> from lapwright.library import load
    >>> layer = crystal_layer(load(), "LiTaO3", thickness=5e-4, cut="axis_in_plane")
    >>> [round(one * 1e6, 1) for one in layer.expansions]
    [16.1, 4.1]
    """
    found = library.material(material)
    youngs, poisson, expansion = (_value(found, one) for one in ("youngs_modulus", "poisson_ratio", "expansion"))
    layer = isotropic_layer(
        found.material_id, thickness=thickness, youngs_modulus=youngs, poisson_ratio=poisson, expansion=expansion
    )
    if cut == "axis_normal":
        return layer
    along, stiff = found.value("expansion_axial"), found.value("youngs_modulus_axial")
    return replace(
        layer,
        expansions=(expansion, expansion if along is None else along),
        moduli=(youngs, youngs if stiff is None else stiff),
    )


def stack_bow(library: Library, design: StackDesign) -> StackBow:
    """Bow and stress of a cooled stack.

    Parameters
    ----------
    library : Library
        Elastic constants and expansions.
    design : StackDesign
        What is bonded to what.

    Returns
    -------
    StackBow
        An upper limit; a soft wax relaxes most of it.

    Raises
    ------
    NotFound
        The library holds too little about one of the two.
    OutOfValidRange
        A thickness or diameter not above zero.

    Examples
    --------
    >>> from lapwright.library import load
    >>> design = StackDesign(wafer="GaAs", cut="axis_normal", wafer_thickness=100e-6, diameter=0.1, carrier="sapphire",
    ...                      carrier_thickness=3e-3, bond=5e-6, set_temperature=354.15)
    >>> abs(stack_bow(load(), design).largest) < 2e-6
    True
    """
    need_length("diameter", design.diameter)
    plate = _plate(library, design)
    wafer = plate.stresses[-1]
    return StackBow(
        wafer_thickness=design.wafer_thickness,
        bows=plate.bows(design.diameter),
        mean_stress=wafer.mean,
        largest_tension=wafer.largest_tension,
        carrier_tension=plate.stresses[0].largest_tension,
    )


def bow_as_it_thins(library: Library, design: StackDesign, thicknesses: Sequence[float]) -> tuple[StackBow, ...]:
    """Bow and stress of a stack while its wafer is thinned.

    Parameters
    ----------
    library : Library
        Elastic constants and expansions.
    design : StackDesign
        What is bonded to what; its wafer thickness is not used.
    thicknesses : sequence of float [m]
        Of the wafer.

    Returns
    -------
    tuple of StackBow

    Examples
    --------
    >>> from lapwright.library import load
    >>> design = StackDesign(wafer="LiTaO3", cut="axis_in_plane", wafer_thickness=5e-4, diameter=0.0508,
    ...                      carrier="borosilicate", carrier_thickness=6e-3, bond=5e-6, set_temperature=354.15)
    >>> thick, thin = bow_as_it_thins(load(), design, [500e-6, 100e-6])
    >>> abs(thin.bows[0]) < abs(thick.bows[0])
    True
    """
    return tuple(stack_bow(library, replace(design, wafer_thickness=one)) for one in thicknesses)


def pair_verdict(library: Library, design: StackDesign) -> PairVerdict:
    """Whether a wafer and a carrier suit each other on cooling.

    Parameters
    ----------
    library : Library
        Elastic constants and expansions.
    design : StackDesign
        What is bonded to what.

    Returns
    -------
    PairVerdict
        Warnings as code and sentence; empty where nothing speaks against the pair.

    Examples
    --------
    >>> from lapwright.library import load
    >>> design = StackDesign(wafer="Si", cut="axis_normal", wafer_thickness=525e-6, diameter=0.1, bond=5e-6,
    ...                      carrier="borosilicate", carrier_thickness=5e-3, set_temperature=354.15)
    >>> pair_verdict(load(), design).warnings
    ()
    """
    wafer = crystal_layer(library, design.wafer, thickness=design.wafer_thickness, cut=design.cut)
    carrier = crystal_layer(library, design.carrier, thickness=design.carrier_thickness)
    mismatch = tuple(a - b for a, b in zip(wafer.expansions, carrier.expansions, strict=True))
    warnings = []
    worst = max(mismatch, key=abs)
    if abs(worst) > CLOSE_EXPANSION:
        axis = "" if math.isclose(mismatch[0], mismatch[1]) else " along " + "xy"[mismatch.index(worst)]
        sentence = (
            f"{wafer.name} and {carrier.name} differ in expansion by {worst * 1e6:+.1f} per million and kelvin{axis}; "
            f"pairs within {CLOSE_EXPANSION * 1e6:g} stay flat. Take a closer carrier, bond nearer room temperature, "
            "or use a softer wax."
        )
        warnings.append(("bond.mismatch", sentence))
    if design.carrier_thickness < THICK_CARRIER * design.wafer_thickness:
        sentence = (
            f"The carrier is {design.carrier_thickness / design.wafer_thickness:.1f} times as thick as the wafer; "
            f"{THICK_CARRIER:g} times or more keeps the stack flat (common practice, no source)."
        )
        warnings.append(("bond.thin_carrier", sentence))
    return PairVerdict(mismatch=(mismatch[0], mismatch[1]), warnings=tuple(warnings))


def stack_layers(library: Library, design: StackDesign) -> tuple[Layer, ...]:
    """The layers of a stack from the carrier up.

    Parameters
    ----------
    library : Library
        Elastic constants and expansions.
    design : StackDesign
        What is bonded to what.

    Returns
    -------
    tuple of Layer

    Examples
    --------
    >>> from lapwright.library import load
    >>> design = StackDesign(wafer="Si", cut="axis_normal", wafer_thickness=525e-6, diameter=0.1, bond=5e-6,
    ...                      carrier="borosilicate", carrier_thickness=5e-3, set_temperature=354.15)
    >>> [one.name for one in stack_layers(load(), design)]
    ['borosilicate', 'adhesive', 'Si']
    """
    layers = [crystal_layer(library, design.carrier, thickness=design.carrier_thickness)]
    if design.bond > 0.0:
        layers.append(
            isotropic_layer(
                "adhesive",
                thickness=design.bond,
                youngs_modulus=ADHESIVE_MODULUS,
                poisson_ratio=ADHESIVE_POISSON,
                expansion=ADHESIVE_EXPANSION,
            )
        )
    layers.append(crystal_layer(library, design.wafer, thickness=design.wafer_thickness, cut=design.cut))
    return tuple(layers)


# ----------------------------------------------------------------------------------------------------------------------


def _plate(library: Library, design: StackDesign) -> BondedPlate:
    layers = stack_layers(library, design)
    return bonded_plate(layers, temperature_change=design.use_temperature - design.set_temperature)


def _value(material: Material, name: str) -> float:
    value = material.value(name)
    if value is None:
        raise NotFound(
            f"The library holds no {name.replace('_', ' ')} of {material.material_id}. Add a row of your own.",
            name=material.material_id,
        )
    return value
