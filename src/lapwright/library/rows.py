"""The rows of the process library, as frozen values in SI units.

Every row carries its `origin`: which source, how far it can be trusted, from which file and row, and what it replaces.
A page that shows a value of the library shows its origin beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal, get_args

Trust = Literal["read", "table", "memory", "derived", "common_practice", "own"]
Process = Literal["lap", "polish"]
#: How a face was left, as far as its strength and its stress depend on it.
Finish = Literal["lapped_coarse", "lapped_fine", "ground", "polished"]
#: How a thin wafer is held: by a suction wand at most, on a full-face support, or only on its carrier.
HandlingWay = Literal["wand", "support", "carrier"]

#: What each trust word says, in the words shown to a user.
TRUST_MEANING: Mapping[Trust, str] = MappingProxyType(
    {
        "read": "read in the abstract or an excerpt of the source; its conditions are often incomplete",
        "table": "read in a table or the body of the source",
        "memory": "from memory; not checked against the source",
        "derived": "computed from other values by a stated formula",
        "common_practice": "common practice, no source",
        "own": "the lab's own value",
    }
)
TRUST_WORDS: tuple[Trust, ...] = get_args(Trust)


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where a row comes from: source, trust word, file, row, and what it replaces."""

    source: str
    trust: Trust
    file: str
    row: int
    replaces: str | None = None

    def sentence(self) -> str:
        """The origin as one line for a person."""
        replaced = f"; replaces {self.replaces}" if self.replaces else ""
        return f"{self.source} ({TRUST_MEANING[self.trust]}){replaced}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Property:
    """One property of a material in SI, with the range found in the sources, its origin and a note."""

    material: str
    name: str
    value: float
    low: float | None
    high: float | None
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A material to be worked, or one that carriers are made of."""

    material_id: str
    name: str
    family: str
    aliases: tuple[str, ...]
    brittle: bool
    cautions: str
    origin: Origin
    properties: Mapping[str, Property] = field(default_factory=dict)

    def value(self, name: str) -> float | None:
        """A property's value in SI, or None when the library holds none."""
        found = self.properties.get(name)
        return None if found is None else found.value


@dataclass(frozen=True, slots=True, kw_only=True)
class GrainGrade:
    """A graded grain size of a standard: median and the limits of its distribution [m]."""

    system: str
    grade: str
    d50: float
    d50_tolerance: float
    d3_max: float | None
    d94_min: float | None
    largest: float | None
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Abrasive:
    """An abrasive as it is used: kind, grain that carries the load [m], hardness [Pa]."""

    abrasive_id: str
    name: str
    kind: str
    process: Process
    grain: float
    hardness: float
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """A lapping plate or a polishing pad on its plate: what it is made of and how hard it works."""

    plate_id: str
    name: str
    process: Process
    hardness_class: str
    abrasives: tuple[str, ...]
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateRule:
    """Which plate hardness suits which sample hardness [Pa]."""

    rule_id: str
    sample_from: float
    sample_to: float
    coarse_classes: tuple[str, ...]
    fine_classes: tuple[str, ...]
    why: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Adhesive:
    """A mounting adhesive: temperatures [K], viscosity at bonding [Pa s], usual bond line [m], how it lets go."""

    adhesive_id: str
    name: str
    kind: str
    softens_low: float | None
    softens_high: float | None
    bonding_low: float | None
    bonding_high: float | None
    viscosity_low: float | None
    viscosity_high: float | None
    bond_line_low: float | None
    bond_line_high: float | None
    release: str
    solvents: tuple[str, ...]
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class AdhesiveViscosity:
    """Viscosity [Pa s] of an adhesive at a temperature [K]."""

    adhesive: str
    temperature: float
    viscosity: float
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """Characteristic strength [Pa] and Weibull modulus [1] of a face by its finish, edges left out; low and high end.

    The strength is that of one square centimetre under even stress, at which 63 % break.
    """

    material: str
    finish: Finish
    strength_low: float
    strength_high: float
    weibull_modulus_low: float
    weibull_modulus_high: float
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedStrength:
    """What has been published on the strength of worked faces: sample, face, test, range [Pa], finding in words."""

    row_id: str
    sample: str
    face: str
    test: str
    strength_low: float | None
    strength_high: float | None
    finding: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceForce:
    """Force per length [N/m] with which a worked face pushes outward in its own plane, by its finish."""

    finish: Finish
    force_low: float
    force_high: float
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class HandlingLimit:
    """How a wafer below this thickness [m] and above this diameter [m] is to be held; no materials listed means any."""

    row_id: str
    materials: tuple[str, ...]
    thickness: float
    diameter: float
    way: HandlingWay
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Pad:
    """A polishing pad by kind: usual use, run-in and dressing."""

    pad_id: str
    name: str
    hardness_class: str
    use: str
    care: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Slurry:
    """A slurry by kind: usual concentration, acidity and feed, and what it suits."""

    slurry_id: str
    name: str
    process: Process
    abrasive: str
    materials: tuple[str, ...]
    concentration: str
    acidity: str
    feed: str
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Solvent:
    """A solvent: lowest published flash point and autoignition temperature [K], and what to mind."""

    solvent_id: str
    name: str
    flash_point: float | None
    autoignition: float | None
    boiling_point: float | None
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """A caution, and when it is to be shown; an empty list matches everything."""

    hazard_id: str
    caution: str
    materials: tuple[str, ...]
    steps: tuple[str, ...]
    adhesives: tuple[str, ...]
    solvents: tuple[str, ...]
    slurries: tuple[str, ...]
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class RemovalCoefficient:
    """A Preston coefficient [1/Pa] of material, abrasive and plate; nearly all values lie within x / ÷ `band`."""

    row_id: str
    material: str
    process: Process
    abrasive_kind: str
    grain: float
    grain_low: float
    grain_high: float
    plates: tuple[str, ...]
    coefficient: float
    band: float
    pressure_low: float
    pressure_high: float
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageRow:
    """Depth of damage [m] that an abrasive leaves in a material, and which of the three depths was meant."""

    row_id: str
    material: str
    abrasive_kind: str
    grain: float
    depth_low: float
    depth_high: float
    depth_kind: str
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageRatio:
    """Depth of damage over Rz or Rt [1] for one material, way of working and kind of instrument."""

    row_id: str
    material: str
    way: str
    instrument: str
    parameter: str
    ratio_low: float
    ratio_high: float
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class RoughnessRow:
    """Roughness [m] that an abrasive leaves on a material: Ra (or rms where the note says so) and peak to valley."""

    row_id: str
    material: str
    process: Process
    abrasive_kind: str
    grain: float
    ra_low: float
    ra_high: float
    peak_to_valley: float | None
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferSize:
    """A nominal wafer size of a standard or of the trade [m]."""

    row_id: str
    material: str
    diameter: float
    thickness: float
    diameter_tolerance: float | None
    thickness_tolerance: float | None
    mark: str
    flat_length: float | None
    standard: str
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedRate:
    """A published or trade figure of removal with the conditions it was given with; None where not given. SI."""

    row_id: str
    material: str
    process: Process
    abrasive: str
    plate: str
    pressure_low: float | None
    pressure_high: float | None
    speed_low: float | None
    speed_high: float | None
    rate_low: float | None
    rate_high: float | None
    finish: str
    note: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction:
    """Two sources that disagree, on what, and what the library does about it."""

    contradiction_id: str
    subject: str
    statement: str
    handling: str
    materials: tuple[str, ...]
    quantities: tuple[str, ...]
    origin: Origin
