"""Twenty parts, three operators, two repeats: the textbook study with a variance below zero."""

from pathlib import Path

import pytest

from lapwright.metrology.gauge_study import crossed_study
from lapwright.testing.checks_studies import study_checks
from lapwright.testing.tables import codes, numbers, published_table

DATA = Path(__file__).parent / "data"
TABLE = published_table(DATA / "grr_crossed_20x3x2.csv")
STUDY = {"part": codes(TABLE["part"]), "operator": codes(TABLE["operator"])}


@pytest.mark.parametrize(
    "check", [check for check in study_checks(DATA) if check.key == "montgomery_grr"],
    ids=lambda check: f"montgomery_grr-{check.what}",
)  # fmt: skip
def test_printed_values(check):
    """As many digits as were printed (tables 13.2 to 13.4)."""
    assert check.digits >= check.needed


def test_standard_errors_of_the_full_model():
    """3.3738173, 0.0329622, 0.1219114, 0.1810527 for part, operator, interaction, error."""
    found = crossed_study(numbers(TABLE["y"]), **STUDY, interaction="keep").intervals
    printed = {"part": 3.3738173, "operator": 0.0329622, "interaction": 0.1219114, "repeatability": 0.1810527}
    assert printed == pytest.approx({name: found[name].standard_error for name in printed}, rel=2e-6)


def test_interval_of_the_error_variance():
    """0.7143057 to 1.4697982, by chi-square."""
    found = crossed_study(numbers(TABLE["y"]), **STUDY, interaction="keep").intervals["repeatability"]
    assert pytest.approx((found.low, found.high), rel=1e-6) == (0.7143057, 1.4697982)


def test_the_variance_below_zero_is_told():
    """The interaction comes out at -0.1399 and is never rooted."""
    found = crossed_study(numbers(TABLE["y"]), **STUDY)
    assert any("below zero (-0.1399)" in note for note in found.notes)
    assert found.components.interaction == 0.0
    assert pytest.approx(22.39167, abs=5e-6) == numbers(TABLE["y"]).mean()
