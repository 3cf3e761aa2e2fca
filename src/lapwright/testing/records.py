"""A database for tests: started once in a process, put back to empty before each test that writes."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from lapwright.settings import FILE_NAME, Settings, read_settings

#: Address of a database to test on instead of a SQLite file of our own.
VARIABLE = "LAPWRIGHT_TEST_DATABASE"


def start_records(folder: Path) -> Settings:
    """Start the program on an empty database in a folder; a copy of the empty SQLite file is kept beside it."""
    from lapwright.app import wiring

    address = os.environ.get(VARIABLE)
    (folder / FILE_NAME).write_text('laboratory = "Auwald Photonics"\n', encoding="utf-8")
    settings = read_settings({"data": folder, "database": address}, environ={})
    wiring.start(settings)
    if address is None:
        close_records()
        shutil.copyfile(_file(settings), _empty(settings))
    return settings


def empty_records(settings: Settings) -> None:
    """Put the database back to how it was after the start."""
    from django.db import connection

    from lapwright.app import kept_results
    from lapwright.records import chain, chain_adoption, kept

    kept.forget()
    kept_results.forget()
    (settings.data / chain.ANCHOR_FILE).unlink(missing_ok=True)
    if connection.vendor == "sqlite":
        close_records()
        for tail in ("-wal", "-shm"):
            Path(f"{_file(settings)}{tail}").unlink(missing_ok=True)
        shutil.copyfile(_empty(settings), _file(settings))
        chain.look_up_first()
        return
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


def _file(settings: Settings) -> Path:
    return settings.data / "lapwright.sqlite3"


def _empty(settings: Settings) -> Path:
    return settings.data / "empty.sqlite3"
