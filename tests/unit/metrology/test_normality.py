"""Anderson-Darling: the statistic of a library, the right share of false alarms, other shapes seen."""

import warnings

import numpy as np
import pytest
from scipy.stats import anderson

from lapwright.errors import OutOfValidRange
from lapwright.metrology.normality import normality


def test_the_statistic_agrees_with_scipy():
    """After the small-sample factor."""
    value = np.random.default_rng(1).gamma(3.0, size=40)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = anderson(value).statistic
    assert theirs * (1 + 0.75 / 40 + 2.25 / 1600) == pytest.approx(normality(value).statistic, rel=1e-9)


def test_five_percent_of_normal_sets_are_accused():
    """2000 sets of 25: 3.5 to 6.5 %."""
    rng = np.random.default_rng(2)
    accused = sum(not normality(rng.normal(size=25)).looks_normal for _ in range(2000))
    assert 70 <= accused <= 130


@pytest.mark.parametrize("shape", ["exponential", "uniform"])
def test_other_shapes_are_seen(shape):
    """Two hundred values of another shape."""
    assert not normality(getattr(np.random.default_rng(3), shape)(size=200)).looks_normal


def test_far_out_values_have_no_chance():
    """A huge statistic gives nought, not a number above one."""
    value = np.concatenate((np.zeros(500), [1e6]))
    assert normality(value).p == 0.0


@pytest.mark.parametrize("value", [np.arange(7.0), np.ones(10), np.array([1.0] * 9 + [np.nan])])
def test_wrong_questions(value):
    """Refused."""
    with pytest.raises(OutOfValidRange):
        normality(value)
