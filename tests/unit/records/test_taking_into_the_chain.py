"""A database written before there was a chain is taken in when it is opened. In a process of its own."""

import json
import sqlite3
import subprocess
import sys

import pytest

_BEFORE = """
import sys
from lapwright.records import chain, starting, upgrading
from lapwright.settings import read_settings
settings = read_settings({"data": sys.argv[1]}, environ={})
upgrading.bring_up_to_date = lambda settings: None
starting.start(settings)
from django.core.management import call_command
from django.db import connection
call_command("migrate", "records", "0008", verbosity=0)
call_command("migrate", "auth", verbosity=0)
with connection.cursor() as cursor:
    cursor.execute("INSERT INTO records_person (username, password, is_superuser, first_name, last_name, email, is_staff,"
                   " is_active, date_joined) VALUES ('local', '', 0, 'Ada', '', '', 0, 1, '2026-01-01 08:00:00')")
    cursor.execute("INSERT INTO records_order (by, reason, at, version, order_id, customer, material, quantity, due,"
                   " simulated, definition) VALUES ('local', 'came in', '2026-01-02 08:00:00.5', 1, 'AP-1', 'Fennbach',"
                   " 'LiTaO3', 1, '2026-02-01', 0, '{\\"b\\": 1.0, \\"a\\": [1e-06, null]}')")
    cursor.execute("INSERT INTO records_note (by, reason, at, kind, text, order_id)"
                   " VALUES ('local', '', '2026-01-03 08:00:00', 'note', 'handle with care', 1)")
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A data folder whose database ends at migration 0008, with a person, an order and a note."""
    path = tmp_path_factory.mktemp("before")
    subprocess.run([sys.executable, "-c", _BEFORE, str(path)], check=True, timeout=50)
    return path


def verified(folder):
    """What `lapwright verify` finds."""
    done = subprocess.run(
        [sys.executable, "-m", "lapwright", "verify", "--data", str(folder), "--json"],
        check=True, capture_output=True, text=True, timeout=50,
    )  # fmt: skip
    return json.loads(done.stdout)["result"]


def test_rows_from_before_the_chain_are_taken_in_and_guarded(folder):
    """Opened and verified: all rows are told of; altered afterwards, the row is found; opened again, it still is."""
    found = verified(folder)
    assert (found["holds"], found["faults"]) == (True, [])
    assert found["rows"] >= 3
    with sqlite3.connect(folder / "lapwright.sqlite3") as database:
        database.execute("DROP TRIGGER frozen_note_update")
        database.execute("UPDATE records_note SET text = 'do as you like'")
    database.close()
    for _ in range(2):
        assert [(one["kind"], one["table"]) for one in verified(folder)["faults"]] == [("altered", "note")]
