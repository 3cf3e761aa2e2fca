"""Depth of damage and roughness that a stage leaves, by abrasive and material, with the name of where it comes from.

Stock is planned on crack depth (or the whole damaged layer where that was measured), never on the soft layer that
indentation sees. A row of the library is used where there is one; else it is carried over from the nearest row or,
at last, from the grain size alone, with a band as wide as that honestly is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lapwright.errors import OutOfValidRange
from lapwright.library import Abrasive, DamageRow, Library, Origin, Trust
from lapwright.library.rows import RoughnessRow

_SAME_GRAIN = math.log(1.35)  # a row speaks for grains within 35 %
_GRAIN_BAND = 1.5  # what scaling in proportion to grain adds
_MATERIAL_BAND = 1.5  # eq. 2.3 is good to x/÷ 1.5 for brittle solids
_ROW_BAND = 1.5  # a single figure without a range
_ROUGHNESS_BAND = 2.0  # between shops


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A depth or roughness [m]: expected value, low and high end (about 95 %), how it was found, and its origin."""

    expected: float
    low: float
    high: float
    method: str
    origin: Origin | None
    trust: Trust


def damage_bounds(grain: float) -> tuple[float, float]:
    r"""Bounds of the damage depth from the grain size alone.

    Parameters
    ----------
    grain : float [m]
        Size of the grains that carry the load.

    Returns
    -------
    tuple of two floats [m]
        Low and high bound, about a factor of ten apart.

    Raises
    ------
    OutOfValidRange
        `grain` is not above zero.

    Notes
    -----
    .. math:: 0.3 L^{0.68} < d < 2 L^{0.85}

    L and d in µm; glasses, loose or bound abrasive.

    References
    ----------
    .. [1] J. C. Lambropoulos, OSA Optical Fabrication and Testing (2000) (from memory). Key ``lambropoulos2000``.

    Examples
    --------
    >>> [round(bound * 1e6, 2) for bound in damage_bounds(9e-6)]
    [1.34, 12.95]
    """
    if not grain > 0.0:
        raise OutOfValidRange("grain", grain, "more than zero [m]")
    size = grain * 1e6
    return 0.3 * size**0.68 / 1e6, 2.0 * size**0.85 / 1e6


def damage_ratio(youngs_modulus: float, hardness: float, *, to_youngs_modulus: float, to_hardness: float) -> float:
    r"""Factor that carries a damage depth to another brittle material at equal grain and load.

    Parameters
    ----------
    youngs_modulus : float [Pa]
        Of the material whose depth is known.
    hardness : float [Pa]
        Of the material whose depth is known.
    to_youngs_modulus : float [Pa]
        Of the other material.
    to_hardness : float [Pa]
        Of the other material.

    Returns
    -------
    float [1]

    Notes
    -----
    .. math:: \frac{d_2}{d_1} = \frac{E_2^{1/2} / H_2}{E_1^{1/2} / H_1}

    Good to x/÷ 1.5 for brittle solids; not for soft crystals that deform plastically.

    References
    ----------
    .. [1] Suratwala et al., Opt. Eng. 58(9) (2019) 092604 (abstract). Key ``suratwala2019``.

    Examples
    --------
    >>> round(damage_ratio(162.7e9, 11.3e9, to_youngs_modulus=131.5e9, to_hardness=7.65e9), 2)
    1.33
    """
    return math.sqrt(to_youngs_modulus / youngs_modulus) * hardness / to_hardness


def damage_left(library: Library, material: str, abrasive: Abrasive) -> Estimate:
    """Depth of damage that an abrasive leaves in a material.

    Parameters
    ----------
    library : Library
        Rows of damage depths and material properties.
    material : str
        Material id.
    abrasive : Abrasive
        With kind and grain.

    Returns
    -------
    Estimate
        Expected depth, bounds and where they come from [m].

    Notes
    -----
    In this order: a row of this material and kind of abrasive for this grain; such a row in proportion to the grain
    size; such a row for another kind of abrasive; a row of another material by eq. 2.3 (`damage_ratio`); the bounds
    from grain size alone (`damage_bounds`, geometric mean). Polishing without a row is taken as leaving none.

    Examples
    --------
    >>> from lapwright.library import load
    >>> library = load()
    >>> round(damage_left(library, "LiTaO3", library.abrasive("sic-jis1000")).expected * 1e6, 2)
    12.0
    """
    rows = library.damage_of(material)
    same_kind = [row for row in rows if row.abrasive_kind == abrasive.kind]
    if abrasive.process == "polish" and not same_kind:
        return Estimate(
            expected=0.0,
            low=0.0,
            high=0.0,
            method="A polish is taken as leaving no damage",
            origin=None,
            trust="common_practice",
        )
    if same_kind:
        return _from_row(_nearest(same_kind, abrasive), abrasive, factor=1.0, band=1.0, words="")
    lapped = [row for row in rows if row.depth_high > 0.0]
    if lapped:
        row = _nearest(lapped, abrasive)
        return _from_row(row, abrasive, factor=1.0, band=_MATERIAL_BAND, words=f"from {row.abrasive_kind}")
    return _from_other_material(library, material, abrasive) or _from_grain(abrasive)


