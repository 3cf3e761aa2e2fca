"""Texts that are dear to work out, kept as files in the data folder and worked out again where they are not there.

They are no records and in no backup. Each lies under the SHA-256 of all that it follows from, the code of the program
among it; so a text is never shown that another version of the program, or another file, would give otherwise.
"""

from __future__ import annotations

import gzip
import hashlib
import logging
import os
import zlib
from collections.abc import Callable, Sequence
from functools import lru_cache
from pathlib import Path

import lapwright
from lapwright.app import passing_files

FOLDER = "worked-out"
MOST_HELD = 400 * 1024 * 1024
_LOG = logging.getLogger(__name__)


def kept_text(follows_from: Sequence[str], compute: Callable[[], str]) -> str:
    """The text that follows from all that is named; as kept, else as computed now and kept.

    A disk that is full or damaged costs only the time to work it out again.
    """
    name = hashlib.sha256("\0".join((_program(), *follows_from)).encode()).hexdigest()
    path = _folder() / name
    try:
        told = _unpacked(path.read_bytes())
        os.utime(path)  # what is looked at stays longest
    except (OSError, EOFError, zlib.error, UnicodeDecodeError):
        told = compute()
        try:
            passing_files.keep(_folder(), name, gzip.compress(told.encode(), 6), most_held=MOST_HELD)
        except OSError as error:
            _LOG.warning("not kept: %s", error)
    return told


# ----------------------------------------------------------------------------------------------------------------------


def _unpacked(content: bytes) -> str:
    if not content:
        raise EOFError("a file of no bytes, which unpacks to no text")
    return gzip.decompress(content).decode()


def _folder() -> Path:
    from lapwright import records

    return records.current_settings().data / FOLDER


@lru_cache(maxsize=1)
def _program() -> str:
    """What tells this program, as it is installed, from any other: its files, their sizes and times."""
    root = Path(lapwright.__file__).parent
    files = sorted(path for path in root.rglob("*") if "__pycache__" not in path.parts and path.is_file())
    told = (f"{path.relative_to(root)} {path.stat().st_size} {path.stat().st_mtime_ns}" for path in files)
    return hashlib.sha256("\n".join(told).encode()).hexdigest()
