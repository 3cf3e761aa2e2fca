"""`lapwright watch` as a person or a script runs it: recorded streams, a live gauge, and what it says of itself."""

import asyncio
import json
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

from lapwright.app.watching import watch
from lapwright.cli.main import exit_status
from lapwright.errors import FileFormatError
from lapwright.gauges.drivers.tcp.simulator import Simulator
from lapwright.process.endpoint import EndpointConfig
from lapwright.sim.runs import GaugeTruth, PlantedFault
from lapwright.testing.live import write_stream

ROOT = Path(__file__).parents[2]
#: The fields that the interface promises.
PROMISED = {
    "decision", "stop_time_s", "removed_um", "rate_um_per_min", "margin_um", "chance_over_target", "faults",
    "n_readings", "n_gaps",
}  # fmt: skip


def answer(capsys, path, *options):
    """The result of a watch over a recorded stream."""
    status = exit_status(["watch", "--source", f"replay:{path}", *options, "--json"])
    line = capsys.readouterr().out
    assert line.count("\n") == 1
    return status, json.loads(line)


def test_a_recorded_run_stops_at_its_target_less_the_margin(tmp_path, capsys):
    """Target 10 µm: true removal at the end of the latency within 0.3 µm; every promised field; one line; exit 0."""
    run = write_stream(tmp_path / "run.csv")
    status, given = answer(capsys, tmp_path / "run.csv", "--target-um", "10", "--latency-s", "2")
    result = given["result"]
    assert status == 0
    assert set(result) >= PROMISED
    assert (result["decision"], result["faults"]) == ("stop_now", [])
    reached = run.removal_at(result["stop_time_s"] + 2.0) * 1e6
    assert 10.0 - result["margin_um"] == pytest.approx(reached, abs=0.3)
    assert result["rate_um_per_min"] == pytest.approx(2.0, rel=0.1)


def test_an_end_of_the_file_before_the_stop_is_a_silence(tmp_path, capsys):
    """gauge.stale at the last time and five seconds, or the limit given."""
    write_stream(tmp_path / "run.csv", duration=60.0)
    for options, silence in ((), 5.0), (("--stale-s", "8"), 8.0):
        _, given = answer(capsys, tmp_path / "run.csv", "--target-um", "10", *options)
        result = given["result"]
        assert (result["decision"], result["faults"][0]["code"]) == ("stop_fault", "gauge.stale")
        assert result["faults"][0]["time_s"] == pytest.approx(60.0 + silence, abs=0.2)
        assert result["stop_time_s"] == result["faults"][0]["time_s"]


def test_a_planted_fault_is_a_result_and_no_error(tmp_path, capsys):
    """A jump: ok, exit 0, code, time and sentence."""
    write_stream(tmp_path / "run.csv", fault=PlantedFault(kind="jump_up", at=100.0, size=15e-6))
    status, given = answer(capsys, tmp_path / "run.csv", "--target-um", "15")
    (fault,) = given["result"]["faults"]
    assert (status, given["ok"], fault["code"]) == (0, True, "gauge.jump")
    assert fault["time_s"] == pytest.approx(101.0, abs=2.0)
    assert set(fault) == {"code", "time_s", "sentence"}


def test_gaps_are_counted(tmp_path, capsys):
    """Two silences of two seconds in a thousand readings."""
    write_stream(tmp_path / "run.csv", gauge=GaugeTruth())
    rows = (tmp_path / "run.csv").read_text().splitlines(keepends=True)
    kept = [row for row in rows[1:] if not any(begin < float(row.split(",")[0]) < begin + 2 for begin in (50, 90))]
    (tmp_path / "run.csv").write_text(rows[0] + "".join(kept))
    _, given = answer(capsys, tmp_path / "run.csv", "--target-um", "10")
    assert given["result"]["n_gaps"] == 2


def test_a_shrinking_length_is_followed_from_its_first_second(tmp_path, capsys):
    """From 512 µm downwards: the zero is said in a warning, the margin holds its doubt, the stop is below the target."""
    run = write_stream(tmp_path / "run.csv")
    rows = [row.split(",") for row in (tmp_path / "run.csv").read_text().splitlines()[1:]]
    text = "time_s,length_um\n" + "".join(f"{moment},{512.0 - float(length):.1f}\n" for moment, length in rows)
    (tmp_path / "run.csv").write_text(text)
    _, given = answer(capsys, tmp_path / "run.csv", "--target-um", "10", "--direction", "shrinking")
    result = given["result"]
    assert given["warnings"][0]["code"] == "watch.zero_taken"
    assert result["zero_um"] == pytest.approx(512.0, abs=1.0)
    assert result["margin_um"] > 0.5
    assert run.removal_at(result["stop_time_s"] + 1.0) < 10e-6
    _, given = answer(
        capsys, tmp_path / "run.csv", "--target-um", "10", "--direction", "shrinking", "--zero-um", "511.9"
    )
    assert given["warnings"] == []


def test_people_are_told_to_stop_in_large_letters(tmp_path, capsys):
    """What, when, how sure; and that the interlocks stay in charge."""
    write_stream(tmp_path / "run.csv")
    assert exit_status(["watch", "--source", f"replay:{tmp_path / 'run.csv'}", "--target-um", "10"]) == 0
    shown = capsys.readouterr().out
    assert "STOP NOW" in shown
    assert "interlocks stay in charge" in shown


