"""The process library: what is known of materials, abrasives, plates, adhesives, pads, slurries and hazards.

Every row names its source and how far it can be trusted. `load` reads the shipped tables and one user file.
"""

from lapwright.library.catalogue import SAFETY_FIRST, Library
from lapwright.library.loader import load
from lapwright.library.rows import (
    TRUST_MEANING,
    Abrasive,
    Adhesive,
    Contradiction,
    DamageRatio,
    DamageRow,
    GrainGrade,
    Hazard,
    Material,
    Origin,
    Pad,
    Plate,
    PlateRule,
    Process,
    Property,
    PublishedRate,
    RemovalCoefficient,
    RoughnessRow,
    Slurry,
    Solvent,
    Trust,
    WaferSize,
)

__all__ = [
    "SAFETY_FIRST",
    "TRUST_MEANING",
    "Abrasive",
    "Adhesive",
    "Contradiction",
    "DamageRatio",
    "DamageRow",
    "GrainGrade",
    "Hazard",
    "Library",
    "Material",
    "Origin",
    "Pad",
    "Plate",
    "PlateRule",
    "Process",
    "Property",
    "PublishedRate",
    "RemovalCoefficient",
    "RoughnessRow",
    "Slurry",
    "Solvent",
    "Trust",
    "WaferSize",
    "load",
]
