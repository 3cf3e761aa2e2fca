"""Grain sizes of JIS R 6001:1987, electrical resistance method, against a table typed from its reprint."""

import csv
from pathlib import Path

import pytest

from lapwright.library import load

LINES = (Path(__file__).parent / "data" / "jisr6001_resistance.csv").read_text(encoding="utf-8").splitlines()
ROWS = list(csv.DictReader(line for line in LINES if not line.startswith("# ")))
LIBRARY = load()


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"jisr6001-{row['grade']}")
def test_grade(row):
    """Median, its tolerance, the 3 % point and the largest grain."""
    found = LIBRARY.grain_grade("JIS", row["grade"])

    assert found.d50 * 1e6 == pytest.approx(float(row["d50_um"]))
    assert found.d50_tolerance * 1e6 == pytest.approx(float(row["tolerance_um"]))
    assert found.d3_max * 1e6 == pytest.approx(float(row["d3_um"]))
    assert found.largest * 1e6 == pytest.approx(float(row["largest_um"]))


def test_all_eighteen_grades_are_there_and_fall():
    """From #240 to #8000, each finer than the one before."""
    sizes = [row.d50 for row in LIBRARY.grain_grades if row.system == "JIS"]

    assert len(sizes) == len(ROWS) == 18
    assert sizes == sorted(sizes, reverse=True)


def test_equal_numbers_are_not_equal_sizes():
    """#1000 is 11.5 um, F1000 4.5 um, P1000 18.3 um (the latter two from memory)."""
    sizes = [
        LIBRARY.grain_grade(system, grade).d50 * 1e6
        for system, grade in (("JIS", "#1000"), ("FEPA F", "F1000"), ("FEPA P", "P1000"))
    ]
    assert sizes == pytest.approx([11.5, 4.5, 18.3])


def test_the_abrasive_of_a_grade_has_its_median():
    """Silicon carbide #1000 and #2000."""
    for abrasive, grade in (("sic-jis1000", "#1000"), ("sic-jis2000", "#2000")):
        assert LIBRARY.abrasive(abrasive).grain == LIBRARY.grain_grade("JIS", grade).d50
