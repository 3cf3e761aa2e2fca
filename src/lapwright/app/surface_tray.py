"""Use cases: files that somebody looks at before anything is recorded, so that a refusal or a new setting loses none.

They lie in the data folder under their SHA-256 and are no records; the oldest go when the tray is full or a week old.
"""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from lapwright.app import passing_files
from lapwright.app.documents import not_kept
from lapwright.app.surface_readings import MOST_BYTES
from lapwright.errors import BadInput, Fault, NotFound

FOLDER = "tray"
MOST_HELD = 600 * 1024 * 1024
KEPT_S = 7 * 24 * 3600.0
_MARK = re.compile(r"[0-9a-f]{64}")


def put_on_tray(name: str, content: bytes, *, now_s: float) -> str:
    """Keep a file for a while; gives the mark to take it up by. `now_s` is the time since 1970 in s.

    Raises `BadInput` for an empty or too large file, `RecordError` when the folder cannot be written.
    """
    if not 0 < len(content) <= MOST_BYTES:
        limit = MOST_BYTES // 1024 // 1024
        found = f"{len(content) / 1024 / 1024:.0f} MB" if content else "nothing"
        sentence = f"The file {Path(name).name!r} holds {found}; expected up to {limit} MB. Send a smaller one."
        raise BadInput([Fault(sentence=sentence, field="files")])
    mark = hashlib.sha256(content).hexdigest()
    try:
        passing_files.keep(_folder(), mark, content, most_held=MOST_HELD, oldest_s=now_s - KEPT_S)
    except OSError as error:
        raise not_kept(error) from error
    return mark


def take_from_tray(mark: str) -> bytes:
    """The file with a mark. Raises `NotFound` when it is not there (any more)."""
    path = _folder() / mark
    if _MARK.fullmatch(mark) is None or not path.is_file():
        raise NotFound("The file that was looked at is no longer kept. Choose it again.")
    content = path.read_bytes()
    if hashlib.sha256(content).hexdigest() != mark:
        raise NotFound("The file that was looked at has been changed on the disk meanwhile. Choose it again.")
    return content


# ----------------------------------------------------------------------------------------------------------------------


def _folder() -> Path:
    from lapwright import records

    return records.current_settings().data / FOLDER