@pytest.mark.parametrize(
    ("options", "code"),
    [
        (["--source", "replay:missing.csv", "--target-um", "10"], "gauge.unavailable"),
        (["--source", "pigeon:1", "--target-um", "10"], "input.faults"),
        (["--source", "replay:missing.csv", "--target-um", "0"], "value.out_of_range"),
        (["--source", "replay:missing.csv", "--target-um", "9", "--noise-um", "-1"], "value.out_of_range"),
        (["--target-um", "10"], "command.line"),
    ],
)
def test_wrong_questions_fail_in_one_shape(options, code, capsys):
    """One line of JSON with a code, exit 2 or 3."""
    status = exit_status(["watch", *options, "--json"])
    given = json.loads(capsys.readouterr().out)
    assert (given["ok"], given["code"]) == (False, code)
    assert status in (2, 3)


def test_a_file_without_readings_says_so(tmp_path):
    """A heading and nothing else."""
    (tmp_path / "run.csv").write_text("time_s,length_um\n")
    with pytest.raises(FileFormatError, match="no reading"):
        asyncio.run(watch(f"replay:{tmp_path / 'run.csv'}", EndpointConfig(target=1e-5, rate=1e-7)))


def test_a_live_gauge_is_followed_to_its_target():
    """Over a socket, 12 µm/min for two and a half seconds: stopped near 0.5 µm less the margin."""
    rate = 12e-6 / 60.0

    async def play():
        async with Simulator() as gauge:

            async def cut():
                begun = time.monotonic()
                while True:
                    await gauge.send(rate * (time.monotonic() - begun))
                    await asyncio.sleep(0.02)

            cutting = asyncio.create_task(cut())
            config = EndpointConfig(target=1.5e-6, rate=rate, noise=0.01e-6, resolution=0.001e-6, latency=0.5)
            watched = await watch(gauge.address, config)
            cutting.cancel()
            return watched

    decision = asyncio.run(play()).decision
    assert decision.advice == "stop_now"
    assert decision.removed + 0.5 * decision.rate == pytest.approx(1.5e-6 - decision.margin, abs=0.1e-6)


def test_a_live_gauge_that_falls_silent_stops_the_run():
    """Nothing for a second at a limit of one."""

    async def play():
        async with Simulator() as gauge:

            async def speak():
                for step in range(20):
                    await gauge.send(1e-8 * step)
                    await asyncio.sleep(0.02)

            speaking = asyncio.create_task(speak())
            watched = await watch(gauge.address, EndpointConfig(target=1.5e-6, rate=1e-8, stale=1.0))
            await speaking
            return watched

    decision = asyncio.run(play()).decision
    assert [fault.code for fault in decision.faults] == ["gauge.stale"]


def test_watching_loads_neither_the_database_nor_heavy_libraries(tmp_path):
    """A light command stays light."""
    write_stream(tmp_path / "run.csv", duration=30.0)
    source = (
        "import sys; from lapwright.cli.main import exit_status;"
        f"exit_status(['watch', '--source', 'replay:{tmp_path / 'run.csv'}', '--target-um', '10', '--json']);"
        "sys.exit(' '.join(name for name in ('django', 'scipy', 'typst', 'ortools') if name in sys.modules) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", source], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr.strip()) == (0, "")


def test_every_field_is_documented(tmp_path, capsys):
    """In the section of the command."""
    write_stream(tmp_path / "run.csv", duration=30.0)
    _, given = answer(capsys, tmp_path / "run.csv", "--target-um", "10")
    page = (ROOT / "docs/reference/commands.md").read_text(encoding="utf-8")
    section = re.search(r"^## lapwright watch\n(.*?)(?=^## )", page, re.DOTALL | re.MULTILINE)[1]
    assert set(given["result"]) <= set(re.findall(r"`([a-z0-9_]+)`", section))


def test_every_fault_code_is_documented():
    """Each code in the sources of the endpoint and the recorder has a heading on the page of faults."""
    sources = "".join(
        path.read_text(encoding="utf-8")
        for folder in ("process", "app/recorder")
        for path in (ROOT / "src/lapwright" / folder).glob("*.py")
    )
    codes = set(re.findall(r'"((?:gauge|run|record|recorder|stop)\.[a-z_]+)"', sources))
    page = (ROOT / "docs/reference/faults.md").read_text(encoding="utf-8")
    headings = set(re.findall(r"^## (\S+)$", page, re.MULTILINE)) | set(re.findall(r"`([a-z]+\.[a-z_]+)` ", page))
    assert codes >= {"gauge.stale", "gauge.frozen", "gauge.jump", "run.rate_collapse", "record.unavailable"}
    assert codes - headings - {"recorder.json", "recorder.lock"} == set()


def test_a_stop_output_without_a_gauge_is_refused(tmp_path):
    """A feed begins with its gauge."""
    command = [
        sys.executable, "-m", "lapwright", "record", "--data", str(tmp_path), "--only-keep", "--json", "--stop-output",
        "L1=dry-run:",
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "no feed yet" in json.loads(done.stdout)["error"]


def test_a_gauge_that_never_answers_is_told_with_what_the_connection_said(capsys):
    """The stop is for silence; why there is silence stands in the warning."""
    assert exit_status(["watch", "--source", "tcp:127.0.0.1:1", "--target-um", "9", "--stale-s", "1", "--json"]) == 0
    given = json.loads(capsys.readouterr().out)
    assert given["result"]["faults"][0]["code"] == "gauge.stale"
    assert given["warnings"][0]["code"] == "watch.never_heard"
    assert "127.0.0.1:1" in given["warnings"][0]["sentence"]
