"""Intervals of variances: limiting cases and order."""

import math

import pytest
from scipy.stats import chi2

from lapwright.errors import OutOfValidRange
from lapwright.metrology.component_intervals import (
    difference_interval,
    mean_square_interval,
    satterthwaite_interval,
    sum_interval,
)


def test_a_mean_square_follows_chi_square():
    """ν s² over the quantiles."""
    found = mean_square_interval(2.0, 7.0, probability=0.9)
    assert (14.0 / chi2.ppf(0.95, 7), 14.0 / chi2.ppf(0.05, 7)) == pytest.approx((found.low, found.high))


def test_a_difference_from_nearly_nothing_is_the_exact_interval():
    """With a lower mean square near nought the interval is that of the upper one."""
    found, exact = difference_interval((6.0, 9.0), (1e-12, 50.0), count=3.0), mean_square_interval(6.0, 9.0)
    assert (exact.low / 3, exact.high / 3) == pytest.approx((found.low, found.high), rel=1e-6)


def test_a_difference_of_equals_reaches_below_zero():
    """Nothing there: the interval holds nought."""
    found = difference_interval((1.0, 9.0), (1.0, 20.0), count=2.0)
    assert found.low < 0.0 < found.high


def test_a_sum_of_one_is_that_one():
    """Exact."""
    found, exact = sum_interval([(2.0, (1.5, 8.0))]), mean_square_interval(3.0, 8.0)
    assert (exact.low, exact.high) == pytest.approx((found.low, found.high))


def test_satterthwaite_without_a_standard_error_says_nothing():
    """From nought to infinity, and why."""
    found = satterthwaite_interval(0.0, None)
    assert (0.0, math.inf, "cannot be told") == (found.low, found.high, found.method)


@pytest.mark.parametrize(("degrees", "probability"), [(0.0, 0.95), (5.0, 1.0)])
def test_wrong_questions(degrees, probability):
    """Refused."""
    with pytest.raises(OutOfValidRange):
        mean_square_interval(1.0, degrees, probability=probability)
