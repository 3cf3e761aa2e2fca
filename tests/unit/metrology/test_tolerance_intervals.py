"""Tolerance factors: libraries, limits, well-known cases."""

import pytest
from scipy import stats

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import normal_quantile
from lapwright.metrology.tolerance_intervals import (
    one_sided_tolerance_factor,
    share_between_ends,
    two_sided_tolerance_factor,
)


@pytest.mark.parametrize(("count", "share", "probability"), [(6, 0.95, 0.95), (20, 0.99, 0.9), (200, 0.9, 0.99)])
def test_one_sided_factor_agrees_with_scipy(count, share, probability):
    """Non-central t over √n."""
    theirs = stats.nct.ppf(probability, count - 1, normal_quantile(share) * count**0.5) / count**0.5
    assert theirs == pytest.approx(one_sided_tolerance_factor(count, share=share, probability=probability), rel=1e-6)


def test_two_sided_factor_tends_to_the_quantile():
    """From well above it with few values down to 1.96."""
    factors = [two_sided_tolerance_factor(n, share=0.95) for n in (2, 5, 10, 100, 10_000)]
    assert factors == sorted(factors, reverse=True)
    assert pytest.approx(factors[-1], rel=0.02) == 1.96


def test_ninety_three_values():
    """The well-known number for 95 % and 95 %, whatever the distribution (from memory)."""
    assert share_between_ends(92) < 0.95 <= share_between_ends(93)


@pytest.mark.parametrize(("count", "share", "probability"), [(1, 0.9, 0.9), (5, 1.0, 0.9), (5, 0.9, 0.0)])
def test_wrong_questions(count, share, probability):
    """Refused."""
    for factor in (one_sided_tolerance_factor, two_sided_tolerance_factor):
        with pytest.raises(OutOfValidRange):
            factor(count, share=share, probability=probability)
