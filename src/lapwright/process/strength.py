"""Chance that a thin wafer breaks: stress of what is done to it against the strength of its face (Weibull).

Strengths are orders of magnitude from the trade (no source) beside what is published; the rim, which decides in half of
the literature, enters by its chips. Every chance carries its band, and the band is the answer. Stresses come from
`plate_stress`; what is done to a wafer is put together in `strength_debond`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapwright.errors import NotFound, OutOfValidRange
from lapwright.library import Finish, Library, Material, Origin, Trust
from lapwright.process.words import micrometres as um

REFERENCE_AREA = 1e-4  # m2; strengths of the library are those of one square centimetre
CRACK_SHAPE = 0.713  # shallow half-penny, 1.12 * 2/pi
CARRIED_BAND = 1.5  # what carrying a strength to another material adds to its band
RIM_MODULUS = (3.0, 6.0)
_PLACES, _WEIGHTS = (one.tolist() for one in np.polynomial.legendre.leggauss(8))
ROUGHNESS_WARNING = (
    "Order of magnitude only: strengths are common practice without a source, good to a factor of two, and the rim, "
    "which decides in half of what is published, enters by the depth of its chips alone. Break a few dummies of your "
    "own and enter your strength."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceStrength:
    """Weibull strength of a face: characteristic strength [Pa] of one square centimetre, modulus, low and high ends."""

    strength_low: float
    strength_high: float
    weibull_modulus_low: float
    weibull_modulus_high: float
    method: str
    origin: Origin
    trust: Trust

    @property
    def strength(self) -> float:
        """Geometric mean of the ends [Pa]."""
        return math.sqrt(self.strength_low * self.strength_high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stressing:
    """One thing done to a wafer: its name, the largest tension [Pa], and the area under it [m2].

    `strength` is that of the place where it acts, where that is not the face (a chipped rim); None: the face.
    """

    name: str
    stress: float
    area: float
    strength: FaceStrength | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakageChance:
    """Chance of breakage: mean over the band of the strength, its ends, what is done to it, what stresses it most."""

    expected: float
    low: float
    high: float
    worst: Stressing
    strength: FaceStrength
    stressings: tuple[Stressing, ...]

    @property
    def sentence(self) -> str:
        """In words."""
        return (
            f"Chance of breakage {_about(self.expected)}, from {_percent(self.low)} to {_percent(self.high)}; "
            f"most from {self.worst.name} ({self.worst.stress / 1e6:.2g} MPa against "
            f"{(self.worst.strength or self.strength).method})."
        )


def breakage_probability(stress: float, *, strength: float, weibull_modulus: float, area: float) -> float:
    r"""Chance that a face breaks under a tension, by the weakest link.

    Parameters
    ----------
    stress : float [Pa]
        Tension, even over the area; pressure counts as none.
    strength : float [Pa]
        Characteristic strength of one square centimetre: 63 % break at it.
    weibull_modulus : float [1]
        m; the larger, the narrower the spread.
    area : float [m2]
        Under that tension.

    Returns
    -------
    float [1]

    Raises
    ------
    OutOfValidRange
        A strength or modulus not above zero, or a negative area.

    Notes
    -----
    .. math:: P = 1 - \exp\left[-\frac{A}{A_0}\left(\frac{\sigma}{\sigma_0}\right)^m\right], \quad A_0 = 1~\mathrm{cm}^2

    References
    ----------
    .. [1] W. Weibull, "A statistical distribution function of wide applicability", J. Appl. Mech. 18 (1951) 293-297.
       Key ``weibull1951``.

    Examples
    --------
    >>> round(breakage_probability(100e6, strength=100e6, weibull_modulus=5.0, area=1e-4), 4)
    0.6321
    """
    if not (strength > 0.0 and weibull_modulus > 0.0):
        raise OutOfValidRange("strength", strength, "strength and modulus above zero")
    if not area >= 0.0:
        raise OutOfValidRange("area", area, "zero or more [m2]")
    if stress <= 0.0:
        return 0.0
    return -math.expm1(-area / REFERENCE_AREA * (stress / strength) ** weibull_modulus)


def fracture_stress(toughness: float, *, crack: float, shape: float = CRACK_SHAPE) -> float:
    r"""Stress at which a surface crack runs.

    Parameters
    ----------
    toughness : float [Pa m^0.5]
        Of the material.
    crack : float [m]
        Depth of the crack.
    shape : float [1]
        Y; 0.713 for a shallow half-penny.

    Returns
    -------
    float [Pa]

    Raises
    ------
    OutOfValidRange
        A toughness, depth or shape not above zero.

    Notes
    -----
    .. math:: \sigma_f = \frac{K_{Ic}}{Y \sqrt{\pi c}}

    Good to 30 % where the depth is known, a bound where it is not.

    References
    ----------
    .. [1] A. A. Griffith, "The phenomena of rupture and flow in solids", Phil. Trans. R. Soc. A 221 (1921) 163-198.
       Key ``griffith1921``.

    Examples
    --------
    >>> round(fracture_stress(0.9e6, crack=5e-6) / 1e6)
    318
    """
    if not (toughness > 0.0 and crack > 0.0 and shape > 0.0):
        raise OutOfValidRange("crack", crack, "toughness, crack and shape above zero")
    return toughness / (shape * math.sqrt(math.pi * crack))


def face_strength(library: Library, *, material: str, finish: Finish) -> FaceStrength:
    """Strength of a face by material and finish: a row of the library, else one carried over by toughness.

    Parameters
    ----------
    library : Library
        Strengths and toughness.
    material : str
        Of the wafer.
    finish : Finish
        Of the face in tension.

    Returns
    -------
    FaceStrength
        Without a row of its own: silicon's (or, ground, its fine lap's) times the ratio of toughness at equal cracks,
        its band wider by 1.5 to each side.

    Raises
    ------
    NotFound
        Neither a row nor a toughness to carry one over with.

    Examples
    --------
    >>> from lapwright.library import load
    >>> face_strength(load(), material="LiTaO3", finish="polished").trust
    'derived'
    """
    asked = library.material(material)
    row = library.strength_of(asked.material_id, finish)
    if row is not None:
        return FaceStrength(
            strength_low=row.strength_low,
            strength_high=row.strength_high,
            weibull_modulus_low=row.weibull_modulus_low,
            weibull_modulus_high=row.weibull_modulus_high,
            method=f"{finish.replace('_', ' ')} {asked.material_id}, "
            f"{row.strength_low / 1e6:.0f} to {row.strength_high / 1e6:.0f} MPa",
            origin=row.origin,
            trust=row.origin.trust,
        )
    return _carried(library, asked, finish)


def rim_strength(library: Library, *, material: str, chip: float) -> FaceStrength:
    """Strength of a chipped rim, from the depth of its chips (Griffith); the whole rim counts as one square centimetre.

    Parameters
    ----------
    library : Library
        Toughness of the material.
    material : str
        Of the wafer.
    chip : float [m]
        Depth of the usual chips.

    Returns
    -------
    FaceStrength
        Band x/÷ 1.5; modulus 3 to 6 (common practice, no source).

    Raises
    ------
    NotFound
        The library holds no toughness of the material.
    OutOfValidRange
        A chip not above zero.

    Examples
    --------
    >>> from lapwright.library import load
    >>> round(rim_strength(load(), material="LiTaO3", chip=50e-6).strength / 1e6)
    112
    """
    asked = library.material(material)
    found = asked.properties.get("toughness")
    if found is None:
        raise NotFound(
            f"The library holds no toughness of {asked.material_id}. Add a row of your own.", name=asked.material_id
        )
    sigma = fracture_stress(found.value, crack=chip)
    low, high = sigma / CARRIED_BAND, sigma * CARRIED_BAND
    return FaceStrength(
        strength_low=low,
        strength_high=high,
        weibull_modulus_low=RIM_MODULUS[0],
        weibull_modulus_high=RIM_MODULUS[1],
        method=f"a rim with chips of {um(chip)}, {low / 1e6:.0f} to {high / 1e6:.0f} MPa",
        origin=found.origin,
        trust="derived",
    )


def breakage_chance(stressings: Sequence[Stressing], strength: FaceStrength) -> BreakageChance:
    r"""Chance that a wafer breaks in any of the things done to it.

    Parameters
    ----------
    stressings : sequence of Stressing
        What is done, one after the other; at least one.
    strength : FaceStrength
        Of the face in tension.

    Returns
    -------
    BreakageChance

    Raises
    ------
    OutOfValidRange
        Nothing is done.

    Notes
    -----
    .. math:: P = 1 - \prod_k (1 - P_k)

    `expected` is the mean over strengths evenly spread in their logarithm between the ends, with the modulus rising
    along with them: the chance to plan with when the strength is not known better.

    Examples
    --------
    >>> from lapwright.library import load
    >>> strength = face_strength(load(), material="Si", finish="lapped_coarse")
    >>> chance = breakage_chance([Stressing(name="a push", stress=40e6, area=1e-4)], strength)
    >>> chance.low < chance.expected < chance.high
    True
    """
    if not stressings:
        raise OutOfValidRange("number of stressings", 0, "at least one")
    along = [0.0, 1.0, *(0.5 * (place + 1.0) for place in _PLACES)]
    chances = [_any_of(stressings, strength, at) for at in along]
    expected = math.fsum(0.5 * w * chance for w, chance in zip(_WEIGHTS, chances[2:], strict=True))
    worst = max(stressings, key=lambda one: _chance(one, strength, 0.5))
    return BreakageChance(
        expected=expected, low=min(chances[:2]), high=max(chances[:2]), worst=worst, strength=strength,
        stressings=tuple(stressings),
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _carried(library: Library, asked: Material, finish: Finish) -> FaceStrength:
    base = library.material("Si")
    row = library.strength_of("Si", finish)
    toughness, base_toughness = asked.value("toughness"), base.value("toughness")
    if row is None or toughness is None or base_toughness is None:
        raise NotFound(
            f"The library holds no strength of {finish.replace('_', ' ')} {asked.material_id} and no toughness to "
            "carry one over with. Add a row of your own.",
            name=asked.material_id,
        )
    ratio = toughness / base_toughness
    low, high = row.strength_low * ratio / CARRIED_BAND, row.strength_high * ratio * CARRIED_BAND
    return FaceStrength(
        strength_low=low,
        strength_high=high,
        weibull_modulus_low=row.weibull_modulus_low,
        weibull_modulus_high=row.weibull_modulus_high,
        method=f"{finish.replace('_', ' ')} silicon carried over to {asked.material_id} by toughness, "
        f"{low / 1e6:.0f} to {high / 1e6:.0f} MPa",
        origin=row.origin,
        trust="derived",
    )


def _chance(one: Stressing, strength: FaceStrength, along: float) -> float:
    """The chance at a place between the weak end (0) and the strong end (1) of the strength."""
    strength = one.strength or strength
    sigma = strength.strength_low * (strength.strength_high / strength.strength_low) ** along
    spread = strength.weibull_modulus_low + along * (strength.weibull_modulus_high - strength.weibull_modulus_low)
    return breakage_probability(one.stress, strength=sigma, weibull_modulus=spread, area=one.area)


def _any_of(stressings: Sequence[Stressing], strength: FaceStrength, along: float) -> float:
    return 1.0 - math.prod(1.0 - _chance(one, strength, along) for one in stressings)


def _about(chance: float) -> str:
    return _percent(chance) if chance < 1e-4 else f"about {_percent(chance)}"


def _percent(chance: float) -> str:
    if chance < 1e-4:
        return "below 0.01 %"
    return f"{100.0 * chance:.2g} %"
