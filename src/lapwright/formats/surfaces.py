"""Surface files of every kind: told apart by what they hold when read, by their ending when written."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from lapwright.errors import FileFormatError
from lapwright.formats import map_csv, profile_csv, sdf, x3p
from lapwright.formats.file_bytes import bounded_bytes, write_whole
from lapwright.formats.images import picture_kind
from lapwright.formats.surface_text import text_table
from lapwright.model.surface import HeightProfile, Surface

ENDINGS = (".x3p", ".sdf", ".csv", ".txt")


def read_surface(path: Path) -> Surface:
    """The profile or map in an X3P, SDF or text file.

    Raises `FileFormatError` for a file that is damaged or of another kind, `BadInput` with all faulty cells.
    """
    return surface_from_bytes(bounded_bytes(path), name=path.name)


def surface_from_bytes(content: bytes, *, name: str) -> Surface:
    """The profile or map in the content of a file; raises as `read_surface`."""
    if content.startswith(b"PK"):
        return x3p.x3p_surface(content, name=name)
    if content.startswith(sdf.STARTS):
        return sdf.sdf_surface(content, name=name)
    kind = picture_kind(content)
    if kind is not None:
        raise FileFormatError(
            f"{name} is a {kind} picture; a profile or a map of heights is expected. Turn fringes into a map with "
            "'lapwright fringes'."
        )
    table = text_table(content, name=name)
    if map_csv.is_grid(table) or map_csv.is_list(table):
        return map_csv.map_from_table(table)
    if profile_csv.is_profile(table):
        return profile_csv.profile_from_table(table)
    raise FileFormatError(
        f"{name} has the header {', '.join(table.header)[:80]!r}; expected x_mm,z_nm for a profile or x_mm,y_mm,z_um "
        "for a map, in any unit of length. Mend the header."
    )


def write_surface(path: Path, surface: Surface, *, at: datetime, about: str = "") -> None:
    """Write a profile or map as X3P, SDF or text, by the ending of the name; `at` is when it was measured.

    Raises `FileFormatError` for an ending that is none of these, or when the file cannot be written.
    """
    ending = path.suffix.lower()
    if ending == ".x3p":
        content = x3p.x3p_bytes(surface, at=at, about=about)
    elif ending == ".sdf":
        content = sdf.sdf_bytes(surface, at=at)
    elif ending in (".csv", ".txt"):
        content = _text(surface).encode("utf-8")
    else:
        raise FileFormatError(
            f"{path.name!r} ends in none of {', '.join(ENDINGS)}; give the file one of these endings."
        )
    write_whole(path, content)


# ----------------------------------------------------------------------------------------------------------------------


def _text(surface: Surface) -> str:
    if isinstance(surface, HeightProfile):
        return profile_csv.profile_text(surface)
    return map_csv.map_grid_text(surface)
