"""The audit chain: each transaction that writes leaves one link, bound by its digest to the link before.

Rows are noted as they are written; the link is written last, in the same transaction, so that a row and its place in
the chain are there together or not at all. Transactions take their turn for it: on SQLite because one writes at a
time, on PostgreSQL by a lock held until the end of the transaction.

After the transaction the number and digest of the link are added to a file in the data folder, outside the database:
an anchor. Without it somebody could take the last rows out together with their links and leave a chain that holds.
"""

from __future__ import annotations

import hashlib
import json
import logging
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import connection, transaction
from django.db.models import Model

from lapwright.records import looking, sent_forms
from lapwright.records.chain_form import Form, digest_of, name_of

LOG = logging.getLogger("lapwright.records")

ANCHOR_FILE = "chain-anchors"
PROGRAM = "program"
GENESIS = "0" * 64  # what the first link is bound to
LOCK_NUMBER = 0x6C617068  # beside the one of the upgrade; ours alone in that database


@dataclass(slots=True)
class _Batch:
    rows: dict[tuple[str, int], str] = field(default_factory=dict)
    dropped: list[str] = field(default_factory=list)
    by: str | None = None
    reason: str = ""


_noting = threading.local()
_known = {"first": ""}


@contextmanager
def linked() -> Iterator[None]:
    """All rows noted inside become one link, written at the end. For the outermost transaction alone."""
    before = getattr(_noting, "batch", None)
    batch = _noting.batch = _Batch()
    try:
        yield
        if batch.rows:
            sent_forms.keep_with_deed()
            lines = [f"row {table} {key} {digest}" for (table, key), digest in batch.rows.items()] + batch.dropped
            add_link(lines, by=batch.by or PROGRAM, reason=batch.reason)
    finally:
        _noting.batch = before


def is_noting() -> bool:
    """Whether this thread is inside a transaction whose rows are noted."""
    return getattr(_noting, "batch", None) is not None


def note(rows: Iterable[Model]) -> None:
    """Have rows, just written as they are here, hashed into the link of this transaction."""
    batch: _Batch = _noting.batch
    for row in rows:
        batch.rows[name_of(type(row)), row.pk] = digest_of(row)
        if batch.by is None and hasattr(row, "reason"):
            batch.by, batch.reason = row.by, row.reason  # type: ignore[attr-defined]


def note_dropped(rows: Iterable[Model]) -> None:
    """Have rows that go, each as it was, told in the link of this transaction."""
    batch: _Batch = _noting.batch
    batch.dropped += [f"drop {name_of(type(row))} {row.pk} {digest_of(row)}" for row in rows]


def add_link(lines: Iterable[str], *, by: str, reason: str) -> None:
    """A new last link, and its anchor once the transaction is on the disk. Inside a transaction."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LOCK_NUMBER])
    last = _links().objects.order_by("-number").values_list("number", "digest").first()
    number, previous = (last[0] + 1, last[1]) if last else (1, GENESIS)
    link = _links()(
        number=number, at=datetime.now(tz=UTC), by=by, reason=reason, content="\n".join(lines), previous=previous
    )
    link.digest = link_digest(link)
    link.save(force_insert=True)
    looking.wrote()
    digest = link.digest
    transaction.on_commit(lambda: _anchor(number, digest))


def form_line(form: Form) -> str:
    """How a form stands in a link."""
    return f"form {form.table} {' '.join(form.columns)}"


def link_digest(link: Any) -> str:
    """SHA-256 over all a link says, the digest of the link before among it."""
    said = [
        link.number,
        link.at.astimezone(UTC).isoformat(timespec="microseconds"),
        link.by,
        link.reason,
        link.content,
        link.previous,
    ]
    return hashlib.sha256(json.dumps(said, separators=(",", ":")).encode()).hexdigest()


def look_up_first() -> str:
    """The digest of the first link, by which the chain of this database is told from any other; "" without one."""
    _known["first"] = _links().objects.filter(number=1).values_list("digest", flat=True).first() or ""
    return _known["first"]


def anchor_file() -> Path:
    """The file of the anchors."""
    return Path(settings.RECORDS_FOLDER) / ANCHOR_FILE


# ----------------------------------------------------------------------------------------------------------------------


def _links() -> Any:
    """The table of the links, by its name: the tables note their rows here, so they cannot be imported."""
    return apps.get_model("records", "ChainLink")


def _anchor(number: int, digest: str) -> None:
    """One line more. The write it anchors is committed: a full disk here is told, and fails nothing."""
    try:
        with anchor_file().open("a", encoding="ascii") as file:
            file.write(f"{number} {digest} {(_known['first'] or look_up_first())[:16]}\n")
    except OSError as error:
        LOG.warning("The anchor of link %d cannot be kept in %s: %s", number, ANCHOR_FILE, error.strerror)
