"""SDF files (ISO 25178-71), text and binary, versions ISO-1.0 and ISO-2.0: profiles and maps, heights in metres.

Written: 64-bit floats, bad points as the standard marks them, so that every height reads back bit for bit. Read: all
number types of both versions. Profiles are stored along +y from the smallest, so the first one is the bottom of a map;
a file with one profile is a profile. Left out: compression, and the predecessor of the standard.
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import FileFormatError
from lapwright.formats.file_bytes import need_points
from lapwright.formats.surface_checks import checked_map, checked_profile, remarks_of
from lapwright.model.surface import HeightProfile, Surface

STARTS = (b"aISO-", b"bISO-", b"aBCR-", b"bBCR-", b"AISO-", b"BISO-")
#: NumPy's name of each number type by its code; 0 to 2 are no longer in the standard.
_TYPES = {3: "<f4", 4: "<i1", 5: "<i2", 6: "<i4", 7: "<f8"}
_DOUBLE = 7
_COUNTS = {b"ISO-1.0": "HH", b"ISO-2.0": "II"}
_MOST_IN_FIRST = 65_535  # points or profiles that version 1.0 can count
_FIELD = re.compile(r"^\s*(\w+)\s*=\s*(.*?)\s*$")
_RULED = re.compile(rb"^[ \t]*\*[ \t]*\r?$", re.MULTILINE)

Coding = Literal["text", "binary"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Header:
    """Sizes, steps and coding of the heights."""

    points: int
    profiles: int
    step_x: float
    step_y: float
    height_step: float
    type_code: int


def sdf_surface(content: bytes, *, name: str) -> Surface:
    """The profile or map in an SDF file; `FileFormatError` for one that is damaged or of another kind."""
    version = content[1:8]
    if version not in _COUNTS:
        found = content[:8].decode("latin-1").strip()
        raise FileFormatError(f"{name} begins with {found!r}; expected ISO-1.0 or ISO-2.0 in an SDF file. Convert it.")
    if content[:1] in b"aA":
        header, raw, trailer = _from_text(content, name)
    else:
        header, raw, trailer = _from_binary(content, version, name)
    heights = raw.astype(np.float64)
    if header.height_step != 1.0:
        with np.errstate(all="ignore"):
            heights = heights * header.height_step
    if header.profiles == 1:
        return checked_profile(name, heights, spacing=header.step_x)
    grid = heights.reshape(header.profiles, header.points)[::-1]
    return checked_map(name, grid, pixel_size=(header.step_y, header.step_x), remarks=trailer)


def sdf_bytes(surface: Surface, *, at: datetime, coding: Coding = "binary") -> bytes:
    """An SDF file of a profile or map; `at` is when it was measured."""
    if isinstance(surface, HeightProfile):
        grid, steps = surface.height.reshape(1, -1), (surface.spacing, surface.spacing)
    else:
        grid, steps = surface.height[::-1], surface.pixel_size
    is_small = max(grid.shape) <= _MOST_IN_FIRST
    version = "ISO-1.0" if is_small and not remarks_of(surface) else "ISO-2.0"
    trailer = "".join(f"{one.replace('=', ' = ')}\r\n" for one in remarks_of(surface))
    stamp = at.astimezone(UTC).strftime("%d%m%Y%H%M")
    build = _as_text if coding == "text" else _as_binary
    return build(grid, steps=steps, version=version, stamp=stamp, trailer=trailer)


# ----------------------------------------------------------------------------------------------------------------------


def _from_binary(content: bytes, version: bytes, name: str) -> tuple[_Header, NDArray[np.float64], str]:
    form = struct.Struct("<8x10x12x12x" + _COUNTS[version] + "ddddBBB")
    if len(content) < form.size:
        raise FileFormatError(f"{name} ends within its header. Save or send it again.")
    points, profiles, step_x, step_y, step_z, _, compression, code, _ = form.unpack_from(content)
    if compression:
        raise FileFormatError(f"{name} is compressed; no compression is expected. Save it uncompressed.")
    header = _checked(
        _Header(points=points, profiles=profiles, step_x=step_x, step_y=step_y, height_step=step_z, type_code=code),
        name,
    )
    kind = np.dtype(_TYPES[code])
    count = points * profiles
    if len(content) < form.size + count * kind.itemsize:
        held = (len(content) - form.size) // kind.itemsize
        raise FileFormatError(f"{name} holds {held} heights; {count} are expected from its header. Send it again.")
    raw = np.frombuffer(content, dtype=kind, count=count, offset=form.size)
    trailer = content[form.size + count * kind.itemsize :][:4096].decode("latin-1")
    return header, _without_bad(raw), trailer


def _from_text(content: bytes, name: str) -> tuple[_Header, NDArray[np.float64], str]:
    parts = _RULED.split(content, maxsplit=2)
    if len(parts) < 3:
        raise FileFormatError(f"{name} is cut short: its heights do not end with a line '*'. Save or send it again.")
    fields = {}
    for line in parts[0].decode("latin-1").splitlines()[1:]:
        found = _FIELD.match(line)
        if found:
            fields[found[1].lower()] = found[2]
    if _number(fields, "compression", name) != 0:
        raise FileFormatError(f"{name} is compressed; no compression is expected. Save it uncompressed.")
    header = _checked(
        _Header(
            points=_whole(fields, "numpoints", name),
            profiles=_whole(fields, "numprofiles", name),
            step_x=_number(fields, "xscale", name),
            step_y=_number(fields, "yscale", name),
            height_step=_number(fields, "zscale", name),
            type_code=_whole(fields, "datatype", name),
        ),
        name,
    )
    words = parts[1].split()
    if len(words) != header.points * header.profiles:
        raise FileFormatError(
            f"{name} holds {len(words)} heights; {header.points * header.profiles} are expected from its header. "
            "Save or send it again."
        )
    try:
        raw = np.array([np.nan if word.upper() in (b"BAD", b"NAN") else float(word) for word in words])
    except ValueError as fault:
        raise FileFormatError(f"{name}: a height is no number ({fault}). Save it again.") from fault
    return header, raw, parts[2][:4096].decode("latin-1")


def _without_bad(raw: NDArray[Any]) -> NDArray[np.float64]:
    """Raw numbers with NaN where the smallest number of the type marks a bad point."""
    bad = np.finfo(raw.dtype).min if raw.dtype.kind == "f" else np.iinfo(raw.dtype.name).min
    return np.where(raw == bad, np.nan, raw.astype(np.float64))


def _checked(header: _Header, name: str) -> _Header:
    need_points(name, header.points, header.profiles)
    if header.type_code not in _TYPES:
        raise FileFormatError(f"{name} states the number type {header.type_code}; 3 to 7 are expected. Save it again.")
    steps = {"Xscale": header.step_x, "Zscale": header.height_step}
    if header.profiles > 1:
        steps["Yscale"] = header.step_y
    for field, step in steps.items():
        if not (np.isfinite(step) and step > 0.0):
            raise FileFormatError(f"{name}: {field} is {step:g}; a step above zero is expected. Save it again.")
    return header


def _number(fields: dict[str, str], field: str, name: str) -> float:
    if field not in fields:
        raise FileFormatError(f"{name} has no field {field!r} in its header; an SDF file does. Save it again.")
    try:
        return float(fields[field])
    except ValueError as fault:
        raise FileFormatError(
            f"{name}: {field} is {fields[field][:40]!r}; a number is expected. Save it again."
        ) from fault


def _whole(fields: dict[str, str], field: str, name: str) -> int:
    value = _number(fields, field, name)
    if not (value.is_integer() and abs(value) < 1e15):
        raise FileFormatError(f"{name}: {field} is {value:g}; a whole number is expected. Save it again.")
    return int(value)


def _as_binary(
    grid: NDArray[np.float64], *, steps: tuple[float, float], version: str, stamp: str, trailer: str
) -> bytes:
    head = b"b" + version.encode() + b"lapwright " + stamp.encode() * 2
    counts = struct.pack("<" + _COUNTS[version.encode()], grid.shape[1], grid.shape[0])
    rest = struct.pack("<ddddBBB", steps[1], steps[0], 1.0, -1.0, 0, _DOUBLE, 0)
    heights = np.where(np.isnan(grid), np.finfo(np.float64).min, grid).astype("<f8").tobytes()
    return head + counts + rest + heights + trailer.encode()


def _as_text(grid: NDArray[np.float64], *, steps: tuple[float, float], version: str, stamp: str, trailer: str) -> bytes:
    head = [
        "a" + version, "ManufacID = lapwright", f"CreateDate = {stamp}", f"ModDate = {stamp}",
        f"NumPoints = {grid.shape[1]}", f"NumProfiles = {grid.shape[0]}", f"Xscale = {float(steps[1])!r}",
        f"Yscale = {float(steps[0])!r}", "Zscale = 1.0", "Zresolution = -1.0", "Compression = 0",
        f"DataType = {_DOUBLE}", "CheckType = 0", "*",
    ]  # fmt: skip
    rows = [" ".join("BAD" if value != value else repr(value) for value in row) for row in grid.tolist()]  # noqa: PLR0124
    return "\r\n".join([*head, *rows, "*", trailer + "*", ""]).encode()
