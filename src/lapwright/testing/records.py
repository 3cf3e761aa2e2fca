"""A database for tests: started once in a process, put back to empty before each test that writes.

What is kept is a copy: of a SQLite file beside it, of a PostgreSQL database on the same server.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from lapwright.settings import FILE_NAME, Settings, read_settings
from lapwright.testing.empty import lay_empty_database

_EMPTY = "empty"
_COPY = "STRATEGY FILE_COPY"  # twice as fast as by the log where nothing waits for the disk
#: Address of a database to test on instead of a SQLite file of our own.
VARIABLE = "LAPWRIGHT_TEST_DATABASE"


def start_records(folder: Path, *, is_lasting: bool = True) -> Settings:
    """Start the program on an empty database in a folder, and keep a copy of that.

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
    keep_records(settings, _EMPTY)
    return settings


def keep_records(settings: Settings, name: str) -> None:
    """Keep what is on record now under a name, to be brought back."""
    close_records()
    if _is_on_server(settings):
        work = _on_server(settings)
        _put(settings, f'CREATE DATABASE "{work}-{name}" TEMPLATE "{work}" {_COPY}')
        _on_servers.add((settings.database_url, name))
    for path in _files(settings):
        if path.exists():
            shutil.copyfile(path, _kept(path, name))


def can_keep(settings: Settings) -> bool:
    """Whether records can be kept: of a database on a server those alone that were started here, nobody else in it."""
    return not _is_on_server(settings) or _is_kept(settings, _EMPTY)


def bring_back(settings: Settings, name: str) -> bool:
    """Put the records back to what was kept under a name; whether there is such."""
    from lapwright.records import chain

    if not _is_kept(settings, name):
        return False
    _forget(settings)
    close_records()
    if _is_on_server(settings):
        work = _on_server(settings)
        fresh = f'CREATE DATABASE "{work}" TEMPLATE "{work}-{name}" {_COPY}'
        _put(settings, f'DROP DATABASE "{work}" WITH (FORCE)', fresh)
    else:
        for tail in ("-wal", "-shm"):
            Path(f"{_file(settings)}{tail}").unlink(missing_ok=True)
    for path in _files(settings):
        if _kept(path, name).exists():
            shutil.copyfile(_kept(path, name), path)
    chain.look_up_first()
    return True


def kept_files(settings: Settings, name: str) -> tuple[Path, Path]:
    """The files that hold what is kept under a name; the second, of the anchors, may be missing."""
    return _kept(_file(settings), name), _kept(_anchors(settings), name)


def forget_records(settings: Settings, name: str) -> None:
    """Keep what was kept under a name no longer."""
    if _is_on_server(settings):
        _on_servers.discard((settings.database_url, name))
        _put(settings, f'DROP DATABASE "{_on_server(settings)}-{name}"')
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
    assert bring_back(settings, _EMPTY)


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


#: Address and name of what is kept on servers.
_on_servers: set[tuple[str, str]] = set()


def _is_kept(settings: Settings, name: str) -> bool:
    if _is_on_server(settings):
        return (settings.database_url, name) in _on_servers
    return _kept(_file(settings), name).exists()


def _is_on_server(settings: Settings) -> bool:
    return settings.database_url.startswith("postgresql")


def _on_server(settings: Settings) -> str:
    """The name of the database on its server."""
    return urlsplit(settings.database_url).path.removeprefix("/")


def _put(settings: Settings, *statements: str) -> None:
    """Statements to the server, from a database that nobody works in."""
    import psycopg

    address = urlsplit(settings.database_url)._replace(path="/postgres").geturl()
    with psycopg.connect(address, autocommit=True) as connection:
        for statement in statements:
            connection.execute(statement)  # type: ignore[arg-type, unused-ignore]  # our own names


def _files(settings: Settings) -> list[Path]:
    """What is kept of the data folder."""
    return [_anchors(settings)] if _is_on_server(settings) else [_file(settings), _anchors(settings)]


def _file(settings: Settings) -> Path:
    return settings.data / "lapwright.sqlite3"


def _anchors(settings: Settings) -> Path:
    from lapwright.records import chain

    return settings.data / chain.ANCHOR_FILE


def _kept(path: Path, name: str) -> Path:
    return path.with_name(f"{name}-{path.name}")
