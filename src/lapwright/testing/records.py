"""A database for tests: started once in a process, put back to empty before each test that writes."""

from __future__ import annotations

import hashlib
import os
import shutil
from pathlib import Path
from typing import Any

from lapwright.settings import FILE_NAME, Settings, read_settings
from lapwright.testing.empty import lay_empty_database

_EMPTY = "empty"
#: Address of a database to test on instead of a SQLite file of our own.
VARIABLE = "LAPWRIGHT_TEST_DATABASE"


def start_records(folder: Path, *, is_lasting: bool = True) -> Settings:
    """Start the program on an empty database in a folder; a copy of an empty SQLite file is kept beside it.

    Records that are not lasting need survive no loss of power: no commit waits for the disk.
    """
    from lapwright.app import wiring

    address = os.environ.get(VARIABLE)
    (folder / FILE_NAME).write_text('laboratory = "Auwald Photonics"\n', encoding="utf-8")
    settings = read_settings({"data": folder, "database": address}, environ={})
    if address is None:
        lay_empty_database(folder)
    if not is_lasting:
        _spare_the_disk()
    wiring.start(settings)
    if address is None:
        keep_records(settings, _EMPTY)
    return settings


def keep_records(settings: Settings, name: str) -> None:
    """Keep what is on record now under a name, to be brought back; a SQLite file alone."""
    close_records()
    for path in (_file(settings), _anchors(settings)):
        if path.exists():
            shutil.copyfile(path, _kept(path, name))


def bring_back(settings: Settings, name: str) -> bool:
    """Put the records back to what was kept under a name; whether there is such."""
    from lapwright.records import chain

    file, anchors = _file(settings), _anchors(settings)
    if not _kept(file, name).exists():
        return False
    _forget(settings)
    close_records()
    for tail in ("-wal", "-shm"):
        Path(f"{file}{tail}").unlink(missing_ok=True)
    for path in (file, anchors):
        if _kept(path, name).exists():
            shutil.copyfile(_kept(path, name), path)
    chain.look_up_first()
    return True


def kept_files(settings: Settings, name: str) -> tuple[Path, Path]:
    """The files that hold what is kept under a name; the second, of the anchors, may be missing."""
    return _kept(_file(settings), name), _kept(_anchors(settings), name)


def forget_records(settings: Settings, name: str) -> None:
    """Keep what was kept under a name no longer."""
    for path in kept_files(settings, name):
        path.unlink(missing_ok=True)


def records_digest() -> str:
    """A digest over all rows that the audit chain tells of, whenever its links were made."""
    from django.db import connection

    digest = hashlib.sha256()
    with connection.cursor() as cursor:
        cursor.execute("SELECT content FROM records_chainlink ORDER BY number")
        for (content,) in cursor.fetchall():
            digest.update(content.encode())
    return digest.hexdigest()


def empty_records(settings: Settings) -> None:
    """Put the database back to how it was after the start."""
    from django.db import connection

    from lapwright.records import chain_adoption

    if bring_back(settings, _EMPTY):
        return
    _forget(settings)
    names = [name for name in connection.introspection.table_names() if name.startswith("records_")]
    with connection.cursor() as cursor:
        cursor.execute(f"TRUNCATE {', '.join(names)} RESTART IDENTITY CASCADE")  # the triggers guard rows, not tables
        cursor.execute(
            "INSERT INTO records_person (username, password, is_superuser, first_name, last_name, email, is_staff,"
            " is_active, date_joined) VALUES ('local', '', false, '', '', '', false, true, now())"
        )
    chain_adoption.take_in()


def close_records() -> None:
    """Close the connections of this thread."""
    from django.db import connections

    connections.close_all()


# ----------------------------------------------------------------------------------------------------------------------


def _spare_the_disk() -> None:
    """No commit of a SQLite file waits for the disk, from the first connection on."""
    from django.db.backends.signals import connection_created

    def spare(*, connection: Any, **_: object) -> None:
        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                cursor.execute("PRAGMA synchronous = OFF")

    connection_created.connect(spare, weak=False)


def _forget(settings: Settings) -> None:
    """What is kept in memory and beside the database."""
    from lapwright.app import kept_results
    from lapwright.records import kept

    kept.forget()
    kept_results.forget()
    _anchors(settings).unlink(missing_ok=True)


def _file(settings: Settings) -> Path:
    return settings.data / "lapwright.sqlite3"


def _anchors(settings: Settings) -> Path:
    from lapwright.records import chain

    return settings.data / chain.ANCHOR_FILE


def _kept(path: Path, name: str) -> Path:
    return path.with_name(f"{name}-{path.name}")
