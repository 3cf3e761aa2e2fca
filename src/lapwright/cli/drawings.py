"""Drawings written by commands."""

from __future__ import annotations

from pathlib import Path


def write_drawing(path: Path, svg: str) -> None:
    """Write a drawing. Raises `FileFormatError` when the place cannot be written."""
    from lapwright.errors import FileFormatError

    try:
        path.write_text(svg, encoding="utf-8")
    except OSError as fault:
        raise FileFormatError(f"{str(path)!r} cannot be written: {fault.strerror}. Give another place.") from fault
