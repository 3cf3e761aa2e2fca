"""The audit chain finds what is done to the database behind the program's back; on SQLite, and on PostgreSQL.

SHA-256 is FIPS 180-4; a row's digest is checked against hashlib over the canonical text written out by hand.
"""

import hashlib
import json
import os

import pytest

from lapwright.app import orders
from lapwright.app.verification import verify_records
from lapwright.cli.main import exit_status
from lapwright.records import chain, chain_adoption
from lapwright.testing.lot import flat
from lapwright.testing.records import VARIABLE

WAFER = "AP-1-01"


@pytest.fixture
def shop(lot):
    """A wafer read in and three notes."""
    lot.read(WAFER, "wafer", "incoming", flat(500e-6), repeats=1)
    for text in ("first", "second", "third"):
        orders.add_note("AP-1", text, **lot.why("said on the phone"))
    return lot


def behind_the_back(*statements):
    """Statements put to the database itself, its triggers taken off first as whoever owns it can."""
    from django.db import connection

    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            for (name,) in cursor.fetchall():
                cursor.execute(f'DROP TRIGGER "{name}"')
            cursor.execute("PRAGMA foreign_keys = OFF")
        else:
            cursor.execute("SET session_replication_role = replica")
        for statement in statements:
            cursor.execute(statement)
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA foreign_keys = ON")
        else:
            cursor.execute("SET session_replication_role = DEFAULT")


def kinds():
    """What verification finds."""
    return [(fault.kind, fault.table) for fault in verify_records().faults]


def test_untouched_records_hold(shop):  # noqa: ARG001
    """Every row the use cases wrote is told of by a link, and matches it as read back from the database."""
    report = verify_records()
    assert report.faults == ()
    assert report.rows > 25
    assert report.last_number == report.links
    assert report.anchors > 3


def test_a_digest_is_the_sha_256_of_the_canonical_text(shop):  # noqa: ARG001
    """Written out by hand for a note: table, key, and the columns in alphabetical order."""
    from lapwright.records import models

    note = models.Note.objects.get(text="first")
    values = [
        note.at.strftime("%Y-%m-%dT%H:%M:%S.%f+00:00"), "local", note.kind, note.order_id, "said on the phone", None,
        "first", None,
    ]  # fmt: skip
    text = json.dumps(["note", note.pk, values], separators=(",", ":"))
    expected = hashlib.sha256(text.encode()).hexdigest()
    assert models.ChainLink.objects.filter(content=f"row note {note.pk} {expected}", by="local").count() == 1


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("reading", "text", "'499.00'"),
        ("reading", "value_m", "value_m + 1e-12"),
        ("reading", "at", "'2026-11-25 08:00:00+00:00'"),
        ("readingset", "state", "'open'"),
        ("order", "definition", "'{}'"),
        ("note", "by", "'somebody'"),
        ("note", "reason", "''"),
        ("person", "username", "'other'"),
        ("waferevent", "after", "'certified'"),
    ],
)
def test_an_altered_row_is_found(shop, table, column, value):  # noqa: ARG001
    """Whatever column it is, by however little: the row is named, and no other."""
    behind_the_back(
        f'UPDATE "records_{table}" SET "{column}" = {value} WHERE id = (SELECT max(id) FROM "records_{table}")'
    )
    assert kinds() == [("altered", table)]


def test_a_removed_row_is_found(shop):  # noqa: ARG001
    """In the middle, and the last one."""
    behind_the_back("DELETE FROM records_reading WHERE sequence = 3")
    assert kinds() == [("removed", "reading")]
    behind_the_back("DELETE FROM records_note WHERE text = 'third'")
    assert sorted(kinds()) == [("removed", "note"), ("removed", "reading")]


def test_the_last_row_removed_with_its_link_is_found_by_the_anchor(shop):  # noqa: ARG001
    """The chain that is left holds in itself; only what was anchored outside the database knows better."""
    behind_the_back(
        "DELETE FROM records_note WHERE text = 'third'",
        "DELETE FROM records_chainlink WHERE number = (SELECT max(number) FROM records_chainlink)",
    )
    assert kinds() == [("end_removed", "chainlink")]


