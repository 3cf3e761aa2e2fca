"""X3P files (ISO 25178-72): profiles and maps, heights in metres, points without a height kept as such.

Written: one layer in 64-bit floats, so that every height reads back bit for bit; NaN is a point not measured. Read: any
of the four number types, with or without a validity file, or heights listed in the description. Rows run along +y from
the smallest, so the first row of a file is the bottom of a map. Left out: point clouds, several layers, rotation,
parts of other programs.
"""

from __future__ import annotations

import math
from datetime import datetime
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from lapwright import __version__
from lapwright.errors import FileFormatError
from lapwright.formats.surface_checks import checked_map, checked_profile, remarks_of
from lapwright.formats.x3p_archive import Archive, archive_of, md5_of
from lapwright.formats.x3p_document import Description, description_of
from lapwright.model.surface import HeightProfile, Surface

START = b"PK\x03\x04"
_DATA = "bindata/data.bin"
_SUMS = "md5checksum.hex"
_SPACE = "http://www.opengps.eu/2008/ISO5436_2"  # name of the standard's XML namespace


def x3p_surface(content: bytes, *, name: str) -> Surface:
    """The profile or map in an X3P file; `FileFormatError` for one that is damaged, hostile or of another kind."""
    with Archive(content, name) as archive:
        document = archive.document("main.xml")
        told = description_of(document, name)
        archive.need_digest(document, archive.stated_digest(told.checksum_part), "main.xml")
        heights = _listed(told, name) if told.listed is not None else _stored(archive, told, name)
    if told.feature == "PRF":
        return checked_profile(name, heights, spacing=told.step_x)
    grid = heights.reshape(told.rows, told.columns)[::-1]
    return checked_map(name, grid, pixel_size=(told.step_y, told.step_x), remarks=told.comment)


def x3p_bytes(surface: Surface, *, at: datetime, about: str = "") -> bytes:
    """An X3P file of a profile or map; `at` is when it was measured, `about` free text for people."""
    heights = surface.height if isinstance(surface, HeightProfile) else surface.height[::-1]
    data = np.where(np.isnan(heights), np.nan, heights).astype("<f8").tobytes()  # one kind of NaN
    document = _document(surface, data=data, at=at, about=about).encode("utf-8")
    sums = f"{md5_of(document)} *main.xml\n".encode()
    return archive_of({"main.xml": document, _SUMS: sums, _DATA: data})


# ----------------------------------------------------------------------------------------------------------------------


def _stored(archive: Archive, told: Description, name: str) -> NDArray[np.float64]:
    """Heights of a binary part, those that the validity part or NaN marks not measured."""
    if told.data_part is None:
        raise FileFormatError(f"{name} says nowhere where its heights are; an X3P file does. Save it again.")
    count = told.columns * told.rows
    content = archive.numbers(told.data_part, size=count * int(told.height_type[-1]))
    archive.need_digest(content, told.data_digest, told.data_part)
    heights = _scaled(np.frombuffer(content, dtype=told.height_type), told)
    if told.valid_part is not None:
        bits = archive.numbers(told.valid_part, size=math.ceil(count / 8))
        archive.need_digest(bits, told.valid_digest, told.valid_part)
        valid = np.unpackbits(np.frombuffer(bits, np.uint8), count=count, bitorder="little")
        heights = np.where(valid == 1, heights, np.nan)
    return heights


def _listed(told: Description, name: str) -> NDArray[np.float64]:
    """Heights listed in the description; an empty entry is a point not measured."""
    listed = told.listed or ()
    if len(listed) != told.columns * told.rows:
        raise FileFormatError(
            f"{name} lists {len(listed)} heights; {told.columns * told.rows} are expected from the size stated. "
            "Save or send it again."
        )
    try:
        return _scaled(np.array([float(text) if text else math.nan for text in listed]), told)
    except ValueError as fault:
        raise FileFormatError(f"{name}: a listed height is no number ({fault}). Save it again.") from fault


def _scaled(raw: NDArray[np.generic], told: Description) -> NDArray[np.float64]:
    """Raw numbers as heights; the standard leaves infinities undefined, and they count as not measured."""
    heights = raw.astype(np.float64)
    if (told.height_step, told.height_offset) != (1.0, 0.0):
        with np.errstate(all="ignore"):
            heights = heights * told.height_step + told.height_offset
    return np.where(np.isfinite(heights), heights, np.nan)


def _document(surface: Surface, *, data: bytes, at: datetime, about: str) -> str:
    feature = "PRF" if isinstance(surface, HeightProfile) else "SUR"
    if isinstance(surface, HeightProfile):
        step_y, step_x, rows, columns = surface.spacing, surface.spacing, 1, surface.height.size
    else:
        (step_y, step_x), (rows, columns) = surface.pixel_size, surface.height.shape
    comment = "; ".join((*remarks_of(surface), *((about,) if about else ())))
    axes = "".join(
        f"<{axis}><AxisType>{kind}</AxisType><DataType>D</DataType>"
        f"<Increment>{float(step)!r}</Increment><Offset>0.0</Offset></{axis}>"
        for axis, kind, step in (("CX", "I", step_x), ("CY", "I", step_y), ("CZ", "A", 1.0))
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<p:ISO5436_2 xmlns:p="{_SPACE}">\n'
        f"<Record1><Revision>ISO25178-72:2017/DAM1</Revision><FeatureType>{feature}</FeatureType>"
        f"<Axes>{axes}</Axes></Record1>\n"
        f"<Record2><Date>{at.isoformat()}</Date>"
        "<Instrument><Manufacturer>not stated</Manufacturer><Model>not stated</Model><Serial>not stated</Serial>"
        f"<Version>lapwright {__version__}</Version></Instrument>"
        "<ProbingSystem><Type>Software</Type><Identification>not stated</Identification></ProbingSystem>"
        f"<Comment>{escape(comment)}</Comment></Record2>\n"
        f"<Record3><MatrixDimension><SizeX>{columns}</SizeX><SizeY>{rows}</SizeY><SizeZ>1</SizeZ></MatrixDimension>"
        f"<DataLink><PointDataLink>{_DATA}</PointDataLink>"
        f"<MD5ChecksumPointData>{md5_of(data)}</MD5ChecksumPointData></DataLink></Record3>\n"
        f"<Record4><ChecksumFile>{_SUMS}</ChecksumFile></Record4>\n"
        "</p:ISO5436_2>\n"
    )
