"""`lapwright kinematics` as a person or a script runs it."""

import json
import math

import pytest

from lapwright.cli.main import exit_status

ASK = ["kinematics", "--plate-speed-rpm", "70", "--offset-mm", "100", "--wafer-diameter-mm", "100"]
LAND = ["--land-inner-mm", "40", "--land-outer-mm", "150", "--ring-outer-mm", "65", "--ring-inner-mm", "50"]


@pytest.fixture
def ask(capsys):
    """Runs a command line with --json: exit status, answer."""

    def run(*arguments):
        status = exit_status([*arguments, "--json"])
        out = capsys.readouterr().out
        assert out.count("\n") == 1
        return status, json.loads(out)

    return run


def test_equal_speeds_slide_evenly(ask):
    """70 rev/min at 100 mm: 2π·70/60·0.1 m/s everywhere."""
    status, answer = ask(*ASK, "--jig-speed-rpm", "70")
    result = answer["result"]

    assert status == 0
    assert result["mean_speed_m_per_s"] == pytest.approx(math.tau * 70 / 60 * 0.1, rel=1e-15)
    assert {one["mean_speed_m_per_s"] for one in result["radial"]} == {result["mean_speed_m_per_s"]}
    assert result["nonuniformity"] == 0.0
    assert result["repeats_after_plate_turns"] == 1


def test_six_sevenths_repeats_after_seven_turns(ask):
    """60 under 70: the least number of turns in which both come round."""
    _, answer = ask(*ASK, "--jig-speed-rpm", "60")
    result = answer["result"]

    assert (result["repeats_after_plate_turns"], result["repeats_after_jig_turns"]) == (7, 6)
    assert result["nearest_ratio"] == "6/7"
    assert [one["radius_mm"] for one in result["radial"]] == [5.0 * i for i in range(11)]
    speeds = [one["mean_speed_m_per_s"] for one in result["radial"]]
    spread = (max(speeds) - min(speeds)) / result["mean_speed_m_per_s"]
    assert result["nonuniformity"] == pytest.approx(spread, rel=1e-12)


def test_counter_rotation_is_a_negative_speed(ask):
    """Ratio -1 at r/e = 1/2: slip doubles, b/a = 1, so the edge goes 4/π times the centre."""
    _, answer = ask(*ASK, "--jig-speed-rpm", "-70")
    radial = answer["result"]["radial"]

    assert radial[-1]["mean_speed_m_per_s"] / radial[0]["mean_speed_m_per_s"] == pytest.approx(4 / math.pi)


def test_all_that_can_be_asked(ask, capsys):
    """A sweep, a land, grooves and a time in one question, as JSON and for people."""
    more = ["--jig-speed-rpm", "66", "--sweep-half-stroke-mm", "8", "--sweep-period-s", "9", *LAND,
            "--groove-width-mm", "1", "--groove-pitch-mm", "10", "--duration-min", "30"]  # fmt: skip
    status, answer = ask(*ASK, *more)
    result = answer["result"]

    assert status == 0
    assert result["sliding_distance_m"] == pytest.approx(1800 * result["mean_speed_m_per_s"])
    assert result["contact_share"] == pytest.approx(0.9)
    assert result["plate_grows_domed_per_mean_wear"] > 0.0
    assert result["neutral_offset_mm"] < 100.0
    assert exit_status([*ASK, *more]) == 0
    assert "The plate grows domed" in capsys.readouterr().out


@pytest.mark.parametrize(
    "more",
    [
        ["--jig-speed-rpm", "60", "--sweep-half-stroke-mm", "8"],
        ["--jig-speed-rpm", "60", "--land-outer-mm", "20", "--land-inner-mm", "30"],
        ["--jig-speed-rpm", "nan"],
        ["--jig-speed-rpm", "60", "--groove-width-mm", "5", "--groove-pitch-mm", "5"],
        ["--jig-speed-rpm", "60", "--wafer-diameter-mm", "0"],
    ],
)
def test_wrong_questions(ask, more):
    """A sweep without its time, a land inside out, no number, a groove as wide as its pitch, no wafer."""
    status, answer = ask(*ASK, *more)

    assert status == 2
    assert not answer["ok"]
