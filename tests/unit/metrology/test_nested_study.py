"""Nested studies: one way, two levels, unequal groups, summaries."""

import numpy as np
import pytest
from scipy.stats import f_oneway

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.nested_study import nested_study, pooled_deviation, summarised_study

RNG = np.random.default_rng(6)
GROUP = np.repeat(np.arange(5), 6)
VALUE = RNG.normal(0, 1.0, 5)[GROUP] + RNG.normal(0, 0.5, 30)


def test_one_level_agrees_with_scipy():
    """F and its chance."""
    found = nested_study(VALUE, levels=(("group", GROUP),)).anova[0]
    theirs = f_oneway(*(VALUE[k == GROUP] for k in range(5)))
    assert (theirs.statistic, theirs.pvalue) == pytest.approx((found.f, found.p), rel=1e-9)


def test_codes_count_inside_the_level_above():
    """Days 0 and 1 of two wafers are four days, however they are numbered."""
    value = np.array([1.0, 1.2, 1.1, 1.3, 2.0, 2.2, 2.1, 2.3])
    wafer = np.repeat([0, 1], 4)
    same = nested_study(value, levels=(("wafer", wafer), ("day", np.tile([0, 0, 1, 1], 2))))
    apart = nested_study(value, levels=(("wafer", wafer), ("day", np.repeat([0, 1, 2, 3], 2))))
    assert same.components == pytest.approx(apart.components)


def test_a_variance_below_zero_stays_and_is_told():
    """Group means closer than their scatter allows."""
    value = np.array([1.0, 3.0, 1.1, 2.9, 0.9, 3.1])
    found = nested_study(value, levels=(("day", np.repeat([0, 1, 2], 2)),))
    assert found.components["day"] < 0.0
    assert "below zero" in found.notes[0]


def test_unequal_groups_go_to_likelihood():
    """No table, a note, variances near those of the whole."""
    whole, part = (
        nested_study(VALUE, levels=(("group", GROUP),)),
        nested_study(VALUE[1:], levels=(("group", GROUP[1:]),)),
    )
    assert part.anova == ()
    assert whole.components["residual"] == pytest.approx(part.components["residual"], rel=0.1)


def test_pooling():
    """Weighted by degrees of freedom: (1 × 9 + 3 × 1)/4 = 3."""
    assert pytest.approx(pooled_deviation(np.array([3.0, 1.0]), np.array([1.0, 3.0]))) == (3.0**0.5, 4.0)
    with pytest.raises(ShapeMismatch):
        pooled_deviation(np.ones(2), np.ones(3))


def test_a_summary_of_unequal_groups_is_refused():
    """Each group must hold as many means."""
    with pytest.raises(OutOfValidRange):
        summarised_study(np.arange(3.0), np.ones(3), repeats=5, levels=(("wafer", np.array([0, 0, 1])),))


@pytest.mark.parametrize(
    ("value", "levels"),
    [
        (np.arange(4.0), ()),
        (np.arange(4.0), (("day", np.zeros(4, dtype=int)),)),
        (np.array([1.0, np.nan, 2.0]), (("day", np.array([0, 0, 1])),)),
        (np.arange(4.0), (("day", np.arange(4)),)),
    ],
    ids=["no level", "one group", "not measured", "no repeats"],
)
def test_wrong_questions(value, levels):
    """Refused with what would be needed."""
    with pytest.raises(OutOfValidRange):
        nested_study(value, levels=levels)
