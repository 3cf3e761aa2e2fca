"""Names and kinds of the Quality Information Framework that are written and read (QIF 3.0, ISO 23952:2020)."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import NamedTuple

from lapwright.formats.inspection import InspectedQuantity, LengthUnit
from lapwright.model.verdict import Outcome

NAMESPACE = "http://qifstandards.org/xsd/qif3"
VERSION = "3.0.0"
#: A file of results is far below both; a hostile one is not.
MOST_BYTES = 64 * 2**20
MOST_ELEMENTS = 500_000


class Kind(NamedTuple):
    """A kind of characteristic: first part of its element names, and the element that holds the measured value."""

    stem: str
    value: str = "Value"


THICKNESS = Kind("Thickness")
FLATNESS = Kind("Flatness")
TEXTURE = Kind("SurfaceTexture", "RoughnessAverageValue")
LENGTH = Kind("UserDefinedLinear")
KINDS = (THICKNESS, FLATNESS, TEXTURE, LENGTH)
#: Kinds whose definition holds a range; the others hold one upper limit, under this name.
ONE_SIDED: Mapping[Kind, str] = {FLATNESS: "ToleranceValue", TEXTURE: "RoughnessAverage"}

#: What a user-defined length is, in words; the schema asks for them.
MEANINGS: Mapping[str, str] = {
    "ttv": "Total thickness variation: thickest site less thinnest site, the share of gauge noise taken out.",
    "wedge": "Wedge: thickness difference of the least-squares plane over the full diameter.",
    "flatness": "Flatness of a face: peak to valley.",
    "bow": "Bow: height of the centre of the median surface over its reference plane.",
    "warp": "Warp: range of the median surface over its reference plane.",
    "roughness_ra": "Ra: arithmetic mean height of a roughness profile.",
    "roughness_sq": "Sq: root mean square height of a surface.",
}

FACTORS: Mapping[LengthUnit, str] = {"m": "1", "mm": "0.001", "um": "0.000001", "nm": "0.000000001", "in": "0.0254"}
UNIT_BY_FACTOR: Mapping[Decimal, LengthUnit] = {Decimal(factor): unit for unit, factor in FACTORS.items()}

STATUS: Mapping[Outcome | None, str] = {
    "conforms": "PASS",
    "does_not_conform": "FAIL",
    "cannot_be_decided": "INDETERMINATE",
    None: "NOT_ANALYZED",
}
#: Of a whole piece; this list of the schema has no INDETERMINATE.
PIECE_STATUS: Mapping[Outcome | None, str] = {
    "conforms": "PASS",
    "does_not_conform": "FAIL",
    "cannot_be_decided": "UNKNOWN",
    None: "NOT_CALCULATED",
}

EXPANDED = "ExpandedUncertainty95"
FACTOR = "CoverageFactor"


def kind_of(one: InspectedQuantity) -> Kind:
    """The kind a quantity is written as: one of the schema's own where it has a place for the limits, else a length."""
    if one.quantity == "thickness":
        return THICKNESS
    if one.lower is None and one.upper is not None:
        if one.quantity == "flatness":
            return FLATNESS
        if one.quantity == "roughness_ra":
            return TEXTURE
    return LENGTH
