"""What a wafer does once it is off its carrier: bow from unequal faces, bow kept from the bond, the edge of a bevel.

A worked face is in compression and bows the part, that face domed (Twyman). A stack that bows while it is lapped flat
gives a wafer whose thickness varies once the bond lets go. A bevelled wafer thinned past its middle ends in a blade.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from lapwright.errors import NotFound, OutOfValidRange
from lapwright.library import Finish, Library, Material
from lapwright.process.sensible import need_length
from lapwright.process.words import micrometres as um

EdgeShape = Literal["square", "bevelled", "not_stated"]
COARSE_GRAIN = 9e-6  # m; from here on a lapped face counts as coarse (common practice, no source)
USUAL_BEVEL_ANGLE = math.radians(22.0)  # common practice, no source
SAME_FINISH_DIFFERENCE = 0.3  # part by which two faces of one finish still differ (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleasedBow:
    """Bow of a free wafer [m], positive when the worked face is domed: expected, ends of about 95 %, in words."""

    expected: float
    low: float
    high: float
    sentence: str

    @property
    def largest(self) -> float:
        """The larger end by amount [m]."""
        return max(abs(self.low), abs(self.high))


@dataclass(frozen=True, slots=True, kw_only=True)
class RimAfterThinning:
    """What thinning leaves of a wafer's rim: land [m] (zero for a blade), what the diameter loses [m], in words."""

    land: float
    diameter_loss: float
    is_blade: bool
    sentence: str


def finish_of(process: str, grain: float) -> Finish:
    """Finish class of a face by the stage that worked it last.

    Parameters
    ----------
    process : 'lap' or 'polish'
        Of that stage.
    grain : float [m]
        Size of its grains.

    Returns
    -------
    Finish

    Examples
    --------
    >>> finish_of("lap", 15e-6), finish_of("lap", 3e-6), finish_of("polish", 1e-7)
    ('lapped_coarse', 'lapped_fine', 'polished')
    """
    if process == "polish":
        return "polished"
    return "lapped_coarse" if grain >= COARSE_GRAIN else "lapped_fine"


def lapping_bow(
    face_force: float, *, thickness: float, diameter: float, youngs_modulus: float, poisson_ratio: float
) -> float:
    r"""Bow of a free wafer one face of which pushes outward in its plane, as a lapped face does.

    Parameters
    ----------
    face_force : float [N/m]
        Stress times depth of the worked layer, less that of the other face.
    thickness : float [m]
        Of the wafer; far above the depth of the layer.
    diameter : float [m]
        Of the wafer.
    youngs_modulus : float [Pa]
        Of the wafer.
    poisson_ratio : float [1]
        Of the wafer.

    Returns
    -------
    float [m]
        Positive: the pushing face is domed.

    Raises
    ------
    OutOfValidRange
        A thickness, diameter or modulus not above zero.

    Notes
    -----
    .. math:: b = \frac{3 (1-\nu) F D^2}{4 E t^2}

    Small deflection: valid while the bow stays below half the thickness.

    References
    ----------
    .. [1] F. Twyman, Prism and Lens Making (1952) on the effect; the form is Stoney's. Key ``twyman1952``.

    Examples
    --------
    >>> bow = lapping_bow(10.0, thickness=200e-6, diameter=0.1, youngs_modulus=130e9, poisson_ratio=0.28)
    >>> round(bow * 1e6, 2)
    10.38
    """
    need_length("thickness", thickness)
    need_length("diameter", diameter)
    if not youngs_modulus > 0.0:
        raise OutOfValidRange("youngs_modulus", youngs_modulus, "more than zero [Pa]")
    return 3.0 * (1.0 - poisson_ratio) * face_force * diameter**2 / (4.0 * youngs_modulus * thickness**2)


def released_bow(
    library: Library, *, material: str, finish: Finish, other_finish: Finish, thickness: float, diameter: float
) -> ReleasedBow:
    """Bow of the released wafer from the difference of its two faces.

    Parameters
    ----------
    library : Library
        Forces of faces, elastic constants.
    material : str
        Of the wafer.
    finish : Finish
        Of the worked face.
    other_finish : Finish
        Of the face that was bonded.
    thickness : float [m]
        Of the wafer when it comes off.
    diameter : float [m]
        Of the wafer.

    Returns
    -------
    ReleasedBow
        Positive when the worked face is domed. Orders of magnitude: lap a witness and measure your own force.

    Raises
    ------
    NotFound
        The library holds no modulus of the material.
    OutOfValidRange
        A thickness or diameter not above zero.

    Examples
    --------
    >>> from lapwright.library import load
    >>> bow = released_bow(load(), material="Si", finish="polished", other_finish="lapped_fine",
    ...                    thickness=100e-6, diameter=0.1)
    >>> bow.expected < 0.0
    True
    """
    youngs, poisson = _elastic(library.material(material))
    force, other = library.face_force(finish), library.face_force(other_finish)
    expected = math.sqrt(_at_least(force.force_low) * _at_least(force.force_high)) - math.sqrt(
        _at_least(other.force_low) * _at_least(other.force_high)
    )
    low, high = force.force_low - other.force_high, force.force_high - other.force_low
    if finish == other_finish:
        expected, high = 0.0, SAME_FINISH_DIFFERENCE * force.force_high
        low = -high
    bows = [
        lapping_bow(one, thickness=thickness, diameter=diameter, youngs_modulus=youngs, poisson_ratio=poisson)
        for one in (expected, low, high)
    ]
    return ReleasedBow(expected=bows[0], low=bows[1], high=bows[2], sentence=_bow_sentence(bows, finish, other_finish))


