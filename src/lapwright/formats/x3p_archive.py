"""The outside of an X3P file: a zip archive whose parts are read into memory, bounded, and never unpacked to disk."""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from typing import Self

from lapwright.errors import FileFormatError

MOST_PARTS = 1_000
MOST_DOCUMENT_BYTES = 64 * 2**20
_STAMP = (1980, 1, 1, 0, 0, 0)  # the same bytes for the same surface
_DIGEST = re.compile(rb"^\s*([0-9a-fA-F]{32})\b")


class Archive:
    """A zip archive that has been looked over: names that stay inside, a bounded number of parts, none enciphered."""

    def __init__(self, content: bytes, name: str) -> None:
        self.name = name
        try:
            self._zip = zipfile.ZipFile(io.BytesIO(content))
            parts = self._zip.infolist()
        except Exception as fault:  # the zip reader raises whatever broken bytes lead it to
            raise self._damaged(fault) from fault
        if len(parts) > MOST_PARTS:
            raise FileFormatError(f"{name} holds {len(parts)} parts; an X3P file has a handful. It is not read.")
        for part in parts:
            self._need_inside(part.filename)
            if part.flag_bits & 1:
                raise FileFormatError(f"{name} is enciphered; save it without a password.")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._zip.close()

    def document(self, part: str) -> bytes:
        """A text part of unknown length."""
        return self._part(part, most=MOST_DOCUMENT_BYTES)

    def numbers(self, part: str, *, size: int) -> bytes:
        """A part that must have exactly so many bytes."""
        self._need_inside(part)
        content = self._part(part, most=size)
        if len(content) != size:
            raise FileFormatError(
                f"{self.name}: {part[:60]} holds {len(content)} bytes; {size} are expected from the size stated. "
                "Save or send it again."
            )
        return content

    def stated_digest(self, part: str) -> str | None:
        """The MD5 sum that a part holds; None when there is no such part or it holds none."""
        if part not in self._zip.namelist():
            return None
        found = _DIGEST.match(self._part(part, most=4096))
        return found[1].decode().lower() if found else None

    def need_digest(self, content: bytes, digest: str | None, part: str) -> None:
        """Refuse a part that is not the one its sum was made of; nothing is asked of a part without a sum."""
        if digest and digest.strip().lower() != md5_of(content):
            raise FileFormatError(
                f"{self.name}: {part} does not match its checksum, so it was changed or damaged after it was written. "
                "Send it again."
            )

    def _part(self, part: str, *, most: int) -> bytes:
        if part not in self._zip.namelist():
            raise FileFormatError(f"{self.name} holds no {part[:60]!r}; an X3P file does. Save it again.")
        try:
            with self._zip.open(part) as stream:  # what the directory says of its size is not believed
                content = stream.read(most + 1)
        except Exception as fault:  # the zip reader raises whatever broken bytes lead it to
            raise self._damaged(fault) from fault
        if len(content) > most:
            raise FileFormatError(f"{self.name}: {part[:60]} unpacks to more than the {most} bytes expected of it.")
        return content

    def _need_inside(self, part: str) -> None:
        plain = part.replace("\\", "/")
        if plain.startswith("/") or ".." in plain.split("/") or ":" in plain or "\x00" in plain:
            raise FileFormatError(f"{self.name} names a part outside itself ({part[:60]!r}); it is not read.")

    def _damaged(self, fault: Exception) -> FileFormatError:
        why = str(fault).strip().rstrip(".") or type(fault).__name__
        return FileFormatError(
            f"{self.name} is cut short, damaged or no X3P file ({why[:120]}). Save or send it again."
        )


def archive_of(parts: dict[str, bytes]) -> bytes:
    """A zip archive of parts in their order; the same parts give the same bytes."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", compression=zipfile.ZIP_DEFLATED, compresslevel=6) as packed:
        for part, content in parts.items():
            about = zipfile.ZipInfo(part, date_time=_STAMP)
            about.compress_type = zipfile.ZIP_DEFLATED
            about.external_attr = 0o644 << 16
            packed.writestr(about, content)
    return stream.getvalue()


def md5_of(content: bytes) -> str:
    """The MD5 sum that the standard asks for; it finds damage, not forgery."""
    return hashlib.md5(content, usedforsecurity=False).hexdigest()
