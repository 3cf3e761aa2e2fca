"""`lapwright rate` as a person runs it."""

import json
import subprocess
import sys

import pytest

from lapwright.cli.main import exit_status

HEAD = "run,material,abrasive,plate,abrasive_lot,pressure_kpa,speed_m_per_s,rate_um_per_min\n"
RATES = (4.1, 3.9, 4.0, 4.15, 3.95, 4.05, 3.9, 4.1, 1.2, 4.0)


@pytest.fixture
def runs(tmp_path):
    """Ten runs of one process about 4 µm/min, one of them at 1.2, from two lots."""
    path = tmp_path / "runs.csv"
    rows = (
        f"R{number},LiTaO3,sic-jis1000,cast-iron,{'A' if number < 6 else 'B'},10,0.5,{rate}\n"
        for number, rate in enumerate(RATES, start=1)
    )
    path.write_text(HEAD + "".join(rows), encoding="utf-8")
    return path


def answer(capsys, *arguments):
    """Exit status and the one line of JSON."""
    status = exit_status(["rate", *map(str, arguments), "--json"])
    return status, json.loads(capsys.readouterr().out)


ASKED = ("--material", "lithium tantalate", "--abrasive", "sic-jis1000", "--plate", "cast-iron", "--pressure-kpa", "10", "--speed-m-per-s", "0.5")  # fmt: skip


def test_backtest_tells_error_and_coverage(runs, capsys):
    """The fields that are promised, and one run at a third flagged as outlying."""
    status, found = answer(capsys, "backtest", runs)
    result = found["result"]
    assert (status, result["n"]) == (0, 10)
    assert result["median_absolute_error_percent"] < 8.0
    assert 0.8 <= result["coverage_90"] <= 1.0
    assert [one["run"] for one in result["runs"] if one["note"] == "outlying"] == ["R9"]


def test_backtest_uses_nothing_that_comes_later(runs, capsys):
    """Leaving out the last rows leaves the earlier lines as they are."""
    whole = answer(capsys, "backtest", runs)[1]["result"]["runs"][:5]
    lines = runs.read_text(encoding="utf-8").splitlines()[:6]
    runs.write_text("\n".join(lines) + "\n", encoding="utf-8")
    begun = answer(capsys, "backtest", runs)[1]["result"]["runs"]
    assert [one["predicted_um_per_min"] for one in begun] == pytest.approx(
        [one["predicted_um_per_min"] for one in whole], rel=1e-9
    )


def test_a_slipped_unit_is_asked_about(runs, capsys):
    """A rate in nm/min in the column of µm/min: a warning that names the run."""
    runs.write_text(runs.read_text(encoding="utf-8").replace("0.5,4.15", "0.5,4150"), encoding="utf-8")
    warnings = answer(capsys, "fit", runs)[1]["warnings"]
    assert [(one["code"], one["run"]) for one in warnings] == [("rates.doubtful", "R4")]


def test_fit_and_predict_agree(runs, capsys):
    """The rate of the combination now is that of the next run at the same conditions."""
    fitted = answer(capsys, "fit", runs)[1]["result"]["combinations"][0]
    predicted = answer(capsys, "predict", runs, *ASKED)[1]["result"]
    assert fitted["rate_um_per_min"] == pytest.approx(predicted["rate_um_per_min"])
    assert predicted["abrasive_lot"] == "B"
    assert predicted["origin"].startswith("From your last 9 runs, 2 lots")


def test_predict_without_runs_is_the_library(capsys):
    """1.71e-11 per Pa times 10 kPa times 0.5 m/s: 5.13 µm/min, and its row is named."""
    result = answer(capsys, "predict", *ASKED)[1]["result"]
    assert result["rate_um_per_min"] == pytest.approx(5.13, abs=0.005)
    assert "lt-sic1000" in result["origin"]


def test_pad_age_tells_what_is_left(capsys):
    """A pad nobody has run: its kind's loss, no advice."""
    options = ("--material", "Si", "--abrasive", "silica-colloidal", "--plate", "pad-polyurethane", "--pressure-kpa", "25", "--speed-m-per-s", "0.6")  # fmt: skip
    pad = answer(capsys, "predict", *options, "--pad-age-h", "10")[1]["result"]["pad"]
    assert pad["advice"] == "unknown"
    assert 50.0 < pad["share_percent"] < 100.0


def test_tables_for_people(runs, capsys):
    """Each command prints a table and ends well."""
    for command in (("fit", runs), ("backtest", runs), ("predict", runs, *ASKED)):
        assert exit_status(["rate", *map(str, command)]) == 0
    out = capsys.readouterr().out
    assert "Outlying, set aside: R9" in out
    assert "the library says" in out


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("backtest",), "command.line"),
        (("fit", "RUNS", "--from-records"), "command.line"),
        (("predict", *ASKED[:2], "--abrasive", "sand", *ASKED[4:]), "record.not_found"),
        (("predict", *ASKED[:6], "--pressure-kpa", "0", *ASKED[8:]), "value.out_of_range"),
        (("backtest", "RUNS", "--earlier", "50"), "answer.impossible"),
    ],
)
def test_wrong_questions(runs, capsys, arguments, code):
    """No runs, two sources of runs, an unknown abrasive, no pressure, too short a history."""
    status, found = answer(capsys, *(runs if one == "RUNS" else one for one in arguments))
    assert (status, found["code"]) == (3 if code == "answer.impossible" else 2, code)


def test_unknown_names_in_a_file_are_all_told(runs, capsys):
    """Row and field of each."""
    text = (
        runs.read_text(encoding="utf-8").replace("R2,LiTaO3", "R2,unobtainium").replace("R4,LiTaO3,sic", "R4,Si,sand")
    )
    runs.write_text(text, encoding="utf-8")
    status, found = answer(capsys, "fit", runs)
    assert status == 2
    assert [(one["row"], one["field"]) for one in found["errors"]] == [(3, "material"), (5, "abrasive")]


def test_from_records_without_runs(tmp_path):
    """An empty data folder, in a process of its own: nothing to fit."""
    command = [sys.executable, "-m", "lapwright", "rate", "fit", "--from-records", "--data", str(tmp_path), "--json"]
    ended = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ended.returncode == 0, ended.stderr
    assert json.loads(ended.stdout)["result"]["n_runs"] == 0
