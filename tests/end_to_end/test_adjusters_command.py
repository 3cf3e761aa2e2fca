"""`lapwright adjusters` on moves worked out by hand."""

import json
import math

import pytest

from lapwright.cli.main import exit_status

JIG = ["--wafer-diameter-mm", "60", "--adjuster-radius-mm", "40", "--adjuster-azimuths-deg", "90,210,330",
       "--um-per-division", "2"]  # fmt: skip
HEAD = "divisions_1,divisions_2,divisions_3,wedge_before_um,azimuth_before_deg,wedge_after_um,azimuth_after_deg\n"


def moved(travel, divisions, before):
    """A row: three adjusters on 40 mm, plane through their travels, wedge = -60 mm times its slope."""
    z = [t * n for t, n in zip(travel, divisions, strict=True)]
    slope = sum(2 / (3 * 40) * one * complex(math.cos(a), math.sin(a))
                for one, a in zip(z, (math.pi / 2, math.pi * 7 / 6, math.pi * 11 / 6), strict=True))  # fmt: skip
    after = before - 60 * slope
    told = (*divisions, abs(before), math.degrees(math.atan2(before.imag, before.real)), abs(after),
            math.degrees(math.atan2(after.imag, after.real)))  # fmt: skip
    return ",".join(f"{value:.6f}" for value in told) + "\n", after


@pytest.fixture
def answer(tmp_path, capsys):
    """Runs the command over rows with --json: exit status, answer."""

    def run(rows, *more):
        (tmp_path / "moves.csv").write_text(HEAD + rows, encoding="utf-8")
        status = exit_status(["adjusters", str(tmp_path / "moves.csv"), *JIG, *more, "--json"])
        return status, json.loads(capsys.readouterr().out)

    return run


def test_an_adjuster_that_moves_a_fifth_more_is_found(answer):
    """The second moves 2.4 µm; five moves, all in one direction each."""
    rows, wedge = "", 8 + 3j
    for divisions in ((3, 1, 2), (1, 3, 1), (2, 2, 4), (4, 1, 1), (1, 4, 2)):
        row, wedge = moved((2.0, 2.4, 2.0), divisions, wedge)
        rows += row
    status, told = answer(rows)
    second = told["result"]["adjusters"][1]

    assert status == 0
    assert second["learned_um_per_division"] == pytest.approx(2.4, abs=0.1)
    assert [one["is_off"] for one in told["result"]["adjusters"]] == [False, True, False]
    assert told["result"]["sentences"][0].startswith("Adjuster 2 moves 2.")


def test_an_adjuster_that_counts_the_wrong_way_is_told_so(answer):
    """Negative travel is no travel."""
    rows, wedge = "", 8 + 3j
    for divisions in ((3, 1, 2), (1, 3, 1), (2, 2, 4), (4, 1, 1)):
        row, wedge = moved((-2.0, 2.0, 2.0), divisions, wedge)
        rows += row
    _, told = answer(rows)

    assert "wrong way" in told["result"]["sentences"][0]


def test_wrong_questions(answer):
    """A row that is no number; four adjusters."""
    assert answer("1,2,x,1,0,1,0\n")[0] == 2
    assert answer("", "--adjuster-azimuths-deg", "0,90,180,270")[0] == 2
