"""Draws have the mean, spread and bounds that their line states."""

import numpy as np
import pytest

from lapwright.errors import BadInput
from lapwright.metrology.draws import drawn_inputs
from lapwright.metrology.uncertainty import Budget, Contribution, half_width_divisor

MANY = 400_000


def _drawn(*lines, correlation=None):
    budget = Budget(contributions=lines, correlation=correlation)
    return drawn_inputs(budget, generator=np.random.default_rng(11), count=MANY)


@pytest.mark.parametrize(
    ("distribution", "shape"),
    [
        ("normal", 0.0),
        ("rectangular", 0.0),
        ("triangular", 0.0),
        ("arcsine", 0.0),
        ("trapezoid", 0.3),
        ("curvilinear_trapezoid", 0.2),
    ],
)
def test_mean_and_standard_deviation(distribution, shape):
    """Within five standard errors; bounded shapes stay within their half-width."""
    (values,) = _drawn(
        Contribution(name="x", value=7.0, standard_uncertainty=0.5, distribution=distribution, shape=shape)
    )
    assert pytest.approx(values.mean(), abs=5 * 0.5 / MANY**0.5) == 7.0
    assert pytest.approx(values.std(), rel=0.01) == 0.5
    half = 0.5 * half_width_divisor(distribution, shape=shape) * (1 + shape * (distribution == "curvilinear_trapezoid"))
    assert distribution == "normal" or np.abs(values - 7.0).max() <= half * (1 + 1e-12)


def test_few_degrees_of_freedom_widen_a_normal_line():
    """Student's t with 5 degrees: standard deviation √(5/3) times as large."""
    (values,) = _drawn(Contribution(name="x", standard_uncertainty=1.0, degrees_of_freedom=5.0))
    assert pytest.approx(values.std(), rel=0.03) == (5 / 3) ** 0.5


def test_few_degrees_of_freedom_blur_the_ends_of_a_rectangle():
    """50 degrees: the half-width is uncertain by a tenth."""
    (values,) = _drawn(
        Contribution(name="x", standard_uncertainty=1 / 3**0.5, degrees_of_freedom=50.0, distribution="rectangular")
    )
    assert 1.0 < np.abs(values).max() <= 1.1
    assert pytest.approx(values.std(), rel=0.005) == (1 / 3 + 0.01 / 9) ** 0.5


def test_correlated_inputs():
    """Correlation as stated, also the whole of it, beside an independent one."""
    lines = [Contribution(name=name, value=i, standard_uncertainty=0.1 * (i + 1)) for i, name in enumerate("abc")]
    a, b, c = _drawn(*lines, correlation=((1.0, 0.0, -0.7), (0.0, 1.0, 0.0), (-0.7, 0.0, 1.0)))
    assert pytest.approx(np.corrcoef(a, c)[0, 1], abs=0.005) == -0.7
    assert pytest.approx(np.corrcoef(a, b)[0, 1], abs=0.01) == 0.0
    one, other = _drawn(*lines[:2], correlation=((1.0, 1.0), (1.0, 1.0)))
    assert pytest.approx(np.corrcoef(one, other)[0, 1]) == 1.0


def test_correlation_of_other_shapes_is_refused():
    """A rectangle cannot be drawn jointly; correlations that contradict each other neither."""
    lines = [Contribution(name=name, standard_uncertainty=1.0, distribution="rectangular") for name in "ab"]
    with pytest.raises(BadInput, match="only normal"):
        _drawn(*lines, correlation=((1.0, 0.5), (0.5, 1.0)))
    normal = [Contribution(name=name, standard_uncertainty=1.0) for name in "abc"]
    with pytest.raises(BadInput, match="contradict"):
        _drawn(*normal, correlation=((1.0, 0.9, 0.9), (0.9, 1.0, -0.9), (0.9, -0.9, 1.0)))


def test_a_constant_is_drawn_as_such():
    """No uncertainty, no scatter."""
    (values,) = _drawn(Contribution(name="x", value=3.0, standard_uncertainty=0.0, distribution="rectangular"))
    assert np.all(values == 3.0)
