"""Bias, linearity, drift, resolution and two gauges."""

import numpy as np
import pytest
from scipy import stats

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.gauge_checks import bias_study, gauge_comparison, resolution_check, trend_study

RNG = np.random.default_rng(7)
READINGS = 100.3 + RNG.normal(0, 0.2, 12)


def test_bias_agrees_with_a_t_test():
    """t, chance and interval from scipy."""
    found, theirs = bias_study(READINGS, reference=100.0), stats.ttest_1samp(READINGS, 100.0)
    low, high = theirs.confidence_interval()
    assert (theirs.statistic, theirs.pvalue) == pytest.approx((found.t, found.p), rel=1e-9)
    assert (low - 100.0, high - 100.0) == pytest.approx(found.interval, rel=1e-9)
    assert found.is_seen


def test_an_uncertain_reference_hides_a_bias():
    """A standard uncertainty of 0.5 covers 0.3."""
    found = bias_study(READINGS, reference=100.0, reference_uncertainty=0.5)
    assert not found.is_seen
    assert found.degrees_of_freedom > 1000


def test_repeats_without_scatter_have_no_t():
    """All equal to the reference: no bias and no division by nought."""
    found = bias_study(np.full(5, 2.0), reference=2.0)
    assert (found.bias, found.t, found.p, found.is_seen) == (0.0, None, None, False)


def test_a_trend_agrees_with_scipy():
    """Slope, deviation and chance of a straight line."""
    along = np.arange(12.0)
    found, theirs = trend_study(along, READINGS), stats.linregress(along, READINGS)
    assert (theirs.slope, theirs.stderr, theirs.pvalue) == pytest.approx(
        (found.slope, found.slope_deviation, found.p), rel=1e-9
    )


@pytest.mark.parametrize(
    ("given", "fits", "shows"),
    [
        ({"resolution": 0.1, "tolerance": 4.0, "repeatability": 0.1}, True, True),
        ({"resolution": 0.5, "tolerance": 4.0, "repeatability": 0.1}, False, False),
        ({"resolution": 0.4, "tolerance": 4.0}, True, None),
        ({"readings": np.array([1.0, 1.2, 1.4, 1.2]), "repeatability": 0.2}, None, True),
    ],
)
def test_resolution(given, fits, shows):
    """A tenth of the tolerance, twice the repeatability; the step is found from the readings when not stated."""
    found = resolution_check(**given)
    assert (fits, shows) == (found.fits_tolerance, found.shows_scatter)


def test_a_known_offset_between_two_gauges_is_recovered():
    """0.8 planted over 17 sites of a wedged wafer; too much for U of 0.3 each, not for 1."""
    true = np.linspace(99.0, 103.0, 17)
    first, second = true + 0.8 + RNG.normal(0, 0.1, 17), true + RNG.normal(0, 0.1, 17)
    strict, loose = (gauge_comparison(first, second, uncertainties=(u, u)) for u in (0.3, 1.0))
    assert strict.interval[0] <= 0.8 <= strict.interval[1]
    assert (strict.agree, loose.agree) == (False, True)
    assert not strict.trend.is_seen
    assert gauge_comparison(first, second).agree is None


def test_a_scale_error_shows_as_a_trend():
    """One per cent."""
    true = np.linspace(90.0, 110.0, 17)
    found = gauge_comparison(1.01 * true, true + RNG.normal(0, 0.001, 17))
    assert found.trend.is_seen
    assert pytest.approx(found.trend.slope, rel=0.02) == 0.01


@pytest.mark.parametrize(
    "call",
    [
        lambda: bias_study(READINGS[:1], reference=0.0),
        lambda: bias_study(READINGS, reference=0.0, reference_uncertainty=-1.0),
        lambda: trend_study(np.ones(4), READINGS[:4]),
        resolution_check,
        lambda: resolution_check(resolution=0.0),
        lambda: gauge_comparison(READINGS, READINGS, uncertainties=(-1.0, 1.0)),
        lambda: gauge_comparison(READINGS[:2], READINGS[:2]),
    ],
)
def test_wrong_questions(call):
    """Refused."""
    with pytest.raises(OutOfValidRange):
        call()
    with pytest.raises(ShapeMismatch):
        gauge_comparison(READINGS, READINGS[:-1])
