"""Connections to PostgreSQL that the threads of a serving process share."""

from __future__ import annotations

from django.db import connection, connections

MOST_CONNECTIONS = 10  # of one serving process; further requests wait their turn
SHARED_TIMEOUT = 4  # s that a request waits for its turn, or for a server that is away


def share_connections() -> None:
    """Have the threads of this process share a few open connections to PostgreSQL; SQLite opens a file in no time.

    Each request has a thread of its own, and a new connection costs more than most pages. The first one, of the
    start, is made without: so an address that is wrong is told at once and in the server's words.
    """
    if connection.vendor == "postgresql":
        connection.close()
        described = connections.settings["default"]
        described["CONN_MAX_AGE"] = 0  # given back after each request
        described["OPTIONS"]["pool"] = {"min_size": 1, "max_size": MOST_CONNECTIONS, "timeout": SHARED_TIMEOUT}
