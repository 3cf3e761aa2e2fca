"""Use cases: what the file of a profile or small map says of the finish, read as its settings ask. Nothing writes.

A roughness is never given without its filter and length: `told_settings` says them in one line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from lapwright.app import surfaces
from lapwright.errors import CannotAnswer, LapwrightError
from lapwright.formats.surfaces import surface_from_bytes
from lapwright.metrology.roughness_settings import ProfileInstrument
from lapwright.model.surface_record import Numbers, ProfileSettings
from lapwright.process.damage_from_roughness import DamageFromRoughness, RoughFace, damage_from_roughness

if TYPE_CHECKING:
    from lapwright.metrology.roughness_uncertainty import RoughnessUncertainty

_FILTERS = {"gaussian": "Gaussian filter", "robust_gaussian": "robust Gaussian filter", "spline": "spline filter"}
_HEIGHTS = ("ra", "rq", "rz", "rt", "rp", "rv")
_AREAL_HEIGHTS = ("sa", "sq", "sz", "sp", "sv")


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileReading:
    """A profile or small map read: its parts, its parameters, and the depth of damage where it may be told from them.

    `damage` is None where it may not; `no_damage` then says why.
    """

    measured: surfaces.MeasuredProfile | surfaces.MeasuredArea
    settings: ProfileSettings
    damage: DamageFromRoughness | None
    no_damage: str

    @property
    def is_areal(self) -> bool:
        """Whether the file holds a map."""
        return isinstance(self.measured, surfaces.MeasuredArea)

    @property
    def main(self) -> RoughnessUncertainty | None:
        """Ra of a profile or Sq of a map, with its uncertainty."""
        return self.measured.sq if isinstance(self.measured, surfaces.MeasuredArea) else self.measured.ra

    @property
    def notices(self) -> tuple[str, ...]:
        """What must be known of the numbers, each said once."""
        more = () if self.main is None else self.main.warnings
        return tuple(dict.fromkeys(sentence for _, sentence in (*self.measured.result.warnings, *more)))

    @property
    def numbers(self) -> Numbers:
        """All numbers in SI."""
        return _numbers(self)


def read_profile(
    content: bytes, settings: ProfileSettings, *, name: str, material: str | None = None
) -> ProfileReading:
    """The roughness that a file holds, and the damage below it where a ratio of this material and process is known.

    Raises `FileFormatError` and `BadInput` for a file that is no profile, `SurfaceRefused` and its kin for one that
    cannot answer.
    """
    question = surfaces.RoughnessQuestion(
        cutoff=settings.cutoff,
        filter_kind=settings.filter_kind,
        instrument=ProfileInstrument(
            kind=settings.instrument_kind,
            tip_radius=settings.tip_radius,
            noise=settings.noise,
            height_uncertainty=settings.height_uncertainty,
        ),
    )
    measured = surfaces.roughness_of_surface(surface_from_bytes(content, name=name), question)
    damage, no_damage = _damage(measured, settings, material)
    return ProfileReading(measured=measured, settings=settings, damage=damage, no_damage=no_damage)


def told_settings(reading: ProfileReading) -> str:
    """Filter, wavelengths and length in one line, for wherever a roughness is given."""
    used = reading.measured.result.settings
    parts = [f"{_FILTERS[reading.settings.filter_kind]}"]
    numbers = reading.numbers
    if (cutoff := numbers.get("cutoff")) is not None:
        parts.append(f"cutoff {cutoff * 1e3:.3g} mm")
    short = numbers.get("short_cutoff")
    parts.append("no short cutoff" if short is None else f"short cutoff {short * 1e6:.3g} µm")
    if not reading.is_areal:
        length = numbers["evaluation_length"] or 0.0
        parts.append(f"{used.sections} sections, {length * 1e3:.3g} mm evaluated")  # type: ignore[union-attr]
    kind = {"stylus": "stylus", "optical": "optical"}.get(reading.settings.instrument_kind)
    parts.append(kind or "kind of instrument not stated")
    return ", ".join(parts)


# ----------------------------------------------------------------------------------------------------------------------


def _damage(
    measured: surfaces.MeasuredProfile | surfaces.MeasuredArea, settings: ProfileSettings, material: str | None
) -> tuple[DamageFromRoughness | None, str]:
    if isinstance(measured, surfaces.MeasuredArea):
        return None, "The file holds a map; a depth of damage can only be taken from Rz or Rt of a profile."
    if material is None:
        return None, "No wafer is chosen, so the material is not known. Choose the wafer."
    if settings.way is None:
        return None, (
            "How the face was made is not stated, or it is polished; a ratio holds for one way of lapping or grinding "
            "only. A smooth face can be deeply cracked: polish a taper and look."
        )
    from lapwright.library import load

    why = ""
    for parameter in ("rt", "rz"):
        face = RoughFace(
            material=material,
            way=settings.way,
            instrument=settings.instrument_kind,
            parameter=parameter,
            value=getattr(measured.result.parameters, parameter),
        )
        try:
            return damage_from_roughness(load(), face), ""
        except (CannotAnswer, LapwrightError) as error:
            why = error.sentence
    return None, why


def _numbers(reading: ProfileReading) -> dict[str, float | None]:
    result = reading.measured.result
    heights = _AREAL_HEIGHTS if reading.is_areal else _HEIGHTS
    found: dict[str, float | None] = {name: getattr(result.parameters, name) for name in heights}
    rest = ("ssk", "sku", "sdq", "sdr", "sal", "str_ratio") if reading.is_areal else ("rsk", "rku", "rdq", "rsm")
    found |= {name: getattr(result.parameters, name, None) for name in rest}
    if isinstance(reading.measured, surfaces.MeasuredArea):
        pairs = {"sa": reading.measured.sa, "sq": reading.measured.sq}
        found["cutoff"] = getattr(result.settings, "cutoff", None)
        found["short_cutoff"] = getattr(result.settings, "short_cutoff", None)
    else:
        pairs = {"ra": reading.measured.ra, "rq": reading.measured.rq}
        line = reading.measured.result
        start, stop = line.evaluated
        found |= {
            "cutoff": line.settings.cutoff,
            "short_cutoff": line.settings.short_cutoff,
            "evaluation_length": (stop - start) * line.spacing,
            "spacing": line.spacing,
        }
    for name, told in pairs.items():
        combined = None if told is None else told.combined
        found[f"{name}_without_noise"] = (
            None if combined is None or not told or told.noise_bias is None else combined.value
        )
        found[f"{name}_expanded_uncertainty"] = None if combined is None else combined.expanded_uncertainty
    if reading.damage is not None:
        found |= {f"damage_{name}": getattr(reading.damage, name) for name in ("expected", "low", "high")}
    return {name: value if value is not None and math.isfinite(value) else None for name, value in found.items()}
