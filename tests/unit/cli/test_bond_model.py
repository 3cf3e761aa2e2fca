"""Commands of the bonding model: film, heating trace, stack, ways off."""

import json

import pytest

from lapwright.cli.main import exit_status


@pytest.fixture
def ask(capsys):
    """Run a command for JSON; gives status and answer."""

    def answer(*words):
        status = exit_status([*words, "--json"])
        return status, json.loads(capsys.readouterr().out)

    return answer


MODEL = ["bond", "--model", "--load-n", "100", "--radius-mm", "50", "--start-um", "50", "--time-s", "3092.505"]


def test_the_film_of_a_press(ask):
    """50 to 20 µm at 10 Pa s, 50 mm, 100 N: 3092.505 s (derived, confirmed by an ODE solver)."""
    status, found = ask(*MODEL, "--viscosity-pa-s", "10")
    assert status == 0
    assert found["result"]["bond_um"] == pytest.approx(20.0, rel=1e-6)


def test_the_time_to_a_wanted_film(ask):
    """And on to 10 µm in another 11044.66 s."""
    _, found = ask(*MODEL, "--viscosity-pa-s", "10", "--wanted-um", "10")
    assert found["result"]["time_to_wanted_s"] == pytest.approx(3092.505 + 11044.66, rel=1e-5)
    assert [one["code"] for one in found["warnings"]] == ["bond.too_thick"]


def test_a_cold_wax_is_too_cold(ask):
    """By the adhesive's name, with its order of magnitude told."""
    _, found = ask(*MODEL, "--adhesive", "mounting-wax", "--temperature-c", "100")
    assert [one["code"] for one in found["warnings"]][:2] == ["bond.too_cold", "bond.viscosity_guess"]


@pytest.mark.parametrize(
    ("words", "status", "code"),
    [
        (["bond"], 2, "command.line"),
        (["bond", "--model"], 2, "command.line"),
        (MODEL, 2, "input.faults"),
        ([*MODEL, "--viscosity-pa-s", "-1"], 2, "value.out_of_range"),
        ([*MODEL, "--viscosity-pa-s", "nan"], 2, "value.out_of_range"),
        ([*MODEL, "--adhesive", "glue", "--temperature-c", "100"], 2, "record.not_found"),
        ([*MODEL, "--adhesive", "mounting-wax", "--temperature-c", "400"], 2, "value.out_of_range"),
        ([*MODEL, "--adhesive", "release-tape", "--temperature-c", "90"], 3, "bond.no_viscosity"),
        (["stack", "--material", "Si", "--thickness-um", "0", "--diameter-mm", "50"], 2, "value.out_of_range"),
        (["debond", "--material", "soda-lime", "--finish", "polished", "--thickness-um", "99", "--diameter-mm", "50"], 2, "record.not_found"),
    ],
)  # fmt: skip
def test_what_cannot_be_asked_is_told(ask, words, status, code):
    """One sentence with its code."""
    found_status, found = ask(*words)
    assert (found_status, found["code"]) == (status, code)
    assert found["error"]


def test_a_trace_with_a_planted_offset(ask, tmp_path):
    """The stack 15 K colder than set."""
    file = tmp_path / "heat.csv"
    rows = [f"{10 * i},{115.0 if i > 20 else 21 + i},{130.0 if i > 20 else 21 + i}" for i in range(120)]
    file.write_text("# bonder 1\ntime_s,temperature_c,set_c\n" + "\n".join(rows) + "\n", encoding="utf-8")
    status, found = ask("heat", str(file), "--material", "LiTaO3", "--adhesive", "mounting-wax")
    assert status == 0
    assert found["result"]["offset_k"] == pytest.approx(-15.0, abs=0.01)
    assert {one["code"] for one in found["warnings"]} >= {"trace.offset", "trace.too_short"}


@pytest.mark.parametrize(
    "text",
    [
        "",
        "time_s,temperature_c\n",
        "time_s,temperature_c\n0,20\n0,21\n",
        "time_s,temp\n0,20\n",
        "time_s,temperature_c\n0,warm\n5,20\n",
    ],
)
def test_a_bad_trace_is_refused(ask, tmp_path, text):
    """Empty, without rows, times that stand still, another heading, a word for a number."""
    file = tmp_path / "heat.csv"
    file.write_text(text, encoding="utf-8")
    status, found = ask("heat", str(file), "--material", "Si")
    assert status == 2
    assert found["error"]


def test_bow_now_and_at_the_target(ask):
    """Both axes of an X cut; less when it is thin."""
    _, found = ask(
        "stack",
        "--material",
        "LiTaO3",
        "--cut",
        "X cut",
        "--thickness-um",
        "500",
        "--target-um",
        "100",
        "--diameter-mm",
        "50.8",
    )
    now, target = found["result"]["now"], found["result"]["target"]
    assert abs(now["bow_x_um"]) > 10.0 * abs(now["bow_y_um"])
    assert abs(target["bow_x_um"]) < abs(now["bow_x_um"])
    assert [one["code"] for one in found["warnings"]] == ["bond.mismatch"]


def test_three_ways_off(ask, capsys):
    """With chance, time, and cautions; for people, too."""
    words = ["debond", "--material", "InP", "--finish", "lapped_fine", "--thickness-um", "120", "--diameter-mm", "50.8"]
    _, found = ask(*words)
    assert len(found["result"]["ways"]) == 3
    assert all(one["needs_support"] for one in found["result"]["ways"])
    assert any("hot plate" in one for one in found["result"]["cautions"])
    assert exit_status(words) == 0
    assert "support only" in capsys.readouterr().out
