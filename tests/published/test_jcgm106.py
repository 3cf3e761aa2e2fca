"""Conformance probabilities and a guard band as JCGM 106:2012 prints them."""

import pytest

from lapwright.metrology.distributions import normal_quantile
from lapwright.model.order import DecisionRule, Limit
from lapwright.process.decisions import chance_inside, guard_band, judge


@pytest.mark.parametrize(
    ("lower", "upper", "value", "uncertainty", "printed"),
    [
        pytest.param(None, -5.40, -5.47, 0.05, 0.92, id="jcgm106-7.3.3-ex1"),
        pytest.param(490.0, None, 509.7, 8.6, 0.99, id="jcgm106-7.3.3-ex2"),
        pytest.param(12.5, 16.3, 13.6, 1.8, 0.66, id="jcgm106-7.4"),
    ],
)
def test_chance_to_conform(lower, upper, value, uncertainty, printed):
    """A diode voltage below its limit, a pressure above it, a value between two limits; printed to two decimals."""
    limit = Limit(quantity="thickness", lower=lower, upper=upper)

    assert round(chance_inside(limit, value, uncertainty), 2) == printed


def test_speed_limit():
    """Limit 100 km/h, 2 % of the reading, 99.9 %: acted on from 107 km/h (8.3.3.2)."""
    relative, z = 0.02, normal_quantile(0.999)
    threshold = 100.0 / (1.0 - relative * z)
    below = Limit(quantity="thickness", upper=100.0)

    assert round(threshold) == 107
    assert chance_inside(below, threshold, relative * threshold) == pytest.approx(0.001, abs=1e-6)
    assert judge(below, 107.0, 2.14, rule=DecisionRule(false_accept=0.001)).outcome == "does_not_conform"
    assert guard_band(relative * threshold, false_accept=0.001) == pytest.approx(threshold - 100.0)
