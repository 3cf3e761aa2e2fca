"""Quantiles and tails against an independent library."""

import math

import pytest
import scipy.stats

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import f_tail, normal_cdf, normal_quantile, student_t_cdf, student_t_quantile

PROBABILITIES = (1e-9, 1e-4, 0.005, 0.025, 0.2, 0.4999, 0.5, 0.6, 0.841, 0.975, 0.995, 0.99999)
DEGREES = (0.7, 1.0, 1.5, 2.0, 3.0, 5.0, 16.75, 60.0, 300.0, 999.0, 1000.0, 1e5)


@pytest.mark.parametrize("probability", PROBABILITIES)
def test_normal_quantile_agrees(probability):
    """To 1e-12 of the value over fifteen decades of tail."""
    assert scipy.stats.norm.ppf(probability) == pytest.approx(normal_quantile(probability), rel=1e-12, abs=1e-14)


@pytest.mark.parametrize("z", [-9.0, -3.0, -0.1, 0.0, 1.4, 6.0])
def test_normal_cdf_agrees(z):
    """To 1e-13 of the value, tails included."""
    assert scipy.stats.norm.cdf(z) == pytest.approx(normal_cdf(z), rel=1e-13)


@pytest.mark.parametrize("degrees", DEGREES)
@pytest.mark.parametrize("probability", PROBABILITIES)
def test_student_quantile_agrees(probability, degrees):
    """To 1e-9 of the value, or 1e-10 near the middle, from less than one degree of freedom to very many."""
    expected = scipy.stats.t.ppf(probability, degrees)
    assert expected == pytest.approx(student_t_quantile(probability, degrees), rel=1e-9, abs=1e-10)


@pytest.mark.parametrize("away", [-1e-7, 1e-9, -1e-12, 2e-16])
def test_student_quantiles_close_to_a_half_are_those_of_scipy(away):
    """The course of t is so straight there that Newton's steps are lost in rounding."""
    for degrees in (1.0, 5.0, 30.0):
        expected = scipy.stats.t.ppf(0.5 + away, degrees)
        assert expected == pytest.approx(student_t_quantile(0.5 + away, degrees), rel=1e-6, abs=1e-15)


def test_student_quantile_with_infinite_degrees_is_normal():
    """The limit of many degrees of freedom is the normal distribution itself."""
    assert normal_quantile(0.975) == student_t_quantile(0.975, math.inf)


@pytest.mark.parametrize("degrees", DEGREES)
@pytest.mark.parametrize("t", [-40.0, -2.0, 0.0, 0.3, 5.0])
def test_student_cdf_agrees(t, degrees):
    """To 1e-9 of the value, tails included."""
    assert scipy.stats.t.cdf(t, degrees) == pytest.approx(student_t_cdf(t, degrees), rel=1e-9)


@pytest.mark.parametrize(("upper", "lower"), [(1.0, 4.0), (2.0, 16.0), (2.0, 1e4), (7.0, 3.0), (30.0, 30.0)])
@pytest.mark.parametrize("ratio", [0.01, 0.9, 1.0, 4.0, 60.0])
def test_f_tail_agrees(ratio, upper, lower):
    """To 1e-9 of the value."""
    assert scipy.stats.f.sf(ratio, upper, lower) == pytest.approx(f_tail(ratio, upper, lower), rel=1e-9, abs=1e-300)


def test_nothing_is_below_a_ratio_of_nought():
    """A ratio of variances is never negative, so all of it lies above nought."""
    assert f_tail(0.0, 2.0, 5.0) == 1.0


@pytest.mark.parametrize("probability", [0.0, 1.0, -0.1, math.nan])
def test_probability_outside_is_refused(probability):
    """There is no quantile for nought, one, or nonsense."""
    with pytest.raises(OutOfValidRange, match="probability"):
        normal_quantile(probability)


@pytest.mark.parametrize("degrees", [0.0, -1.0, math.nan])
def test_degrees_of_freedom_must_be_positive(degrees):
    """No degrees of freedom is no distribution."""
    with pytest.raises(OutOfValidRange, match="degrees_of_freedom"):
        student_t_quantile(0.9, degrees)
