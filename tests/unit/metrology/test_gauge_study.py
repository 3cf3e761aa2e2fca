"""Crossed gauge studies: by hand, against a general library, negative estimates, unequal cells."""

import numpy as np
import pandas as pd
import pytest
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from lapwright.errors import BadInput, OutOfValidRange
from lapwright.metrology.gauge_study import crossed_study, range_study

PART, OPERATOR = np.repeat(np.arange(6), 9), np.tile(np.repeat(np.arange(3), 3), 6)
RNG = np.random.default_rng(4)
VALUE = (
    10.0
    + RNG.normal(0, 2.0, 6)[PART]
    + RNG.normal(0, 0.5, 3)[OPERATOR]
    + RNG.normal(0, 0.6, 18)[PART * 3 + OPERATOR]
    + RNG.normal(0, 0.3, 54)
)


def test_analysis_of_variance_agrees_with_statsmodels():
    """Sums of squares of the full model to ten digits."""
    frame = pd.DataFrame({"y": VALUE, "part": PART, "operator": OPERATOR})
    theirs = anova_lm(ols("y ~ C(part) * C(operator)", frame).fit())["sum_sq"].to_numpy()
    ours = [row.sum_of_squares for row in crossed_study(VALUE, part=PART, operator=OPERATOR).anova]
    assert theirs.tolist() == pytest.approx(ours, rel=1e-10)


def test_a_plain_study_by_hand():
    """Two parts, two operators, repeats 0.2 apart: MSE = 4 pairs of 0.02 over 4 = 0.02."""
    value = np.array([1.0, 1.2, 1.0, 1.2, 3.0, 3.2, 3.0, 3.2])
    found = crossed_study(value, part=np.repeat([0, 1], 4), operator=np.tile([0, 0, 1, 1], 2), tolerance=6.0)
    full = found.full_components
    assert pytest.approx((full.repeatability, full.interaction, full.operator, full.part)) == (0.02, -0.01, 0.0, 2.0)
    # pooled with the one degree of the interaction: 0.08/5
    assert pytest.approx(found.gauge, rel=1e-9) == (0.08 / 5) ** 0.5
    assert found.gauge == pytest.approx(found.share_of_tolerance)
    assert found.levels_in_tolerance == pytest.approx(1.41 * 6.0 / (6.0 * found.gauge))


def test_keeping_and_dropping_the_interaction():
    """Kept on request even when its test would drop it, and the reverse."""
    kept = crossed_study(VALUE, part=PART, operator=OPERATOR, interaction="keep")
    dropped = crossed_study(VALUE, part=PART, operator=OPERATOR, interaction="drop")
    assert kept.components.interaction > 0.0
    assert dropped.components.interaction == 0.0
    assert "as asked" in " ".join(dropped.notes)
    assert dropped.components.repeatability > kept.components.repeatability


def test_a_large_offset_costs_no_digits():
    """A million added: variances equal to nine digits."""
    plain, shifted = (crossed_study(VALUE + add, part=PART, operator=OPERATOR) for add in (0.0, 2.0**20))
    assert plain.components.repeatability == pytest.approx(shifted.components.repeatability, rel=1e-9)
    assert plain.components.part == pytest.approx(shifted.components.part, rel=1e-9)


def test_unequal_cells_are_worked_out_by_likelihood_and_told():
    """One reading missing: close to the whole study, no table, a note, intervals by Satterthwaite."""
    whole = crossed_study(VALUE, part=PART, operator=OPERATOR, interaction="keep")
    found = crossed_study(VALUE[1:], part=PART[1:], operator=OPERATOR[1:])
    assert found.anova == ()
    assert found.method == "restricted likelihood"
    assert whole.components.part == pytest.approx(found.components.part, rel=0.1)
    assert whole.components.repeatability == pytest.approx(found.components.repeatability, rel=0.1)
    assert found.intervals["repeatability"].method == "Satterthwaite"
    assert any("unequal" in note for note in found.notes)


def test_the_hand_method_needs_equal_cells_and_names_each_that_is_not():
    """Two cells short: two faults."""
    with pytest.raises(BadInput) as caught:
        range_study(VALUE[1:-1], part=PART[1:-1], operator=OPERATOR[1:-1])
    assert [fault.sentence for fault in caught.value.faults] == [
        "Part 1, operator 1: 2 readings; expected 3.",
        "Part 6, operator 3: 2 readings; expected 3.",
    ]


def test_operators_who_agree_have_a_variance_of_nought_by_hand():
    """The hand method says so instead of rooting a negative number."""
    value = np.array([1.0, 1.2, 1.2, 1.0, 3.0, 3.2, 3.2, 3.0])
    found = range_study(value, part=np.repeat([0, 1], 4), operator=np.tile([0, 0, 1, 1], 2))
    assert found.reproducibility == 0.0
    assert "below zero" in found.notes[0]


def test_a_perfect_gauge_tells_every_part_apart():
    """No scatter at all: no F, infinitely many categories, no error."""
    value = np.repeat([1.0, 2.0, 3.0], 4)
    found = crossed_study(value, part=np.repeat([0, 1, 2], 4), operator=np.tile([0, 0, 1, 1], 3))
    assert found.distinct_categories == np.inf
    assert found.anova[0].f is None


@pytest.mark.parametrize(
    ("part", "operator", "value", "tolerance"),
    [
        ([0, 0, 0, 0], [0, 0, 1, 1], [1.0, 2.0, 1.0, 2.0], None),
        ([0, 0, 1, 1], [0, 0, 0, 0], [1.0, 2.0, 1.0, 2.0], None),
        ([0, 0, 1, 1], [0, 1, 0, 1], [1.0, 2.0, 1.0, 2.0], None),
        ([0, 0, 0, 0, 1, 1, 1, 1], [0, 0, 1, 1, 0, 0, 1, 1], [1.0, 2.0, 1.0, np.nan, 1.0, 2.0, 1.0, 2.0], None),
        ([0, 0, 0, 0, 1, 1, 1, 1], [0, 0, 1, 1, 0, 0, 1, 1], [1.0, 2.0, 1.0, 2.0, 1.0, 2.0, 1.0, 2.0], 0.0),
    ],
    ids=["one part", "one operator", "no repeats", "not measured", "no tolerance"],
)
def test_wrong_questions(part, operator, value, tolerance):
    """Refused with what would be needed."""
    with pytest.raises(OutOfValidRange):
        crossed_study(np.array(value), part=np.array(part), operator=np.array(operator), tolerance=tolerance)
