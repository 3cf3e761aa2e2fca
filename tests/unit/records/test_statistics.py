"""SQLite is told to look at how its tables are filled, once they hold something."""

from __future__ import annotations

import pytest

from lapwright.records import statistics

pytestmark = pytest.mark.usefixtures("lot")


@pytest.fixture
def looked_at():
    """How many tables and indexes SQLite has looked at."""
    from django.db import connection

    def counted() -> int:
        with connection.cursor() as cursor:
            if not cursor.execute("SELECT 1 FROM sqlite_master WHERE name = 'sqlite_stat1'").fetchone():
                return 0
            return cursor.execute("SELECT count(*) FROM sqlite_stat1").fetchone()[0]

    return counted


def test_a_small_laboratory_is_left_and_a_large_one_looked_at(looked_at, monkeypatch):
    """What is seen of ten rows would soon mislead."""
    assert (statistics.renew_statistics(), looked_at()) == (False, 0)
    monkeypatch.setattr(statistics, "LEAST_SIZE", 0)
    assert statistics.renew_statistics()
    assert looked_at() > 10


def test_a_database_that_is_being_written_is_left_as_it_is(looked_at, monkeypatch):
    """Another connection holds the right to write, as a long import does."""
    import sqlite3

    from django.db import connection

    monkeypatch.setattr(statistics, "LEAST_SIZE", 0)
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 10")
    other = sqlite3.connect(connection.settings_dict["NAME"])
    other.execute("BEGIN IMMEDIATE")
    try:
        assert (statistics.renew_statistics(), looked_at()) == (False, 0)
    finally:
        other.close()
        connection.close()
