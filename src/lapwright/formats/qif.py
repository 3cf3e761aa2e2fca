"""QIF results files (Quality Information Framework 3.0, ISO 23952:2020), written and read."""

from __future__ import annotations

from pathlib import Path

from lapwright.formats.file_bytes import bounded_bytes, write_whole
from lapwright.formats.inspection import Inspection
from lapwright.formats.qif_names import MOST_BYTES
from lapwright.formats.qif_read import inspection_from_bytes
from lapwright.formats.qif_write import qif_bytes

__all__ = ["inspection_from_bytes", "qif_bytes", "read_qif", "write_qif"]


def read_qif(path: Path) -> Inspection:
    """The results in a file.

    Raises `FileFormatError` for a file that is hostile, cut short or contradicts itself, or that holds a kind of
    characteristic that is not read.
    """
    return inspection_from_bytes(bounded_bytes(path, most=MOST_BYTES), name=path.name)


def write_qif(path: Path, inspection: Inspection) -> None:
    """Write results to a file, whole or not at all. Raises `BadInput`, `FileFormatError`."""
    write_whole(path, qif_bytes(inspection))