def test_reordered_rows_are_found(shop):  # noqa: ARG001
    """Two readings that change places, two notes that change keys, two links that change numbers."""
    behind_the_back("UPDATE records_reading SET sequence = 1000 - sequence WHERE sequence IN (3, 4)")
    assert [kind for kind, _ in kinds()] == ["altered", "altered"]
    behind_the_back(
        "UPDATE records_note SET id = 1000 WHERE text = 'first'",
        "UPDATE records_note SET id = (SELECT id FROM records_note WHERE text = 'second') + 100 WHERE text = 'second'",
    )
    assert {("removed", "note"), ("added", "note")} <= set(kinds())


def test_links_that_change_places_are_found(shop):  # noqa: ARG001
    """Their numbers swapped."""
    from lapwright.records.models import ChainLink

    last = ChainLink.objects.latest("number").number
    behind_the_back(
        f"UPDATE records_chainlink SET number = 100000 WHERE number = {last}",
        f"UPDATE records_chainlink SET number = {last} WHERE number = {last - 1}",
        f"UPDATE records_chainlink SET number = {last - 1} WHERE number = 100000",
    )
    assert {"link_moved", "link_altered"} <= {kind for kind, _ in kinds()}


def test_a_row_put_in_past_the_program_is_found(shop):  # noqa: ARG001
    """No link tells of it."""
    behind_the_back(
        "INSERT INTO records_note (by, reason, at, kind, text, order_id)"
        " SELECT by, reason, at, kind, 'never said', order_id FROM records_note WHERE text = 'first'"
    )
    assert kinds() == [("added", "note")]


def test_an_altered_link_is_found_even_when_row_and_digest_are_forged(shop):  # noqa: ARG001
    """A row altered, its digest put into its link and the link hashed anew: the next link no longer follows."""
    from lapwright.records import models
    from lapwright.records.chain_form import digest_of

    note = models.Note.objects.get(text="second")
    old = digest_of(note)
    note.text = "never said"
    link = models.ChainLink.objects.get(content__contains=old)
    link.content = link.content.replace(old, digest_of(note))
    behind_the_back(
        f"UPDATE records_note SET text = 'never said' WHERE id = {note.pk}",
        f"UPDATE records_chainlink SET content = '{link.content}', digest = '{chain.link_digest(link)}'"
        f" WHERE number = {link.number}",
    )
    assert kinds() == [("link_moved", "chainlink"), ("rewritten", "chainlink")]


def test_a_chain_written_anew_is_found_by_the_anchors(shop):  # noqa: ARG001
    """All links thrown away and made again over altered rows."""
    behind_the_back("UPDATE records_note SET text = 'x' WHERE text = 'first'", "DELETE FROM records_chainlink")
    chain_adoption.take_in()
    assert kinds() == [("rewritten", "chainlink")]


def test_what_a_database_keeps_otherwise_is_the_same_row(shop):
    """SQLite keeps no sign of a zero (sqlite.org/datatype3.html), PostgreSQL sorts the keys of JSON and shortens 1e22."""
    from dataclasses import replace

    from lapwright.app import gauges
    from lapwright.model.readings import Calibration, CurvePoint

    day = shop.now.date()
    odd = Calibration(
        gauge_id="G1", certificate="K-9", done=day, due=day, deviation=-0.0, expanded_uncertainty=2e-7,
        curve=(CurvePoint(value=-0.0, correction=1e-22, expanded_uncertainty=1e-7),),
    )  # fmt: skip
    gauges.record_calibration(odd, **shop.why())
    gauges.record_calibration(replace(odd, certificate="K-10", deviation=1e22), **shop.why())
    assert verify_records().faults == ()