def springback_variation(bow_when_lapped: float, *, held_flat: float = 0.0) -> float:
    r"""Thickness variation that a wafer keeps because its stack bowed while the plate made its face flat.

    Parameters
    ----------
    bow_when_lapped : float [m]
        Of the stack along the axis asked about, positive when domed.
    held_flat : float [1]
        Part of the bow that the load on the stack presses out while it is lapped, 0 to 1.

    Returns
    -------
    float [m]
        Thickness at the rim minus that in the middle: positive for a domed stack, whose middle is taken off.

    Raises
    ------
    OutOfValidRange
        `held_flat` is not from 0 to 1.

    Notes
    -----
    .. math:: \Delta t = (1 - q) \, b

    The worked face is flat on the stack; when the bond lets go, the other face goes flat and the worked one takes the
    stack's bow. An upper limit: a soft wax relaxes most of the bow before the last micrometres are lapped.

    Examples
    --------
    >>> round(springback_variation(12e-6, held_flat=0.5) * 1e6, 3)
    6.0
    """
    if not 0.0 <= held_flat <= 1.0:
        raise OutOfValidRange("held_flat", held_flat, "0 to 1")
    return (1.0 - held_flat) * bow_when_lapped


def rim_after_thinning(
    start_thickness: float, thickness: float, *, edge: EdgeShape, bevel_angle: float = USUAL_BEVEL_ANGLE
) -> RimAfterThinning:
    r"""What is left of the rim of a wafer thinned from one face.

    Parameters
    ----------
    start_thickness : float [m]
        As it came.
    thickness : float [m]
        As it will be.
    edge : EdgeShape
        Square, bevelled on both faces to its middle, or not stated (taken as bevelled).
    bevel_angle : float [rad]
        Between the bevel and the face.

    Returns
    -------
    RimAfterThinning

    Raises
    ------
    OutOfValidRange
        A thickness not above zero, one that grows, or an angle not between 0 and a right one.

    Notes
    -----
    With the apex of both bevels at half the thickness as it came, t0/2, the worked face meets the lower bevel once
    t < t0/2: a blade with the angle of the bevel, and

    .. math:: \Delta D = 2 \, \frac{t_0/2 - t}{\tan \beta}

    Examples
    --------
    >>> rim = rim_after_thinning(500e-6, 100e-6, edge="bevelled")
    >>> rim.is_blade, round(rim.diameter_loss * 1e3, 2)
    (True, 0.74)
    """
    if not 0.0 < thickness <= start_thickness:
        raise OutOfValidRange("thickness", thickness, f"more than zero, at most {start_thickness:g} m as it came")
    if not 0.0 < bevel_angle < 0.5 * math.pi:
        raise OutOfValidRange("bevel_angle", bevel_angle, "between 0 and pi/2")
    if edge == "square":
        return RimAfterThinning(land=thickness, diameter_loss=0.0, is_blade=False, sentence="The edge is square.")
    half = 0.5 * start_thickness
    known = "" if edge == "bevelled" else "Whether the edge is bevelled is not stated. If it is: "
    if thickness >= half:
        sentence = f"{known}{um(thickness)} keeps the middle of {um(start_thickness)}: the edge stays blunt."
        return RimAfterThinning(land=thickness - half, diameter_loss=0.0, is_blade=False, sentence=sentence)
    loss = 2.0 * (half - thickness) / math.tan(bevel_angle)
    sentence = (
        f"{known}{um(thickness)} lies below the middle of {um(start_thickness)}: the rim becomes a blade of "
        f"{math.degrees(bevel_angle):.0f}° and the diameter loses about {loss * 1e3:.2f} mm. It chips and cuts; "
        "trim the bevel off before bonding, or agree the smaller diameter."
    )
    return RimAfterThinning(land=0.0, diameter_loss=loss, is_blade=True, sentence=sentence)


# ----------------------------------------------------------------------------------------------------------------------


def _elastic(material: Material) -> tuple[float, float]:
    youngs, poisson = material.value("youngs_modulus"), material.value("poisson_ratio")
    if youngs is None or poisson is None:
        raise NotFound(
            f"The library holds no Young's modulus and Poisson's ratio of {material.material_id}. Add rows of yours.",
            name=material.material_id,
        )
    return youngs, poisson


def _at_least(force: float) -> float:
    """A force whose low end is zero counts a tenth of a newton per metre in a geometric mean."""
    return max(force, 0.1)


def _bow_sentence(bows: list[float], finish: Finish, other: Finish) -> str:
    way = "evenly" if finish == other else "domed on the worked face" if bows[0] > 0.0 else "dished on the worked face"
    return (
        f"With one face {finish.replace('_', ' ')} and the other {other.replace('_', ' ')} the free wafer bows "
        f"{way}: about {um(abs(bows[0]))}, from {um(bows[1])} to {um(bows[2])}. Order of magnitude; measure a witness."
    )
