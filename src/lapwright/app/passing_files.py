"""Files in the data folder that are no records and may go: each written whole or not at all, the oldest make room."""

from __future__ import annotations

import math
from contextlib import suppress
from pathlib import Path


def keep(folder: Path, name: str, content: bytes, *, most_held: int, oldest_s: float = -math.inf) -> None:
    """Write a file under a name; then what was written before a time [s since 1970] goes, and what is too much.

    Raises `OSError` when the folder cannot be written; then nothing of the file is left behind.
    """
    part = folder / f"{name}.part"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        part.write_bytes(content)
        part.replace(folder / name)
        _make_room(folder, most_held, oldest_s)
    except OSError:
        with suppress(OSError):
            part.unlink()
        raise


# ----------------------------------------------------------------------------------------------------------------------


def _make_room(folder: Path, most_held: int, oldest_s: float) -> None:
    held = sorted(((path.stat().st_mtime, path.stat().st_size, path) for path in folder.iterdir()), reverse=True)
    total = 0
    for written, size, path in held:
        total += size
        if written < oldest_s or total > most_held:
            path.unlink(missing_ok=True)
