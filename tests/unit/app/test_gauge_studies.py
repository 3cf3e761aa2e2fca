"""Gauge studies planned, read, computed and filed."""

import csv
from pathlib import Path

import numpy as np
import pytest

from lapwright.app import gauge_studies
from lapwright.errors import BadInput, Conflict, NotFound, OutOfValidRange
from lapwright.metrology.gauge_study import crossed_study
from lapwright.model.gauge_care import StudyRequest

PARTS, OPERATORS = ("W1", "W2", "W3"), ("ada", "ben")
DATA = Path(__file__).parents[2] / "published" / "data" / "grr_crossed_20x3x2.csv"


def asked(**changes):
    """A study of three wafers, two people, two repeats."""
    given = {"study_id": "S1", "gauge_id": "G1", "parts": PARTS, "operators": OPERATORS, "repeats": 2, "seed": 7}
    return StudyRequest(**{**given, "tolerance": 4e-6, **changes})


def read_all(lot, study, value):
    """Every line of the sheet read with what `value(part, operator, repeat)` gives, in µm."""
    for line in study.plan.sheet:
        text = f"{value(line.part, line.operator, line.repeat):.3f}"
        study = gauge_studies.record_study_reading(study.plan.study_id, text, **lot.why())
    return study


def spread(part, operator, repeat):
    """Parts 1 µm apart, operators 0.1 µm, repeats 0.05 µm."""
    return 100.0 + PARTS.index(part) + 0.1 * OPERATORS.index(operator) + 0.05 * (repeat - 1)


def test_the_sheet_is_random_by_its_seed_and_complete(lot):
    """Every part by every operator twice; another seed, another order; the same seed, the same."""
    sheets = [
        gauge_studies.plan_study(asked(study_id=name, seed=seed), **lot.why()).plan.sheet
        for name, seed in (("S1", 7), ("S2", 7), ("S3", 8))
    ]
    cells = sorted((line.part, line.operator, line.repeat) for line in sheets[0])
    assert cells == sorted((part, who, n) for part in PARTS for who in OPERATORS for n in (1, 2))
    assert sheets[0] == sheets[1] != sheets[2]


def test_all_faults_of_a_plan_are_told_at_once(lot):
    """Too few parts, a name twice, one repeat, a tolerance of nothing."""
    wrong = asked(study_id=" ", parts=("W1",), operators=("ada", "ada"), repeats=1, tolerance=0.0)
    with pytest.raises(BadInput) as refused:
        gauge_studies.plan_study(wrong, **lot.why())
    fields = [fault.field for fault in refused.value.faults]
    assert fields == ["study_id", "parts", "operators", "operators", "repeats", "tolerance"]


def test_a_study_is_filed_with_what_its_readings_say(lot):
    """The figures kept are those of the numerics on the same numbers."""
    study = read_all(lot, gauge_studies.plan_study(asked(), **lot.why()), spread)
    filed = gauge_studies.file_study("S1", **lot.why())
    value, part, operator = gauge_studies.study_arrays(study)
    expected = crossed_study(value, part=part, operator=operator, tolerance=4e-6)
    assert (filed.state, filed.figures.gauge) == ("filed", pytest.approx(expected.gauge))
    assert filed.figures.levels_in_tolerance == pytest.approx(expected.levels_in_tolerance)
    assert gauge_studies.list_studies("G1")[0].figures == filed.figures


def test_a_published_study_comes_through_whole(lot):
    """Montgomery's crossed study, 20 parts, 3 operators, 2 repeats (data of tests/published): same components."""
    with DATA.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    cells: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        cells.setdefault((row["part"], row["operator"]), []).append(row["y"])
    parts, operators = (tuple(dict.fromkeys(row[name] for row in rows)) for name in ("part", "operator"))
    study = gauge_studies.plan_study(asked(parts=parts, operators=operators, tolerance=52e-6), **lot.why())
    read_all(lot, study, lambda part, who, n: float(cells[part, who][n - 1]))
    found = gauge_studies.study_result(gauge_studies.show_study("S1"))
    assert found.repeatability**2 * 1e12 == pytest.approx(0.88, abs=0.01)  # printed there, interaction pooled


def test_a_correction_takes_the_place_and_the_old_reading_stays(lot):
    """Two readings at line 1, one standing; the next line is still the second."""
    gauge_studies.plan_study(asked(), **lot.why())
    gauge_studies.record_study_reading("S1", "100", **lot.why())
    study = gauge_studies.record_study_reading("S1", "101", line=1, **lot.why())
    assert [(one.text, one.replaced_by is None) for one in study.readings] == [("100", False), ("101", True)]
    assert study.next_line.order == 2


def test_a_study_that_is_not_whole_cannot_be_filed(lot):
    """Lines are still to be read; a dash and a line that is not there are refused."""
    gauge_studies.plan_study(asked(), **lot.why())
    with pytest.raises(Conflict, match="12 lines still to be read"):
        gauge_studies.file_study("S1", **lot.why())
    with pytest.raises(BadInput, match="found a dash"):
        gauge_studies.record_study_reading("S1", "-", **lot.why())
    with pytest.raises(NotFound, match="no line 13"):
        gauge_studies.record_study_reading("S1", "100", line=13, **lot.why())
    with pytest.raises(OutOfValidRange):
        gauge_studies.study_result(gauge_studies.show_study("S1"))


def test_a_filed_or_void_study_takes_nothing_more(lot):
    """It is closed; voiding needs a reason."""
    read_all(lot, gauge_studies.plan_study(asked(), **lot.why()), spread)
    with pytest.raises(Conflict, match="All lines"):
        gauge_studies.record_study_reading("S1", "100", **lot.why())
    gauge_studies.file_study("S1", **lot.why())
    with pytest.raises(Conflict, match="is filed"):
        gauge_studies.record_study_reading("S1", "100", line=1, **lot.why())
    with pytest.raises(BadInput):
        gauge_studies.void_study("S1", by="local", reason=" ", at=lot.now)
    assert gauge_studies.void_study("S1", **lot.why("wrong gauge")).state == "void"


@pytest.mark.parametrize(
    ("tolerance", "words"),
    [(None, "Name a tolerance"), (2e-6, "can tell"), (0.4e-6, "one level"), (0.1e-6, "cannot tell even one level")],
)
def test_the_words_name_levels_only_against_a_tolerance(tolerance, words):
    """1.41 T/(6 s): with s near 0.1 µm, 2 µm hold 4 levels, 0.4 µm hold 1, 0.1 µm none."""
    part, operator = np.repeat([0, 1, 2], 4), np.tile([0, 0, 1, 1], 3)
    value = 1e-6 * (part + 0.1 * np.tile([0.0, 1.4, 0.0, 1.4], 3))
    found = crossed_study(value, part=part, operator=operator, tolerance=tolerance)
    told = gauge_studies.study_words(found, tolerance=tolerance)
    assert words in (told[-1] if tolerance is None else told[0])
    assert tolerance is not None or not any("level" in one for one in told)
