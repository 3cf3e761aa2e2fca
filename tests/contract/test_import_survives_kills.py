"""An import that is killed half-way: the database opens, and all of that import is there or none."""

import os
import signal
import subprocess
import sys
import time

import pytest

from lapwright.testing.lot import write_incoming_file

WAFERS, SITES = 30, 40
_IMPORT = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from lapwright.app import importing, wiring
from lapwright.model.request import ImportRequest
from lapwright.settings import read_settings
wiring.start(read_settings({"data": sys.argv[1]}, environ={}))
print("started", flush=True)
request = ImportRequest(subject="wafer", moment="incoming", gauge_id="G1")
importing.import_readings(Path(sys.argv[2]), request, by="local", reason="import", at=datetime.now(tz=UTC))
print("done", flush=True)
"""
_COUNT = """
import sys
from lapwright.app import orders, wiring
from lapwright.settings import read_settings
wiring.start(read_settings({"data": sys.argv[1]}, environ={}))
from lapwright.records import queries
good, _ = queries.database_check()
stories = [orders.show_wafer(wafer) for wafer in orders.show_order("AP-1").order.wafer_ids]
print(good, sum(len(one.readings) for story in stories for one in story.sets))
"""
_FURNISH = """
import sys
from dataclasses import replace
from lapwright.app import wiring
from lapwright.settings import read_settings
from lapwright.testing.lot import ORDER, Lot
wiring.start(read_settings({"data": sys.argv[1]}, environ={}))
lot = Lot()
lot.furnish()
lot.receive(replace(ORDER, quantity=int(sys.argv[2])))
"""


def run(script, *arguments):
    """A script of ours in a process of its own; what it printed."""
    command = [sys.executable, "-c", script, *map(str, arguments)]
    return subprocess.run(command, check=True, capture_output=True, text=True, timeout=50).stdout.split()


@pytest.mark.slow
@pytest.mark.timeout(300)
def test_all_or_none_after_a_kill(tmp_path):
    """Killed with signal 9 at six moments spread over the import; then the import is run to its end."""
    data, file = tmp_path / "data", tmp_path / "incoming.csv"
    run(_FURNISH, data, WAFERS)
    write_incoming_file(file, wafers=WAFERS, sites=SITES)
    seen = []
    for wait in (0.02, 0.1, 0.2, 0.35, 0.5, 0.8):
        killed = subprocess.Popen([sys.executable, "-c", _IMPORT, data, file], stdout=subprocess.PIPE, text=True)
        assert killed.stdout.readline() == "started\n"
        time.sleep(wait)
        os.kill(killed.pid, signal.SIGKILL)
        finished = "done" in killed.communicate()[0]
        good, count = run(_COUNT, data)
        assert good == "True"
        assert int(count) in (0, WAFERS * SITES)
        assert int(count) == WAFERS * SITES or not finished
        seen.append(int(count))
        if count != "0":
            break
    if seen[-1] == 0:
        assert run(_IMPORT, data, file)[-1] == "done"
        assert run(_COUNT, data) == ["True", str(WAFERS * SITES)]
    assert seen[0] == 0
