"""Whole files in and out: a limit before anything is read, and a file that is either old or new, never half.

The limits keep a hostile or mistaken file from taking the computer down; they lie far above what instruments give.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

from lapwright.errors import FileFormatError

MOST_FILE_BYTES = 512 * 2**20
MOST_POINTS = 50_000_000  # heights of a profile or map
MOST_PIXELS = 80_000_000  # of a picture


def bounded_bytes(path: Path, *, most: int = MOST_FILE_BYTES) -> bytes:
    """The content of a regular file that is not empty and not too large.

    Raises `FileFormatError` otherwise, and when there is no such file or it cannot be read.
    """
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise FileFormatError(f"{str(path)!r} is no file but a folder or a device; give the name of a file.")
        need_small(path.name, status.st_size, most=most)
        with path.open("rb") as stream:
            content = stream.read(most + 1)
    except FileNotFoundError as fault:
        raise FileFormatError(f"There is no file {str(path)!r}; check the name and the folder.") from fault
    except (OSError, ValueError) as fault:  # ValueError: a zero byte in the name
        why = getattr(fault, "strerror", None) or fault
        raise FileFormatError(f"{str(path)!r} cannot be read: {why}. Give a readable file.") from fault
    need_small(path.name, len(content), most=most)
    if not content:
        raise FileFormatError(f"{path.name} is empty; save or send it again.")
    return content


def need_small(name: str, size: int, *, most: int) -> None:
    """Refuse a size above a limit."""
    if size > most:
        raise FileFormatError(
            f"{name} holds {size / 2**20:.0f} MiB; at most {most / 2**20:.0f} are read. Take a smaller part of it."
        )


def need_points(name: str, *counts: int, most: int = MOST_POINTS) -> int:
    """The product of counts that a file states, refused when one is below 1 or the product is absurd."""
    total = 1
    for count in counts:
        if count < 1:
            raise FileFormatError(f"{name} states a size of {count} points; at least 1 is expected. Save it again.")
        total *= count
    if total > most:
        stated = " × ".join(f"{count:.4g}" if count >= 10**9 else str(count) for count in counts)
        raise FileFormatError(f"{name} states {stated} points; at most {most} are read. Take a smaller part of it.")
    return total


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that a stop half-way leaves the old one; `FileFormatError` when it cannot be written."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        beside.write_bytes(content)
        beside.replace(path)
    except (OSError, ValueError) as fault:
        beside.unlink(missing_ok=True)
        why = getattr(fault, "strerror", None) or fault
        raise FileFormatError(f"{str(path)!r} cannot be written: {why}. Give another name or folder.") from fault