def test_blocks_of_a_stream_are_covered_and_its_tail_is_not_yet(shop):
    """200 readings are a block, told of by a link; twenty wait outside; an altered block is found."""
    import numpy as np

    from lapwright.model.readings import Signature
    from lapwright.records import models, writer
    from lapwright.records.stream_blocks import Portion
    from lapwright.records.writer.streams import NewStream

    why = shop.why()
    wafer, station = models.Wafer.objects.get(wafer_id=WAFER), models.Station.objects.get(station_id="L1")
    route = models.Route.objects.create(order=wafer.order, plan={}, **why)
    stage = models.Stage.objects.create(wafer=wafer, route=route, number=1, planned={}, state="running", **why)
    run = models.Run.objects.create(stage=stage, wafer=wafer, station=station, **why)
    new = NewStream(run_id=run.pk, feed=None, target=None, time=None, zero=0.0, rate=None)
    stream = writer.begin_stream(new, Signature(**why))
    times = np.round(np.arange(220) * 0.01, 6)
    writer.add_portions([Portion(stream_id=stream, times=times, lengths=np.full(220, 1e-6), events=())])
    assert models.ChainLink.objects.filter(content__contains="row streamblock ").count() == 1
    assert models.StreamTail.objects.count() == 1
    assert verify_records().faults == ()
    behind_the_back("UPDATE records_streamblock SET count = 199")
    assert kinds() == [("altered", "streamblock")]


@pytest.fixture
def run_over(shop):
    """A run of a wafer that was certified since, with 250 raw readings in two blocks; its number and its stream's."""
    import numpy as np

    from lapwright.model.readings import Signature
    from lapwright.records import models, writer
    from lapwright.records.stream_blocks import Portion
    from lapwright.records.writer.streams import NewEnd, NewStream

    why = shop.why()
    wafer, station = models.Wafer.objects.get(wafer_id=WAFER), models.Station.objects.get(station_id="L1")
    route = models.Route.objects.create(order=wafer.order, plan={}, **why)
    stage = models.Stage.objects.create(wafer=wafer, route=route, number=1, planned={}, state="running", **why)
    run = models.Run.objects.create(stage=stage, wafer=wafer, station=station, **why)
    new = NewStream(run_id=run.pk, feed=None, target=None, time=None, zero=0.0, rate=None)
    stream = writer.begin_stream(new, Signature(**why))
    times = np.round(np.arange(250) * 0.01, 6)
    writer.add_portions([Portion(stream_id=stream, times=times, lengths=np.round(times) * 1e-6, events=())])
    writer.end_stream(stream, NewEnd(outcome="target"), Signature(**shop.why()))
    writer.move_wafer(WAFER, "certified", Signature(**shop.why()))
    return run.pk, stream


def test_raw_readings_may_go_and_the_chain_tells_what_went(shop, run_over, records):
    """After the days set, at a person's word: the chain holds, the picture stays, and the SHA-256 is that of the blocks."""
    from dataclasses import replace
    from datetime import timedelta

    from lapwright.app import live, retention
    from lapwright.errors import SettingError
    from lapwright.records import models

    run, stream = run_over
    with pytest.raises(SettingError, match="for ever"):
        retention.droppable(records, at=shop.now)
    settings = replace(records, keep_streams_days=90)
    assert retention.droppable(settings, at=shop.now + timedelta(days=89)).streams == ()
    shop.now += timedelta(days=91)
    picture = live.run_picture(run)
    blocks = [bytes(one) for one in models.StreamBlock.objects.filter(stream_id=stream).values_list("data", flat=True)]
    assert len(blocks) == 2

    (gone,) = retention.drop_raw_readings(settings, **shop.why("kept for 90 days"))
    assert (gone.dropped.sha256, gone.dropped.readings) == (hashlib.sha256(b"".join(blocks)).hexdigest(), 250)
    assert (gone.dropped.by, gone.dropped.reason) == ("local", "kept for 90 days")
    assert models.StreamBlock.objects.count() == 0
    assert live.run_picture(run) == picture
    assert len(live.run_readings(run)[0]) == 0
    assert models.ChainLink.objects.filter(content__contains="drop streamblock ").count() == 1
    assert verify_records().faults == ()
    assert retention.droppable(settings, at=shop.now).streams == ()
    behind_the_back(
        "INSERT INTO records_streamblock (id, stream_id, number, count, data)"
        f" SELECT 1, {stream}, 0, 1, data FROM (SELECT {'X' if _is_sqlite() else 'CAST('}'00'"
        f"{'' if _is_sqlite() else ' AS bytea)'} AS data) AS made"
    )
    assert kinds() == [("added", "streamblock")]


