"""Depth of damage from a roughness: only where that is honest.

A ratio of damage to roughness belongs to one material, one way of working and one kind of instrument, and to Rz or Rt:
cracks follow the few largest grains, which Ra does not see. Of two silicon carbide faces the ground one, at Ra 17.7 nm,
had cracks five times deeper than the lapped one at Ra 24.0 nm (Key ``sic2015``). Everything else is refused.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from lapwright.errors import NoDamageRatio, OutOfValidRange
from lapwright.library import DamageRatio, Library, Origin
from lapwright.metrology.distributions import student_t_quantile

Way = Literal["lap_loose", "lap_bound", "grind"]
Instrument = Literal["stylus", "optical", "not_stated"]

LEAST_SAMPLES = 3
_WAYS: dict[str, str] = {
    "lap_loose": "lapping with loose grain",
    "lap_bound": "lapping with bound grain",
    "grind": "grinding",
}
_BEYOND = 1.5  # how far outside the range of own samples a roughness may lie before it is said


@dataclass(frozen=True, slots=True, kw_only=True)
class RoughFace:
    """Measured on a face: parameter ("ra", "rz", "rt" …), its value [m], and how the face was made."""

    material: str
    way: Way
    instrument: Instrument
    parameter: str
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageSample:
    """A face of one's own of which both were measured: roughness and depth of damage [m], by taper or section."""

    face: RoughFace
    depth: float

    def __post_init__(self) -> None:
        if not (self.depth > 0.0 and self.face.value > 0.0):
            raise OutOfValidRange("depth", self.depth, "depth and roughness above zero [m]")


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageFromRoughness:
    """Depth of damage [m] with its band (about 95 %), in words where it comes from, and what to beware of.

    `expected` is None where only an upper bound is known; `samples` counts the own samples behind it.
    """

    expected: float | None
    low: float
    high: float
    method: str
    origin: Origin | None
    samples: int
    warnings: tuple[tuple[str, str], ...]


def damage_from_roughness(
    library: Library, face: RoughFace, *, samples: Sequence[DamageSample] = ()
) -> DamageFromRoughness:
    r"""Depth of damage of a face from its Rz or Rt.

    Parameters
    ----------
    library : Library
        Rows of ratios.
    face : RoughFace
        The face asked about.
    samples : sequence of DamageSample
        Own samples; those of another material, way, instrument or parameter are left aside.

    Returns
    -------
    DamageFromRoughness
        From own samples when three or more fit, else from a row of the library.

    Raises
    ------
    NoDamageRatio
        The parameter is neither Rz nor Rt, or no row and too few samples are of the same material, way and instrument;
        the sentence says what is missing.
    OutOfValidRange
        The roughness is not above zero.

    Notes
    -----
    Own samples: mean and deviation s of ln(depth / roughness), band

    .. math:: R \exp(m \pm t_{0.975,\,n-1} \, s \sqrt{1 + 1/n})

    Library: value times the row's range.

    References
    ----------
    .. [1] J. A. Randi, J. C. Lambropoulos, S. D. Jacobs, Appl. Opt. 44 (2005) 2241-2249 (abstract). Key ``randi2005``.

    Examples
    --------
    >>> from lapwright.library import load
    >>> face = RoughFace(material="LiNbO3", way="lap_loose", instrument="optical", parameter="rt", value=3e-6)
    >>> round(damage_from_roughness(load(), face).high * 1e6, 2)
    4.2
    """
    if not (math.isfinite(face.value) and face.value > 0.0):
        raise OutOfValidRange("value", face.value, "a roughness above zero [m]")
    if face.parameter not in ("rz", "rt"):
        raise NoDamageRatio(
            f"The roughness given is {_named(face.parameter)}; a depth of damage can only be taken from Rz or Rt. "
            "A smooth face can be deeply cracked: measure Rz or Rt, or polish a taper.",
            parameter=face.parameter,
        )
    material = library.material(face.material).material_id
    own = [sample for sample in samples if _is_alike(library, sample.face, face, material)]
    if len(own) >= LEAST_SAMPLES:
        return _from_samples(face, own)
    rows = library.damage_ratios_of(material)
    fitting = [row for row in rows if _fits(row, face)]
    if fitting and face.instrument != "not_stated":
        return _from_row(fitting[0], face)
    raise NoDamageRatio(_why_not(face, material, rows, len(own)), material=material, way=face.way)


