"""Settling a chart: points outside are kept, set aside or outweighed, and always told."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.metrology.chart_setup import autocorrelation, chart_setup

QUIET = np.random.default_rng(3).normal(50.0, 1.0, 200)
SPIKED = QUIET.copy()
SPIKED[[40, 120]] = 70.0


def test_three_ways_with_two_spikes():
    """Kept they widen the limits; set aside or by medians the spread is that of the rest."""
    keep, aside, robust = (chart_setup(SPIKED, handling=way) for way in ("keep", "set_aside", "robust"))
    assert keep.sigma > 1.3
    assert set(aside.set_aside) >= {40, 120}
    assert pytest.approx((aside.sigma, robust.sigma), abs=0.15) == (1.0, 1.0)
    assert (keep.set_aside, robust.set_aside) == ((), ())
    assert aside.is_settled


def test_too_many_outside_is_not_settled():
    """A fifth of the points in another place."""
    mixed = np.where(np.arange(200) % 5 == 0, 80.0, QUIET)
    found = chart_setup(mixed, handling="set_aside")
    assert not found.is_settled or found.set_aside == ()


def test_medians_are_right_for_normal_values():
    """Unbiased to a percent over many."""
    many = np.random.default_rng(1).normal(0.0, 1.0, 200_000)
    assert pytest.approx(chart_setup(many, handling="robust").sigma, rel=0.01) == 1.0


def test_independent_points_give_no_warning_and_a_drift_does():
    """By chance within the bound; a walk far beyond."""
    assert autocorrelation(QUIET).warning is None
    walk = autocorrelation(np.cumsum(QUIET - 50.0))
    assert "follow each other" in walk.warning


@pytest.mark.parametrize(
    "call",
    [
        lambda: chart_setup(np.array([1.0])),
        lambda: chart_setup(np.array([1.0, np.nan])),
        lambda: autocorrelation(np.ones(5)),
        lambda: autocorrelation(np.arange(5.0), lag=4),
        lambda: autocorrelation(np.array([1.0, 2.0, np.nan, 3.0])),
    ],
)
def test_wrong_questions(call):
    """Refused."""
    with pytest.raises(OutOfValidRange):
        call()
