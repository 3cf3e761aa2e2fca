"""The recorder as a process: killed without warning, started again, watched over by the pages' server."""

import asyncio
import json
import os
import signal
import subprocess
import sys
import time
import tty

import pytest

from lapwright.app import live, runs
from lapwright.app.recorder.watchdog import Watchdog
from lapwright.gauges.drivers.tcp.simulator import Simulator
from lapwright.testing.live import (
    ORDER,
    STATION,
    WAFER,
    answered,
    ask,
    ended,
    feed_of,
    now_why,
    ready_lot,
    write_stream,
)


@pytest.fixture
def ready(records):
    """A wafer ready to be lapped on L1, in a database file that a second process can open."""
    if not records.database_url.startswith("sqlite"):
        pytest.skip("the second process opens the SQLite file of the folder")
    return ready_lot(records)


def recorder(records):
    """A recorder of that folder, ready to listen."""
    command = [sys.executable, "-m", "lapwright", "record", "--data", str(records.data), "--json"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE)
    with process.stdout as told:
        assert json.loads(told.readline())["ok"]
    return process


def heard(machine):
    """What the machine heard on its line since last asked."""
    try:
        return os.read(machine, 1 << 16)
    except BlockingIOError:
        return b""


async def _cut(gauge):
    begun = time.monotonic()
    while True:
        await gauge.send(0.1e-6 + 2e-6 / 60.0 * (time.monotonic() - begun))
        await asyncio.sleep(0.02)


def test_a_recorder_killed_in_mid_run_loses_nothing_that_was_acknowledged(ready, records):
    """Killed by signal 9: what was shown as stored is; no further permission; listeners told; the run is marked."""
    machine, port = os.openpty()
    tty.setraw(port)
    os.set_blocking(machine, False)

    async def play():
        async with Simulator() as gauge:
            live_feed = feed_of(gauge.address, stop_output=f"serial:{os.ttyname(port)}")
            await ask(live.set_feed, live_feed, **now_why())
            process = recorder(records)
            cutting = asyncio.create_task(_cut(gauge))
            try:
                await asyncio.sleep(2.5)
                answer = await answered(await ask(live.request_start, ORDER, **now_why()))
                assert answer.accepted, answer
                acknowledged = 0
                batches = live.subscribe(STATION)
                async for batch in batches:
                    acknowledged = batch.stored
                    if acknowledged > 60:
                        break
                allowed = heard(machine)
                process.kill()
                process.wait()
                heard(machine)
                await asyncio.sleep(1.0)
                silent = heard(machine)
                async for batch in batches:
                    if batch.word == "recorder_away":
                        break
                again = recorder(records)
                stream = await ended(answer.run_id)
                again.send_signal(signal.SIGTERM)
                again.wait(timeout=20.0)
                return acknowledged, stream, again.returncode, allowed, silent
            finally:
                cutting.cancel()
                process.kill()

    acknowledged, stream, status, allowed, silent = asyncio.run(play())
    os.close(machine)
    os.close(port)
    assert allowed.count(b"\n") >= 4  # one every quarter of a second
    assert silent == b""
    assert (stream.outcome, stream.ended_code) == ("interrupted", "run.interrupted")
    assert stream.readings >= acknowledged > 60
    assert status == 0
    ahead = runs.next_stage(WAFER)
    assert (ahead.stage.state, ahead.zero) == ("waiting", None)
    del ready


def test_the_watchdog_starts_a_recorder_again(ready, records, tmp_path):
    """Killed, it is back within seconds; and a run can be started under it."""
    write_stream(tmp_path / "run.csv")
    live.set_feed(feed_of(f"replay:{tmp_path / 'run.csv'}?speed=max"), **now_why())
    with Watchdog(records.data, wanted=live.has_work) as watchdog:
        first = _pid(records)
        os.kill(first, signal.SIGKILL)
        second = _pid(records, other_than=first)
        assert second == watchdog.pid

        async def play():
            answer = await answered(await ask(live.request_start, ORDER, **now_why()))
            return await ended(answer.run_id)

        assert asyncio.run(play()).outcome == "target"
        watchdog.end()
    assert not (records.data / "recorder.json").exists()
    del ready


def test_the_pages_take_an_idle_recorder_with_them(ready, records):
    """`serve` starts one because a station has a gauge; ended, it ends the recorder, for no run is going."""
    live.set_feed(feed_of("tcp:127.0.0.1:9?unit=um"), **now_why())
    command = [sys.executable, "-m", "lapwright", "serve", "--data", str(records.data), "--port", "0"]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    try:
        recording = _pid(records)
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=30.0) == 0
    finally:
        process.kill()
        process.wait()
    with pytest.raises(ProcessLookupError):
        os.kill(recording, 0)
    del ready


def _pid(records, *, other_than=None):
    """The process that says it records here."""
    limit = time.monotonic() + 20.0
    while time.monotonic() < limit:
        try:
            pid = json.loads((records.data / "recorder.json").read_text())["pid"]
        except (OSError, ValueError):
            pid = None
        if pid is not None and pid != other_than:
            return pid
        time.sleep(0.1)
    raise AssertionError("no recorder within 20 s")
