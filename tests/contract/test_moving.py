"""Records moved from SQLite into a real PostgreSQL: every row, all or nothing; counted by the databases themselves."""

import json
import os
import sqlite3
import subprocess
import sys
from contextlib import closing

import pytest

from lapwright.app import moving, orders
from lapwright.errors import Conflict, RecordError, SettingError
from lapwright.testing.lot import flat
from lapwright.testing.postgresql import new_database

psycopg = pytest.importorskip("psycopg")

#: A second process on the moved records: writes a row, and looks whether all holds.
GO_ON = """
import json, sys
from datetime import UTC, datetime
from lapwright.app import orders, wiring
from lapwright.app.verification import verify_records
from lapwright.settings import read_settings
wiring.start(read_settings())
orders.add_note("AP-1", "written after the move", by="local", reason="", at=datetime.now(UTC))
report = verify_records()
print(json.dumps([report.holds, report.links, [fault.sentence for fault in report.faults]]))
"""


@pytest.fixture
def shop(lot, records):
    """A wafer read in, and a note with a quotation mark, a newline and a µ."""
    if not records.database_url.startswith("sqlite"):
        pytest.skip("the records are in PostgreSQL already")
    lot.read("AP-1-01", "wafer", "incoming", flat(500e-6), repeats=1)
    orders.add_note("AP-1", 'said "5 µm"\n\tand\\no more', **lot.why())
    return lot


def counts_in(execute):
    """Rows of each table, by what the database itself says."""
    from django.apps import apps

    tables = [model._meta.db_table for model in apps.get_app_config("records").get_models(include_auto_created=True)]
    return {table: execute(f'SELECT count(*) FROM "{table}"').fetchone()[0] for table in tables}


def test_every_row_arrives_and_the_records_go_on_there(shop, records, postgresql_server, tmp_path):
    """Counts and bit-equal values asked of both databases past the program; a second process writes on, and all holds."""
    address = new_database(postgresql_server, "whole")
    moved = moving.move_records(address)

    with closing(sqlite3.connect(records.data / "lapwright.sqlite3")) as here, psycopg.connect(address) as there:
        counts = counts_in(here.execute)
        assert counts_in(there.execute) == counts
        for question in (
            'SELECT id, "text", value_m, x_m, y_m FROM records_reading ORDER BY id',
            "SELECT id, text, by, reason FROM records_note ORDER BY id",
            "SELECT number, digest, content FROM records_chainlink ORDER BY number",
        ):
            assert there.execute(question).fetchall() == here.execute(question).fetchall()
    assert {one.table: one.rows for one in moved.tables} == counts
    assert (moved.chain.holds, moved.rows) == (True, sum(counts.values()))

    environment = {**os.environ, "LAPWRIGHT_DATA": str(records.data), "LAPWRIGHT_DATABASE": address}
    done = subprocess.run([sys.executable, "-c", GO_ON], env=environment, capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == [True, moved.chain.links + 1, []]
    with pytest.raises(Conflict, match="not empty"):
        moving.move_records(address)
    _back_up(address, environment, tmp_path)
    del shop


def _back_up(address, environment, folder):
    """Out of one snapshot: a write that is not committed is not in it, nor holds it up; restored, all of it holds."""
    with psycopg.connect(address) as there:
        before = counts_in(there.execute)
        there.execute(
            'INSERT INTO records_note ("by", reason, at, kind, text, order_id)'
            " SELECT \"by\", reason, at, kind, 'not committed', order_id FROM records_note LIMIT 1"
        )
        made = _answer(environment, "backup", "--to", str(folder), "--no-trial")
        there.rollback()
    bare = {name: value for name, value in environment.items() if not name.startswith("LAPWRIGHT_")}
    restored = _answer(bare, "restore", made["backup"], "--data", str(folder / "new"))
    assert (restored["chain"]["holds"], restored["chain"]["last_digest"]) == (True, made["last_digest"])
    with closing(sqlite3.connect(folder / "new" / "lapwright.sqlite3")) as copy:
        assert counts_in(copy.execute) == before


def _answer(environment, *words):
    command = [sys.executable, "-m", "lapwright", *words, "--json"]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)["result"]


def test_a_database_of_somebody_else_is_refused(shop, postgresql_server):
    """A table that is not ours is named, and nothing is put beside it."""
    strange = new_database(postgresql_server, "strange")
    with psycopg.connect(strange) as there:
        there.execute("CREATE TABLE of_somebody_else (id int)")
    with pytest.raises(Conflict, match="not ours: of_somebody_else"):
        moving.move_records(strange)
    del shop


def test_a_move_that_fails_leaves_nothing(shop, postgresql_server, monkeypatch):
    """A table that did not arrive as it was sent: told by name, and there is not even an empty table."""
    from dataclasses import replace

    from lapwright.records import copying

    true_told = copying.told

    def told(model, alias):
        found = true_told(model, alias)
        return replace(found, sha256="0" * 64) if found.table == "records_run" else found

    monkeypatch.setattr(copying, "told", told)
    address = new_database(postgresql_server, "broken")
    with pytest.raises(RecordError, match="records_run did not arrive"):
        moving.move_records(address)
    with psycopg.connect(address) as there:
        assert there.execute("SELECT count(*) FROM pg_tables WHERE schemaname = 'public'").fetchone() == (0,)
    del shop


def test_what_cannot_be_moved_is_refused_before_anything_is_asked(shop, records):
    """No address, the same database, a server that is not there."""
    with pytest.raises(SettingError, match="no address"):
        moving.move_records("elsewhere")
    with pytest.raises(SettingError, match="already"):
        moving.move_records(records.database_url)
    with pytest.raises(RecordError, match="does not answer"):
        moving.move_records("postgresql://nobody@127.0.0.1:9/nothing")
    del shop


def test_a_run_that_goes_on_is_not_torn(shop, postgresql_server):
    """The recorder would lose its database in mid-run."""
    from lapwright.model.readings import Signature
    from lapwright.records import models, writer
    from lapwright.records.writer.streams import NewStream

    why = shop.why()
    wafer, station = models.Wafer.objects.get(wafer_id="AP-1-01"), models.Station.objects.get(station_id="L1")
    route = models.Route.objects.create(order=wafer.order, plan={}, **why)
    stage = models.Stage.objects.create(wafer=wafer, route=route, number=1, planned={}, state="running", **why)
    run = models.Run.objects.create(stage=stage, wafer=wafer, station=station, **why)
    new = NewStream(run_id=run.pk, feed=None, target=None, time=None, zero=0.0, rate=None)
    writer.begin_stream(new, Signature(**why))
    with pytest.raises(Conflict, match="A run is going"):
        moving.move_records(postgresql_server)