# ----------------------------------------------------------------------------------------------------------------------


def _named(parameter: str) -> str:
    return parameter[:1].upper() + parameter[1:]


def _is_alike(library: Library, sample: RoughFace, face: RoughFace, material: str) -> bool:
    same = (sample.way, sample.instrument, sample.parameter) == (face.way, face.instrument, face.parameter)
    return same and face.instrument != "not_stated" and library.material(sample.material).material_id == material


def _fits(row: DamageRatio, face: RoughFace) -> bool:
    return (row.way, row.instrument, row.parameter) == (face.way, face.instrument, face.parameter)


def _from_samples(face: RoughFace, own: Sequence[DamageSample]) -> DamageFromRoughness:
    ratios = [math.log(sample.depth / sample.face.value) for sample in own]
    count = len(ratios)
    mean = sum(ratios) / count
    deviation = math.sqrt(sum((ratio - mean) ** 2 for ratio in ratios) / (count - 1))
    reach = student_t_quantile(0.975, count - 1) * deviation * math.sqrt(1.0 + 1.0 / count)
    values = [sample.face.value for sample in own]
    warnings = []
    if not min(values) / _BEYOND <= face.value <= max(values) * _BEYOND:
        sentence = (
            f"The roughness lies outside that of the samples ({min(values) * 1e6:.3g} to {max(values) * 1e6:.3g} µm); "
            "the ratio may not hold there."
        )
        warnings.append(("damage.beyond_samples", sentence))
    return DamageFromRoughness(
        expected=face.value * math.exp(mean),
        low=face.value * math.exp(mean - reach),
        high=face.value * math.exp(mean + reach),
        method=f"From {count} own samples: depth over {_named(face.parameter)} {math.exp(mean):.3g}, "
        f"x/÷ {math.exp(reach):.3g}",
        origin=None,
        samples=count,
        warnings=tuple(warnings),
    )


def _from_row(row: DamageRatio, face: RoughFace) -> DamageFromRoughness:
    bound_only = row.ratio_low == 0.0
    sentence = "Ratios differ from shop to shop; three samples of your own take the place of the library's row."
    return DamageFromRoughness(
        expected=None if bound_only else 0.5 * (row.ratio_low + row.ratio_high) * face.value,
        low=row.ratio_low * face.value,
        high=row.ratio_high * face.value,
        method=f"Library row {row.row_id}: depth over {_named(face.parameter)} "
        + (f"at most {row.ratio_high:g}" if bound_only else f"{row.ratio_low:g} to {row.ratio_high:g}"),
        origin=row.origin,
        samples=0,
        warnings=(("damage.ratio_of_others", sentence),),
    )


def _why_not(face: RoughFace, material: str, rows: Sequence[DamageRatio], own: int) -> str:
    asked = f"{material}, {_WAYS[face.way]}, {face.instrument.replace('_', ' ')} instrument, {_named(face.parameter)}"
    cure = f"Give {LEAST_SAMPLES} samples of your own with {_named(face.parameter)} and depth, or polish a taper."
    if face.instrument == "not_stated":
        return f"The kind of instrument is not stated, and ratios differ between stylus and optical. State it. {cure}"
    known = "; ".join(f"{_WAYS.get(row.way, row.way)}, {row.instrument.replace('_', ' ')}, {_named(row.parameter)}"
                      for row in rows)  # fmt: skip
    held = f"the library holds for {material} only: {known}" if known else f"the library holds none for {material}"
    return f"No ratio of damage to roughness for {asked}: {held}; {own} own samples fit. {cure}"
