"""Backups made while others write, restored, and found whole; what is damaged or hostile is refused."""

import json
import sqlite3
import threading
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from lapwright.app import backups, documents, orders
from lapwright.errors import Conflict, NotFound, RecordError
from lapwright.testing.records import close_records

NOW = datetime(2026, 11, 27, 1, 2, 3, tzinfo=UTC)


@pytest.fixture
def shop(lot, records):
    """An order with a kept file and a note; a setting of the database that a restored folder must not have."""
    if not records.database_url.startswith("sqlite"):
        pytest.skip("backups out of PostgreSQL are made in test_moving.py")
    documents.store_document("AP-1", "drawing.txt", b"100 +- 2 um", **lot.why())
    orders.add_note("AP-1", "before", **lot.why())
    settings = records.data / "lapwright.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(f'database = "postgresql://never.asked/lab"\n{text}', encoding="utf-8")
    yield lot
    settings.write_text(text, encoding="utf-8")


def made(records, folder, at=NOW):
    """A backup of the records."""
    return backups.make_backup(records, folder, at=at)


def test_a_backup_made_while_others_write_is_one_state_and_opens_elsewhere(shop, records, tmp_path):
    """Restored by a process of its own; whatever was acknowledged before it began is in it, and the chain holds."""
    acknowledged, begun, ended = [], threading.Event(), threading.Event()

    def write():
        while not ended.is_set():
            orders.add_note("AP-1", f"note {len(acknowledged)}", **shop.why())
            acknowledged.append(len(acknowledged))
            if len(acknowledged) == 3:
                begun.set()
        close_records()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        assert begun.wait(60.0)
        before = len(acknowledged)
        backup = made(records, tmp_path)
    finally:
        ended.set()
        writer.join()
    assert backups.try_backup(backup, at=NOW)["holds"]
    with closing(sqlite3.connect(backup.folder / "lapwright.sqlite3")) as copy:
        (notes,) = copy.execute("SELECT count(*) FROM records_note WHERE text LIKE 'note %'").fetchone()
    assert before <= notes <= len(acknowledged)
    assert backups.list_backups(tmp_path)[0].verified == NOW
    assert [one.name for one in tmp_path.iterdir()] == [backup.folder.name]


def test_all_that_belongs_to_the_records_comes_back(shop, records, tmp_path):
    """Kept files, anchors, key and settings, byte for byte; only the database of the laboratory is left out."""
    backup = made(records, tmp_path)
    backups.restore_files(backup, tmp_path / "new")
    kept = {one.relative_to(records.data) for one in (records.data / "documents").rglob("*") if one.is_file()}
    assert kept
    for name in (*kept, "chain-anchors", "session-key"):
        assert (tmp_path / "new" / name).read_bytes() == (records.data / name).read_bytes()
    lines = (tmp_path / "new" / "lapwright.toml").read_text(encoding="utf-8").splitlines()
    assert lines == [
        '# left out when restored: database = "postgresql://never.asked/lab"', 'laboratory = "Auwald Photonics"'
    ]  # fmt: skip
    assert (tmp_path / "new").stat().st_mode & 0o077 == 0
    del shop


def test_a_damaged_backup_is_refused_and_leaves_nothing(shop, records, tmp_path):
    """One byte of a kept file turned over after the backup was made; then a file missing."""
    backup = made(records, tmp_path)
    kept = next(one for one in backup.files if one.path.startswith("documents/"))
    file = backup.folder / kept.path
    content = file.read_bytes()
    file.write_bytes(bytes([content[0] ^ 1]) + content[1:])
    with pytest.raises(RecordError, match="SHA-256 differs"):
        backups.restore_files(backup, tmp_path / "new")
    file.unlink()
    with pytest.raises(RecordError, match="No such file"):
        backups.restore_files(backup, tmp_path / "new")
    assert [one.name for one in tmp_path.iterdir()] == [backup.folder.name]
    del shop


def test_a_backup_writes_nowhere_else_and_over_nothing(shop, records, tmp_path):
    """A list that names a file outside is none; a folder with anything in it is not restored into."""
    backup = made(records, tmp_path)
    with pytest.raises(Conflict, match="not empty"):
        backups.restore_files(backup, records.data)
    listed = backup.folder / "backup.json"
    plain = json.loads(listed.read_text(encoding="utf-8"))
    for path in ("../outside", "/outside"):
        plain["files"][0]["path"] = path
        listed.write_text(json.dumps(plain), encoding="utf-8")
        with pytest.raises(NotFound, match="no backup"):
            backups.read_backup(backup.folder)
    del shop


def test_a_backup_that_ends_elsewhere_than_it_says_is_refused(shop, records, tmp_path):
    """Its list tells of a link that the records in it do not have."""
    backup = made(records, tmp_path)
    with pytest.raises(RecordError, match="ends at link"):
        backups.try_backup(replace(backup, last_number=backup.last_number + 1), at=NOW)
    assert backups.list_backups(tmp_path)[0].verified is None
    del shop


def test_old_backups_go_and_strangers_stay(shop, records, tmp_path):
    """The newest stay; a folder of another name is not ours to remove."""
    (tmp_path / "lapwright-notes").mkdir()
    several = [made(records, tmp_path, NOW + timedelta(days=day)) for day in range(3)]
    assert backups.drop_old(tmp_path, keep=2) == (several[0],)
    assert [one.at for one in backups.list_backups(tmp_path)] == [NOW + timedelta(days=2), NOW + timedelta(days=1)]
    assert (tmp_path / "lapwright-notes").exists()
    with pytest.raises(Conflict, match="of this second"):
        made(records, tmp_path, NOW + timedelta(days=2))
    del shop


def test_a_place_that_cannot_be_written_is_told(shop, records, tmp_path):
    """A file stands where the folder should be."""
    (tmp_path / "taken").write_bytes(b"")
    with pytest.raises(RecordError, match="cannot be written"):
        made(records, tmp_path / "taken")
    del shop
