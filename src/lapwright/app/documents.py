"""Use cases: files kept with an order, in the data folder under their SHA-256."""

from __future__ import annotations

import errno
import hashlib
import logging
import os
import re
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from lapwright.errors import BadInput, Fault, RecordError
from lapwright.model.job import DocumentKind, RecordedDocument
from lapwright.model.readings import Signature

LOG = logging.getLogger("lapwright.app")
FOLDER = "documents"
MOST_BYTES = 50 * 1024 * 1024  # a large photograph; common practice, no source
_UNFIT = re.compile(r"[^\w.() +-]+")


def store_document(
    order_id: str,
    name: str,
    content: bytes,
    *,
    kind: DocumentKind = "other",
    wafer_id: str | None = None,
    by: str,
    reason: str,
    at: datetime,
) -> RecordedDocument:
    """Keep a file with an order: written to the data folder under its SHA-256, then recorded.

    Raises `BadInput` for an empty or too large file, `RecordError` when the folder cannot be written.
    """
    from lapwright.records import writer
    from lapwright.records.writer.outcome import NewDocument

    if not 0 < len(content) <= MOST_BYTES:
        limit = MOST_BYTES // 1024 // 1024
        sentence = f"The file {name!r} holds {len(content)} bytes; expected 1 byte to {limit} MB. Send a smaller one."
        raise BadInput([Fault(sentence=sentence, field="content")])
    fit_name = _UNFIT.sub("_", Path(name).name).strip(". ")[:150] or "file"
    sha256 = hashlib.sha256(content).hexdigest()
    path = Path(FOLDER) / sha256[:2] / sha256
    _write(path, content)
    new = NewDocument(
        kind=kind, order_id=order_id, wafer_id=wafer_id, name=fit_name, path=path.as_posix(), sha256=sha256,
        size=len(content),
    )  # fmt: skip
    return writer.add_document(new, Signature(by=by, at=at, reason=reason))


def show_document(document_id: int) -> RecordedDocument:
    """One kept file. Raises `NotFound`."""
    from lapwright.records import queries

    return queries.document(document_id)


def not_kept(error: OSError) -> RecordError:
    """What to say of a file that could not be written; where it was to lie stands in the log and on no page."""
    LOG.error("A file cannot be kept: %s", error)
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return RecordError("The disk is full; nothing of this was recorded. Make room and try again.")
    return RecordError(
        "The data folder cannot be written, so the file is not kept and nothing of this was recorded."
        " Check its permissions and try again."
    )


def document_path(document_id: int) -> Path:
    """Where a kept file lies; checked against its SHA-256. Raises `NotFound`, `RecordError` when it was altered."""
    return checked_path(show_document(document_id))


def checked_path(recorded: RecordedDocument) -> Path:
    """The same for a file already looked up. Raises `RecordError` when it was altered."""
    path = _folder() / recorded.path
    try:
        found = _digest(path)
    except OSError as error:
        raise RecordError(
            f"The kept file {recorded.name!r} cannot be read at {recorded.path}: {error.strerror}."
            " Restore it from a backup."
        ) from error
    if found != recorded.sha256:
        raise RecordError(
            f"The kept file {recorded.name!r} at {recorded.path} is not the one that was recorded: its SHA-256 differs."
            " Restore it from a backup."
        )
    return path


# ----------------------------------------------------------------------------------------------------------------------


def _folder() -> Path:
    from lapwright import records

    return records.current_settings().data


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _write(path: Path, content: bytes) -> None:
    """Write a file whole: under another name first, on the disk, then renamed; over a copy that is damaged, too."""
    target = _folder() / path
    if target.exists() and _digest(target) == target.name:
        return
    part = target.with_suffix(f".{os.getpid()}.part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        part.replace(target)
    except OSError as error:
        with suppress(OSError):
            part.unlink()
        raise not_kept(error) from error