def test_an_altered_block_does_not_go_unseen(shop, run_over, records):
    """Letting it go would cover the alteration up; and nothing goes that is not recorded as gone."""
    from dataclasses import replace
    from datetime import timedelta

    from django.db import DatabaseError, connection, transaction

    from lapwright.app import retention
    from lapwright.errors import Conflict
    from lapwright.records import models

    with pytest.raises(DatabaseError, match="never changed"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM records_streamblock")
    behind_the_back("UPDATE records_streamblock SET count = 199 WHERE number = 0")
    shop.now += timedelta(days=91)
    with pytest.raises(Conflict, match="not what the audit chain tells"):
        retention.drop_raw_readings(replace(records, keep_streams_days=90), **shop.why())
    assert (models.StreamBlock.objects.count(), models.StreamDrop.objects.count()) == (2, 0)
    del run_over


def _is_sqlite():
    from django.db import connection

    return connection.vendor == "sqlite"


def test_a_failed_write_leaves_no_link(shop):
    """Nothing in the tables, nothing in the chain."""
    from lapwright.records import models, writer

    before = models.ChainLink.objects.count()

    def fail():
        with writer.transaction():
            orders.add_note("AP-1", "half", **shop.why())
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert models.ChainLink.objects.count() == before
    assert verify_records().holds


def test_rows_of_a_table_with_new_columns_are_taken_in_but_altered_ones_are_not(shop):  # noqa: ARG001
    """An upgrade covers no alteration up: the old form in the chain is one column short, one row is altered since."""
    from lapwright.records import models
    from lapwright.records.chain_form import Form, form_of
    from lapwright.records.chain_rows import row_digests
    from lapwright.records.faults import one_transaction

    now = form_of(models.Note)
    before = Form(table="note", columns=tuple(name for name in now.columns if name != "stage_id"))
    lines = [chain.form_line(before), *(f"row note {key} {digest}" for key, digest in row_digests(before))]
    with one_transaction():
        chain.add_link(lines, by="program", reason="as an older version wrote it")
    assert verify_records().holds
    behind_the_back("UPDATE records_note SET text = 'x' WHERE text = 'first'")
    chain_adoption.take_in()
    assert kinds() == [("altered", "note")]


def test_the_command_finds_an_altered_a_removed_and_reordered_rows(shop, records, capsys, monkeypatch):  # noqa: ARG001
    """`lapwright verify`: each time the row is named, and an answer that is no error."""
    address = os.environ.get(VARIABLE)
    if address is not None:
        monkeypatch.setenv("LAPWRIGHT_DATABASE", address)
        monkeypatch.delenv(VARIABLE)
    found = []
    for statement in (
        "UPDATE records_reading SET text = '1' WHERE sequence = 2",
        "DELETE FROM records_note WHERE text = 'first'",
        "UPDATE records_reading SET sequence = 1000 - sequence WHERE sequence IN (3, 4)",
    ):
        behind_the_back(statement)
        assert exit_status(["verify", "--data", str(records.data), "--json"]) == 0
        told = json.loads(capsys.readouterr().out)["result"]
        assert told["holds"] is False
        found.append([(one["kind"], one["table"]) for one in told["faults"]])
    altered, removed = ("altered", "reading"), ("removed", "note")
    assert [sorted(one) for one in found] == [[altered], [altered, removed], [altered, altered, altered, removed]]
