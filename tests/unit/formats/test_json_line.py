"""The one shape of every JSON answer."""

import json
import math

import numpy as np

from lapwright.errors import BadInput, Fault, TooFewSites
from lapwright.formats.json_line import failure, one_line, success, warning_dict


def test_an_answer_is_one_line_with_null_for_what_is_no_number():
    """NaN and infinities have no place in JSON."""
    line = one_line(success({"a": math.nan, "b": [math.inf, 1.5], "c": np.array([1.0, np.nan]), "d": "two\nlines"}))
    assert "\n" not in line
    assert json.loads(line) == {
        "ok": True, "result": {"a": None, "b": [None, 1.5], "c": [1.0, None], "d": "two\nlines"}, "warnings": [],
    }  # fmt: skip


def test_numpy_numbers_and_dates_become_plain():
    """Whatever a result holds, the line is JSON."""
    from datetime import date

    assert json.loads(one_line({"n": np.int64(3), "x": np.float64(0.5), "on": date(2026, 3, 31), "yes": True})) == {
        "n": 3, "x": 0.5, "on": "2026-03-31", "yes": True,
    }  # fmt: skip


def test_a_failure_lists_every_fault_with_its_place():
    """Row, field, unit, sentence and code, null where not known."""
    error = BadInput(
        [Fault(sentence="a", row=3, field="thickness_um", unit="µm", code="cell.empty"), Fault(sentence="b")]
    )
    answer = failure(error)
    assert (answer["ok"], answer["code"]) == (False, "input.faults")
    assert answer["errors"] == [
        {"row": 3, "field": "thickness_um", "unit": "µm", "sentence": "a", "code": "cell.empty"},
        {"row": None, "field": None, "unit": None, "sentence": "b", "code": None},
    ]


def test_a_failure_without_faults_repeats_its_sentence_as_the_only_one():
    """`errors` is never empty."""
    (only,) = failure(TooFewSites("A plane", measured=2, needed=3))["errors"]
    assert "at least 3" in only["sentence"]


def test_a_warning_says_what_it_is_about():
    """Code, sentence, and the wafer."""
    assert warning_dict("a.b", "c", wafer="W1") == {"code": "a.b", "sentence": "c", "wafer": "W1"}