def damage_remaining(damage_before: float, *, removal: float, left_by_stage: float) -> float:
    """Depth of damage after a stage: what it did not reach of the old, or what it leaves itself.

    Parameters
    ----------
    damage_before : float [m]
        Depth before the stage.
    removal : float [m]
        What the stage took.
    left_by_stage : float [m]
        What the stage leaves by itself.

    Returns
    -------
    float [m]

    Examples
    --------
    >>> round(damage_remaining(12e-6, removal=20e-6, left_by_stage=3e-6) * 1e6, 3)
    3.0
    """
    return max(left_by_stage, damage_before - removal)


def roughness_left(library: Library, material: str, abrasive: Abrasive) -> Estimate | None:
    """Roughness Ra that an abrasive leaves on a material, or None when the library can say nothing.

    Parameters
    ----------
    library : Library
        Rows of roughness.
    material : str
        Material id.
    abrasive : Abrasive
        With kind and grain.

    Returns
    -------
    Estimate or None
        Ra [m]; the high end is what a limit is compared with.

    Notes
    -----
    A row of this material and kind of abrasive, in proportion to grain size where the grain is another; else, for
    lapping, a row of this material with another kind of abrasive. Good to +/- 30 % in one shop, x/÷ 2 between shops.

    Examples
    --------
    >>> from lapwright.library import load
    >>> library = load()
    >>> round(roughness_left(library, "LiTaO3", library.abrasive("silica-colloidal")).high * 1e9, 2)
    0.6
    """
    rows = library.roughness_of(material, abrasive.process)
    kind = [row for row in rows if row.abrasive_kind == abrasive.kind]
    usable = kind or (list(rows) if abrasive.process == "lap" else [])
    if not usable:
        return None
    row = min(usable, key=lambda r: abs(math.log(r.grain / abrasive.grain)))
    return _roughness_from(row, abrasive, same_kind=bool(kind))


# ----------------------------------------------------------------------------------------------------------------------


def _nearest(rows: list[DamageRow], abrasive: Abrasive) -> DamageRow:
    return min(rows, key=lambda row: abs(math.log(row.grain / abrasive.grain)))


def _from_row(row: DamageRow, abrasive: Abrasive, *, factor: float, band: float, words: str) -> Estimate:
    steps = [words] if words else []
    if abs(math.log(row.grain / abrasive.grain)) > _SAME_GRAIN:
        factor *= abrasive.grain / row.grain
        band *= _GRAIN_BAND
        steps.append(f"in proportion to the grain, {row.grain * 1e6:g} to {abrasive.grain * 1e6:g} µm")
    if row.depth_low == row.depth_high:
        band *= _ROW_BAND
    expected = 0.5 * (row.depth_low + row.depth_high) * factor
    return Estimate(
        expected=expected,
        low=row.depth_low * factor / band,
        high=row.depth_high * factor * band,
        method=f"Library row {row.row_id}" + (": carried over " + "; ".join(steps) if steps else ""),
        origin=row.origin,
        trust="derived" if steps else row.origin.trust,
    )


def _from_other_material(library: Library, material: str, abrasive: Abrasive) -> Estimate | None:
    wanted = library.material(material)
    modulus, hardness = wanted.value("youngs_modulus"), wanted.value("hardness")
    if modulus is None or hardness is None or not wanted.brittle:
        return None
    rows = [
        row
        for row in library.damage
        if row.abrasive_kind == abrasive.kind and row.depth_kind == "crack" and row.depth_high > 0.0
    ]
    if not rows:
        return None
    row = _nearest(rows, abrasive)
    other = library.material(row.material)
    other_modulus, other_hardness = other.value("youngs_modulus"), other.value("hardness")
    if other_modulus is None or other_hardness is None:
        return None
    factor = damage_ratio(other_modulus, other_hardness, to_youngs_modulus=modulus, to_hardness=hardness)
    words = f"from {row.material} by eq. 2.3 (x {factor:.2g})"
    return _from_row(row, abrasive, factor=factor, band=_MATERIAL_BAND, words=words)


def _from_grain(abrasive: Abrasive) -> Estimate:
    low, high = damage_bounds(abrasive.grain)
    return Estimate(
        expected=math.sqrt(low * high),
        low=low,
        high=high,
        method="From the grain size alone (eq. 2.2), a factor of ten wide",
        origin=None,
        trust="memory",
    )


def _roughness_from(row: RoughnessRow, abrasive: Abrasive, *, same_kind: bool) -> Estimate:
    away = abs(math.log(row.grain / abrasive.grain)) > _SAME_GRAIN
    factor = abrasive.grain / row.grain if away else 1.0
    band = _ROUGHNESS_BAND if away or not same_kind else 1.0
    return Estimate(
        expected=0.5 * (row.ra_low + row.ra_high) * factor,
        low=row.ra_low * factor / band,
        high=row.ra_high * factor * band,
        method=f"Library row {row.row_id}" + (", carried over to this grain" if band > 1.0 else ""),
        origin=row.origin,
        trust="derived" if band > 1.0 else row.origin.trust,
    )
