"""Words passed on among the processes of one PostgreSQL database, by NOTIFY and LISTEN; nothing of it is stored.

SQLite has nothing like it: there the processes are on one machine, and speak over a socket of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import connection

from lapwright.errors import RecordError

CHANNEL = "lapwright_live"
MOST_BYTES = 7900  # of one word; PostgreSQL takes less than 8000 (its manual, NOTIFY)


def are_passed_on() -> bool:
    """Whether the database passes words on."""
    return bool(connection.vendor == "postgresql")


class Notices:
    """A connection of its own for sending or hearing words, made when needed and again when it broke.

    Both raise `RecordError` when the server is away.
    """

    def __init__(self) -> None:
        self._connection: Any = None

    def send(self, words: Sequence[str]) -> None:
        """Tell every process that listens."""
        import psycopg

        try:
            self._open().execute("SELECT pg_notify(%s, word) FROM unnest(%s::text[]) AS word", (CHANNEL, list(words)))
        except psycopg.Error as error:
            self._fail(error)

    def hear(self, seconds: float) -> list[str]:
        """What was told since the last time, waiting for it no longer than so many seconds."""
        import psycopg

        try:
            return [notice.payload for notice in self._open(listening=True).notifies(timeout=seconds, stop_after=1)]
        except psycopg.Error as error:
            self._fail(error)
        return []

    def close(self) -> None:
        """Let go of the connection."""
        if self._connection is not None:
            self._connection.close()
        self._connection = None

    # ------------------------------------------------------------------------------------------------------------------

    def _open(self, *, listening: bool = False) -> Any:
        import psycopg

        if self._connection is None:
            described = connection.get_connection_params()
            described.pop("pool", None)
            self._connection = psycopg.connect(**described, autocommit=True)
            if listening:
                self._connection.execute(f"LISTEN {CHANNEL}")
        return self._connection

    def _fail(self, error: Exception) -> None:
        self.close()
        raise RecordError(f"The database server passes no words on: {error}.") from error
