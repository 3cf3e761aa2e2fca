"""Opening databases: too new, unusable, and whole folders of trouble. Each in a process of its own."""

import sqlite3
import stat
import subprocess
import sys
import threading
from dataclasses import replace

import pytest

from lapwright.cli.opened import open_records
from lapwright.errors import NotFound
from lapwright.records import starting

_START = """
import sys
import threading
from dataclasses import replace
from lapwright.app import wiring
from lapwright.errors import LapwrightError
from lapwright.settings import read_settings
try:
    wiring.start(read_settings({"data": sys.argv[1]}, environ={"LAPWRIGHT_DATABASE": sys.argv[2]}))
    print("started")
except LapwrightError as error:
    print(error.code, "|", error.sentence)
"""


def start(folder, database=""):
    """What a start says."""
    command = [sys.executable, "-c", _START, str(folder), database]
    return subprocess.run(command, check=True, capture_output=True, text=True, timeout=50).stdout.strip()


@pytest.fixture
def folder(tmp_path):
    """A data folder with a database of this version."""
    assert start(tmp_path) == "started"
    return tmp_path


def test_a_database_of_a_newer_version_is_refused(folder):
    """The migration that is unknown here is named; nothing is changed."""
    with sqlite3.connect(folder / "lapwright.sqlite3") as database:
        database.execute(
            "INSERT INTO django_migrations (app, name, applied) VALUES ('records', '0099_later', '2027-01-01')"
        )
    database.close()
    said = start(folder)
    assert said.startswith("record.schema_too_new |")
    assert "records.0099_later" in said


def test_the_key_is_readable_by_its_owner_alone(folder):
    """Mode 600."""
    assert stat.S_IMODE((folder / "session-key").stat().st_mode) == 0o600


def test_a_file_that_is_no_database_is_told_so(tmp_path):
    """In plain words, not as the library says it."""
    (tmp_path / "lapwright.sqlite3").write_bytes(b"this is no database, " * 100)
    assert start(tmp_path) == (
        "record.unavailable | The database file is no database. Check LAPWRIGHT_DATABASE and the data folder."
    )


def test_a_data_folder_that_cannot_be_made_is_told_so(tmp_path):
    """A file stands where the folder should be."""
    (tmp_path / "file").write_text("x")
    assert start(tmp_path / "file" / "data").startswith("record.unavailable | The data folder")


def test_a_server_that_does_not_answer_is_told_so(tmp_path):
    """Nobody listens on port 9."""
    said = start(tmp_path, "postgresql://nobody@127.0.0.1:9/none")
    assert said.startswith("record.unavailable | The database server does not answer.")


def test_a_key_is_there_whole_or_not_at_all_and_the_first_one_stays(tmp_path):
    """Two processes make one at once: both use the first; nothing is left lying beside it."""
    path = tmp_path / starting.KEY_FILE
    starting._put_key(path)
    first = path.read_text()
    starting._put_key(path)
    assert (len(first) > 60, path.read_text()) == (True, first)
    assert [one.name for one in tmp_path.iterdir()] == [starting.KEY_FILE]
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_processes_that_start_in_the_same_moment_make_one_local_person(records):
    """Pages and recorder of a new folder: both find nobody, one makes the person, neither is refused."""
    from django.db import connections

    from lapwright.records import upgrading
    from lapwright.records.models import Person

    settings, troubles, together = replace(records, person="second"), [], threading.Barrier(4)

    def begin():
        together.wait()
        try:
            upgrading.make_person(settings)
        except Exception as error:  # noqa: BLE001  shown by the assertion
            troubles.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=begin) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert troubles == []
    assert Person.objects.filter(username="second").count() == 1


def test_a_folder_without_records_is_not_proved_whole(tmp_path):
    """`verify`, `backup` and `export` of a mistyped folder: no empty records are made there and called complete."""
    with pytest.raises(NotFound, match=r"There are no records in .+mistyped"):
        open_records(tmp_path / "mistyped", there=True)
    assert not (tmp_path / "mistyped").exists()
