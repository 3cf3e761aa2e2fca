"""Budget files: four ways to know an input, every fault at once."""

import re
from pathlib import Path

import pytest

from lapwright.errors import BadInput, FileFormatError
from lapwright.formats.budget_toml import budget_from_dict, read_budget

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "docs" / "reference" / "budget-file.md").read_text(encoding="utf-8")
X = {"name": "x", "value": 1.0, "unit": "um", "standard_uncertainty": 0.1}


def _codes(content):
    with pytest.raises(BadInput) as caught:
        budget_from_dict(content, name="b.toml")
    return [fault.code for fault in caught.value.faults]


def _budget(*inputs, **more):
    return {"unit": "um", "model": "x", "input": list(inputs), **more}


def test_the_example_of_the_reference_is_read(tmp_path):
    """Six inputs by readings, certificate, limits and a standard uncertainty."""
    (tmp_path / "b.toml").write_text(re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL)[1], encoding="utf-8")
    found = read_budget(tmp_path / "b.toml")
    assert [line.distribution for line in found.contributions] == [
        "student",
        "normal",
        "rectangular",
        "rectangular",
        "normal",
        "arcsine",
    ]
    assert pytest.approx(
        [found.contributions[0].degrees_of_freedom, found.contributions[1].divisor, found.contributions[2].divisor]
    ) == [3.0, 2.0, 3.0**0.5]


@pytest.mark.parametrize(
    ("more", "u", "divisor"),
    [
        ({"standard_uncertainty": 0.1}, 0.1, 1.0),
        ({"standard_uncertainty": 0.1, "distribution": "triangular"}, 0.1, 6**0.5),
        ({"expanded_uncertainty": 0.3, "coverage_factor": 3.0}, 0.1, 3.0),
        ({"half_width": 0.3}, 0.3 / 3**0.5, 3**0.5),
        (
            {"half_width": 0.3, "distribution": "trapezoid", "top_half_width": 0.15},
            0.3 / (6 / 1.25) ** 0.5,
            (6 / 1.25) ** 0.5,
        ),
        (
            {"half_width": 0.3, "distribution": "curvilinear_trapezoid", "half_width_uncertainty": 0.03},
            (0.09 / 3 + 0.0009 / 9) ** 0.5,
            1 / (1 / 3 + 0.01 / 9) ** 0.5,
        ),
    ],
)
def test_ways_to_know_an_input(more, u, divisor):
    """Standard uncertainty and divisor of each."""
    (line,) = budget_from_dict(_budget({"name": "x", "value": 1.0, "unit": "um", **more}), name="b").contributions
    assert (u, divisor) == pytest.approx((line.standard_uncertainty, line.divisor))


def test_a_budget_of_sensitivities_needs_no_model():
    """The result is given, the inputs carry their sensitivity."""
    found = budget_from_dict({"unit": "um", "value": 5.0, "input": [{**X, "sensitivity": -2.0}]}, name="b")
    assert pytest.approx((found.value, found.contributions[0].effect)) == (5.0, -0.2)


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (_budget({**X, "half_width": 0.2}), "budget.how_known"),
        (_budget({"name": "x", "value": 1.0, "unit": "um"}), "budget.how_known"),
        (_budget({"name": "x", "unit": "um", "standard_uncertainty": 0.1}), "budget.missing"),
        (_budget({"name": "x", "value": 1.0, "standard_uncertainty": 0.1}), "budget.missing"),
        (_budget({"name": "x", "value": 1.0, "unit": "um", "expanded_uncertainty": 0.1}), "budget.how_known"),
        (_budget({**X, "coverage_factor": 2.0}), "budget.how_known"),
        (_budget({"name": "x", "value": 1.0, "unit": "um", "half_width": 0.1, "distribution": "normal"}), "budget.how_known"),
        (_budget({"name": "x", "value": 1.0, "unit": "um", "half_width": 0.1, "distribution": "trapezoid"}), "budget.how_known"),
        (_budget({**X, "distribution": "trapezoid", "top_half_width": 0.1}), "budget.how_known"),
        (_budget({"name": "x", "unit": "um", "readings": [1.0, 2.0], "distribution": "rectangular"}), "budget.how_known"),
        (_budget({**X, "standard_uncertainty": -0.1}), "value.out_of_range"),
        (_budget({**X, "distribution": "gaussian"}), "budget.not_a_choice"),
        (_budget({**X, "readings": "1, 2"}), "budget.not_a_number"),
        (_budget({**X, "name": "as"}), "budget.name"),
        (_budget(X, X), "budget.twice"),
        (_budget(X, value=3.0), "budget.twice"),
        (_budget(X, model="x + y"), "budget.model"),
        (_budget({**X, "sensitivity": 2.0}), "budget.unknown_key"),
        (_budget(X, probability=1.5), "budget.out_of_range"),
        (_budget(X, trials=10), "budget.out_of_range"),
        (_budget(X, correlation=[{"between": ["x", "z"], "coefficient": 0.5}]), "budget.correlation"),
        (_budget(X, correlation=[{"between": ["x"], "coefficient": 0.5}]), "budget.correlation"),
        (_budget(X, correlation=[{"between": ["x", "x"], "coefficient": 0.5}]), "budget.correlation"),
        (_budget(X, simultaneous=[["x"]]), "budget.correlation"),
        (_budget(X, simultaneous="x"), "budget.not_a_text"),
        ({"unit": "um", "model": "1"}, "budget.missing"),
        ({"unit": "um", "input": [X]}, "budget.missing"),
        ({"model": "x", "input": [X]}, "budget.missing"),
    ],
)  # fmt: skip
def test_each_fault_has_its_code(content, code):
    """And the code is in the reference, or in that of errors."""
    assert code in _codes(content)
    assert code == "value.out_of_range" or f"`{code}`" in PAGE


def test_several_faults_in_one_go():
    """Unknown key, bad input, bad model: three or more."""
    assert len(_codes({"unti": "um", "model": "x + q", "input": [{"name": "x"}]})) >= 4


def test_text_that_is_no_toml_is_refused(tmp_path):
    """As a file."""
    (tmp_path / "b.toml").write_text("title = ", encoding="utf-8")
    with pytest.raises(FileFormatError):
        read_budget(tmp_path / "b.toml")
