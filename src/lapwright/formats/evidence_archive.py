"""The archive of evidence: a ZIP file of named parts, each with its SHA-256 in `manifest.json`.

Read in memory and never unpacked to a disk. What an attacker could put into it is refused before it is read: names that
lead elsewhere, parts that are not in the manifest or stand in it twice, sizes beyond the limits, and parts that unpack
to more than they say. ZIP is ISO/IEC 21320-1; compression is deflate or none.
"""

from __future__ import annotations

import hashlib
import json
import re
import struct
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

from lapwright.errors import FileFormatError

FORMAT = "lapwright evidence 1"
MANIFEST = "manifest.json"
MOST_PARTS, MOST_PART, MOST_ALL = 5000, 200 * 1024 * 1024, 2 * 1024 * 1024 * 1024
MOST_MANIFEST = 5 * 1024 * 1024
_NAME = re.compile(r"[\w][\w.() +-]*(/[\w][\w.() +-]*)*")
_LONG_AGO = (2000, 1, 1, 0, 0, 0)  # the same archive is the same file whenever it is written


@dataclass(frozen=True, slots=True, kw_only=True)
class Archive:
    """What an archive holds: what its manifest says, and its parts by name."""

    told: Mapping[str, Any]
    parts: Mapping[str, bytes]


#: What the library raises for an archive that is none; ValueError: a name that is no text, a place before the start.
_NOT_SOUND = (
    OSError, zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError, KeyError, ValueError,
    struct.error,
)  # fmt: skip


def archive_bytes(told: Mapping[str, Any], parts: Mapping[str, bytes]) -> bytes:
    """An archive of parts; `told` goes into the manifest beside their SHA-256."""
    held = BytesIO()
    listed = {name: hashlib.sha256(content).hexdigest() for name, content in sorted(parts.items())}
    manifest = json.dumps({"format": FORMAT, **told, "parts": listed}, indent=1, ensure_ascii=False)
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in ((MANIFEST, manifest.encode()), *sorted(parts.items())):
            file.writestr(zipfile.ZipInfo(name, _LONG_AGO), content, zipfile.ZIP_DEFLATED)
    return held.getvalue()


def read_archive(path: Path) -> Archive:
    """The parts of an archive, each checked. Raises `FileFormatError` for a file that is none or not to be trusted."""
    try:
        with zipfile.ZipFile(path) as file:
            entries = _entries(file)
            told = _manifest(file, entries)
            listed: Mapping[str, str] = told["parts"]
            strays = sorted(set(entries) ^ {MANIFEST, *listed})
            if strays:
                raise FileFormatError(
                    f"The archive and its manifest do not hold the same parts: {', '.join(strays[:5])}."
                )
            parts = {name: _read(file, entries[name], MOST_PART) for name in listed}
    except _NOT_SOUND as error:
        raise FileFormatError(f"The archive {path.name} cannot be read: {error}. Ask for it again.") from error
    altered = sorted(name for name, content in parts.items() if hashlib.sha256(content).hexdigest() != listed[name])
    if altered:
        raise FileFormatError(f"Parts of the archive are not what its manifest says: {', '.join(altered[:5])}.")
    return Archive(told=told, parts=parts)


# ----------------------------------------------------------------------------------------------------------------------


def _entries(file: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
    """The entries by name, none of them suspicious by what the directory of the archive says."""
    infos = file.infolist()
    if len(infos) > MOST_PARTS:
        raise FileFormatError(f"The archive has {len(infos)} parts; expected at most {MOST_PARTS}.")
    entries: dict[str, zipfile.ZipInfo] = {}
    for info in infos:
        if not _NAME.fullmatch(info.filename) or ".." in info.filename:
            raise FileFormatError(f"A part of the archive is called {info.filename!r}; expected a plain name.")
        if info.filename in entries:
            raise FileFormatError(f"The archive holds the part {info.filename!r} twice.")
        if info.file_size > MOST_PART:
            limit = MOST_PART // 1024 // 1024
            raise FileFormatError(f"The part {info.filename!r} unpacks to more than {limit} MB.")
        entries[info.filename] = info
    if sum(info.file_size for info in infos) > MOST_ALL:
        raise FileFormatError(f"The archive unpacks to more than {MOST_ALL // 1024 // 1024} MB.")
    return entries


def _manifest(file: zipfile.ZipFile, entries: Mapping[str, zipfile.ZipInfo]) -> dict[str, Any]:
    if MANIFEST not in entries:
        raise FileFormatError(f"The archive has no {MANIFEST}; expected an archive of evidence.")
    try:
        told: dict[str, Any] = json.loads(_read(file, entries[MANIFEST], MOST_MANIFEST))
    except (ValueError, RecursionError) as error:
        raise FileFormatError(f"The {MANIFEST} of the archive is no JSON: {error}.") from error
    parts = told.get("parts") if isinstance(told, dict) else None
    if not isinstance(parts, dict) or told.get("format") != FORMAT:
        found = told.get("format") if isinstance(told, dict) else None
        raise FileFormatError(f"The archive is of the form {found!r}; expected {FORMAT!r}.")
    return told


def _read(file: zipfile.ZipFile, info: zipfile.ZipInfo, most: int) -> bytes:
    """The content of a part, no more of it than it says."""
    with file.open(info) as part:
        content = part.read(min(info.file_size, most) + 1)
    if len(content) > min(info.file_size, most):
        raise FileFormatError(f"The part {info.filename!r} unpacks to more than it says.")
    return content
