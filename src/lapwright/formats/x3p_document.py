"""The description inside an X3P file (`main.xml`), read with a parser that takes no document type and no entity."""

from __future__ import annotations

import math
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from lapwright.errors import FileFormatError
from lapwright.formats.file_bytes import need_points
from lapwright.formats.sound_xml import sound_root

#: Data type of an axis by its letter, as NumPy names it.
TYPES = {"I": "<i2", "L": "<i4", "F": "<f4", "D": "<f8"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Description:
    """What the description says: sizes, steps, how heights are stored and where."""

    feature: str
    columns: int
    rows: int
    step_x: float
    step_y: float
    height_type: str
    height_step: float
    height_offset: float
    data_part: str | None
    data_digest: str | None
    valid_part: str | None
    valid_digest: str | None
    listed: tuple[str, ...] | None
    checksum_part: str
    comment: str


def description_of(document: bytes, name: str) -> Description:
    """The description in a document; `FileFormatError` for anything that this program cannot take in."""
    root = sound_root(document, f"{name}: its description")
    found = _Finder(root, name)
    feature = found.text("Record1/FeatureType").strip().upper()
    if feature not in ("SUR", "PRF"):
        raise FileFormatError(f"{name} holds a feature of type {feature[:20]!r}; a surface or a profile is expected.")
    if root.find("Record3/MatrixDimension") is None:
        raise FileFormatError(f"{name} holds a list of points; a grid is expected. Save the surface on a grid.")
    sizes = [found.whole(f"Record3/MatrixDimension/Size{axis}") for axis in "XYZ"]
    need_points(name, *sizes)
    if sizes[2] != 1:
        raise FileFormatError(f"{name} holds {sizes[2]} layers; one is expected. Save one layer.")
    if feature == "PRF" and sizes[1] != 1:
        raise FileFormatError(f"{name} is called a profile and has {sizes[1]} rows; one is expected. Save it again.")
    found.need_even("CX", is_used=True)
    found.need_even("CY", is_used=feature == "SUR")
    letter = found.text("Record1/Axes/CZ/DataType", "D").strip()
    if found.text("Record1/Axes/CZ/AxisType").strip() != "A" or letter not in TYPES:
        raise FileFormatError(f"{name} stores heights in a way that the standard does not know. Save it again.")
    listed = root.find("Record3/DataList")
    return Description(
        feature=feature,
        columns=sizes[0],
        rows=sizes[1],
        step_x=found.number("Record1/Axes/CX/Increment"),
        step_y=found.number("Record1/Axes/CY/Increment") if feature == "SUR" else 1.0,
        height_type=TYPES[letter],
        height_step=found.number("Record1/Axes/CZ/Increment", 1.0),
        height_offset=found.number("Record1/Axes/CZ/Offset", 0.0),
        data_part=found.optional("Record3/DataLink/PointDataLink"),
        data_digest=found.optional("Record3/DataLink/MD5ChecksumPointData"),
        valid_part=found.optional("Record3/DataLink/ValidPointsLink"),
        valid_digest=found.optional("Record3/DataLink/MD5ChecksumValidPoints"),
        listed=None if listed is None else tuple((one.text or "").strip() for one in listed.iter("Datum")),
        checksum_part=found.text("Record4/ChecksumFile", "md5checksum.hex").strip(),
        comment=found.text("Record2/Comment", ""),
    )


# ----------------------------------------------------------------------------------------------------------------------


class _Finder:
    """Looks up elements by path and turns their text into values."""

    def __init__(self, root: ET.Element, name: str) -> None:
        self._root, self._name = root, name

    def optional(self, path: str) -> str | None:
        text = self._root.findtext(path)
        return text.strip() if text and text.strip() else None

    def text(self, path: str, otherwise: str | None = None) -> str:
        found = self.optional(path)
        if found is not None:
            return found
        if otherwise is None:
            raise FileFormatError(f"{self._name}: its description has no {path}; an X3P file does. Save it again.")
        return otherwise

    def number(self, path: str, otherwise: float | None = None) -> float:
        if otherwise is not None and self.optional(path) is None:
            return otherwise
        text = self.text(path)
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise FileFormatError(f"{self._name}: {path} is {text[:40]!r}; a finite number is expected. Save it again.")
        return value

    def whole(self, path: str) -> int:
        text = self.text(path)
        if not (text.isascii() and text.isdigit() and len(text) < 19):
            raise FileFormatError(f"{self._name}: {path} is {text[:40]!r}; a whole number is expected. Save it again.")
        return int(text)

    def need_even(self, axis: str, *, is_used: bool) -> None:
        kind = self.text(f"Record1/Axes/{axis}/AxisType").strip()
        if kind != "I":
            raise FileFormatError(
                f"{self._name}: places along {axis} are stored one by one; even steps are expected. "
                "Save it on an even grid."
            )
        if is_used and not self.number(f"Record1/Axes/{axis}/Increment") > 0.0:
            raise FileFormatError(f"{self._name}: the step along {axis} is not above zero. Save it again.")
