"""One state of the records as a SQLite file of its own, taken while others go on writing.

From SQLite page by page, from PostgreSQL row by row within one snapshot of the server's; a portion at a time either
way, however large the database is.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from django.db import connections, transaction

from lapwright.errors import RecordError
from lapwright.records import copying
from lapwright.records.copying import HERE, OTHER
from lapwright.records.faults import translated

PAGES = 1024  # copied at once; 4 MB


def snapshot_into(path: Path) -> None:
    """Write one state of the records into a new SQLite file, and have it on the disk.

    Raises `RecordError` when it cannot be read or written.
    """
    with translated():
        if connections[HERE].vendor == "sqlite":
            _copy_pages(Path(connections[HERE].settings_dict["NAME"]), path)
            return
        with copying.beside(f"sqlite:///{path}"), transaction.atomic(using=HERE), transaction.atomic(using=OTHER):
            with connections[HERE].cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            copying.make_tables()
            copying.copy_all(HERE, OTHER)
            connections[OTHER].check_constraints()
    _leave_one_file(path)


def last_link_in(path: Path) -> tuple[int, str]:
    """Number and digest of the last link in a SQLite file of records. Raises `RecordError` for another file."""
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as found:
            row = found.execute("SELECT number, digest FROM records_chainlink ORDER BY number DESC LIMIT 1").fetchone()
    except sqlite3.Error as error:
        raise RecordError(f"{path} holds no records that could be read: {error}.") from error
    return (int(row[0]), str(row[1])) if row else (0, "")


# ----------------------------------------------------------------------------------------------------------------------


def _copy_pages(source: Path, target: Path) -> None:
    """All pages as they are now: the read transaction keeps the state, so that writers need not wait nor disturb."""
    try:
        with closing(sqlite3.connect(source)) as ours, closing(sqlite3.connect(target)) as copy:
            ours.execute("BEGIN")
            ours.execute("SELECT count(*) FROM sqlite_master").fetchone()
            ours.backup(copy, pages=PAGES)
            ours.execute("ROLLBACK")
        _leave_one_file(target)
    except sqlite3.Error as error:
        raise RecordError(f"The database cannot be copied to {target}: {error}. Check room and permissions.") from error


def _leave_one_file(path: Path) -> None:
    with closing(sqlite3.connect(path)) as copy:
        copy.execute("PRAGMA journal_mode = DELETE")
