"""Several pieces on one carrier, from a file: places, turns, faults, what the command answers."""

import json

import pytest

from lapwright.cli.main import exit_status

HEADER = "piece,at_x_mm,at_y_mm,turn_deg,x_mm,y_mm,wafer_um,stack_um\n"
THREE = "A,20,0,0,0,0,500,4002\nB,-10,17.32,0,0,0,503,4002\nC,-10,-17.32,0,0,0,500,3999\n"


@pytest.fixture
def ask(tmp_path, capsys):
    """Run the command on rows for JSON; gives status and answer."""

    def answer(rows, *words):
        file = tmp_path / "pieces.csv"
        file.write_text(HEADER + rows, encoding="utf-8")
        status = exit_status(["pieces", str(file), *words, "--json"])
        return status, json.loads(capsys.readouterr().out)

    return answer


def test_what_lies_under_decides_not_how_thick_a_piece_came(ask):
    """Under A lie 3502, under B and C 3499 µm: level all end 3 µm apart; tilted all can end at 100 µm."""
    limits = ("--target-um", "100", "--tolerance-um", "1", "--pressure-kpa", "20", "--area-mm2", "100")
    status, found = ask(THREE, *limits)
    result = found["result"]
    assert status == 0
    assert [one["piece"] for one in result["parallel"]["touches"]] == ["A", "B", "C"]
    assert result["parallel"]["until_all_um"] == pytest.approx(3.0, abs=1e-6)
    assert result["end"]["advice"] == "tilt"
    assert result["end"]["parallel_end"]["used"] == pytest.approx(1.5, rel=1e-4)
    assert [one["most_removal_um"] for one in result["end"]["tilted_end"]["pieces"]] == pytest.approx(
        [400.0, 403.0, 400.0], abs=1e-3
    )
    assert (result["load_n"], result["first_pressure_kpa"]) == pytest.approx((6.0, 60.0))  # F = pA; three on one


def test_a_turned_piece_has_its_sites_elsewhere(ask):
    """A site 5 mm along x of a piece turned by 90° lies 5 mm along y of the carrier, looking at the worked face."""
    rows = "A,0,0,90,-5,0,500,4000\nA,0,0,90,5,0,500,4001\n"
    _, found = ask(rows)
    result = found["result"]
    assert result["common_azimuth_deg"] == pytest.approx(90.0)
    assert result["common_wedge_um"] == pytest.approx(1.0)
    assert [one["code"] for one in found["warnings"]] == ["pieces.on_a_line"]


def test_all_faults_of_a_file_are_told_at_once(ask):
    """A piece at two places, and a stack thinner than its wafer."""
    status, found = ask("A,0,0,0,0,0,500,4000\nA,1,0,0,5,0,500,4000\nB,9,0,0,0,0,500,400\n")
    assert status == 2
    assert [(one["row"], one["field"], one["code"]) for one in found["errors"]] == [
        (3, "at_x_mm", "pieces.moved"),
        (4, "stack_um", "pieces.no_stack"),
    ]


@pytest.mark.parametrize(
    "words", [("--target-um", "100"), ("--ttv-um", "1"), ("--pressure-kpa", "20"), ("--area-mm2", "100")]
)
def test_options_that_go_together(ask, words):
    """One alone is a wrong question."""
    assert ask(THREE, *words)[0] == 2


def test_people_read_it_in_tables(tmp_path, capsys):
    """The advice stands at the end."""
    file = tmp_path / "pieces.csv"
    file.write_text(HEADER + THREE, encoding="utf-8")
    assert exit_status(["pieces", str(file), "--target-um", "100", "--tolerance-um", "2"]) == 0
    assert "Advice: lap as it lies" in capsys.readouterr().out
