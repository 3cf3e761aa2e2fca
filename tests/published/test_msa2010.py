"""The ten parts, three operators, three repeats of the automotive reference manual, by both methods."""

from pathlib import Path

import pytest

from lapwright.metrology.gauge_study import crossed_study, range_study
from lapwright.testing.checks_studies import study_checks
from lapwright.testing.tables import codes, numbers, published_table

DATA = Path(__file__).parent / "data"
TABLE = published_table(DATA / "grr_crossed_10x3x3.csv")
CODES = {"part": codes(TABLE["part"]), "operator": codes(TABLE["operator"])}


@pytest.mark.parametrize(
    "check",
    [check for check in study_checks(DATA) if check.key == "msa2010"],
    ids=lambda check: f"msa2010-{check.what}",
)
def test_printed_values(check):
    """As many digits as were printed."""
    assert check.digits >= check.needed


def test_f_and_categories():
    """F 79.41, 492.29 and 0.434 (p 0.974); four categories, cut from 4.86; the interaction is dropped and told."""
    found = crossed_study(numbers(TABLE["y"]), **CODES)
    ratios = {row.source: row.f for row in found.anova}
    assert pytest.approx((ratios["operator"], ratios["part"], ratios["interaction"]), rel=1e-3) == (
        79.41,
        492.29,
        0.434,
    )
    assert pytest.approx(0.9741, abs=5e-5) == found.anova[2].p
    assert int(found.distinct_categories) == 4
    assert any("pooled" in note for note in found.notes)


def test_the_factors_of_the_hand_method_are_computed():
    """K1 0.5908, K2 0.5231 and K3 0.3146 come out of the distribution of the range."""
    given = range_study(numbers(TABLE["y"]), **CODES, factors=(0.5908, 0.5231, 0.3146))
    assert given.gauge == pytest.approx(range_study(numbers(TABLE["y"]), **CODES).gauge, rel=1e-4)
