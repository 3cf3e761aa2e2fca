"""Laws of charts and capability: scaling and shift; and chances that simulation confirms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.metrology.capability import capability_study
from lapwright.metrology.chart_setup import autocorrelation, chart_setup
from lapwright.metrology.control_charts import cusum_chart, ewma_chart, individuals_chart
from lapwright.metrology.multivariate_charts import joint_individuals_chart
from lapwright.metrology.run_rules import ALL_RULES
from lapwright.metrology.tolerance_intervals import share_between_ends, two_sided_tolerance_factor

seeds = st.integers(0, 2**32 - 1)


def _indices(chart):
    return [(signal.index, signal.rule) for signal in chart.signals]


@settings(deadline=None)
@given(seeds, st.integers(-20, 20), st.sampled_from([-1024.0, 0.0, 4096.0]))
def test_units_and_zeros_do_not_move_signals(seed, power, shift):
    """Scaled by a power of two and shifted: the same points, the same rules."""
    scale = 2.0**power
    value = np.round(np.random.default_rng(seed).normal(0.0, 1.5, 60), 3)
    moved = scale * (value + shift)
    plain, other = (
        individuals_chart(v, centre=c, sigma=s, rules=ALL_RULES)
        for v, c, s in ((value, 0.1003, 1.01047), (moved, scale * (0.1003 + shift), scale * 1.01047))
    )
    assert _indices(plain) == _indices(other)
    assert scale * chart_setup(value).sigma == pytest.approx(chart_setup(moved).sigma, rel=1e-9)
    assert autocorrelation(value).coefficient == pytest.approx(autocorrelation(moved).coefficient, abs=1e-9)


@settings(deadline=None)
@given(seeds)
def test_mirroring_swaps_the_sides(seed):
    """Values turned about the target: upper and lower sums change places, the weighted mean changes its sign."""
    value = np.random.default_rng(seed).normal(0.0, 1.0, 40)
    upper, lower = cusum_chart(value, target=0.0, sigma=1.0)
    mirrored_upper, mirrored_lower = cusum_chart(-value, target=0.0, sigma=1.0)
    assert upper.points.tolist() == pytest.approx(mirrored_lower.points.tolist())
    assert lower.points.tolist() == pytest.approx(mirrored_upper.points.tolist())
    ewma = [ewma_chart(v, weight=0.2, target=0.0, sigma=1.0).points for v in (value, -value)]
    assert ewma[0].tolist() == pytest.approx((-ewma[1]).tolist())


@settings(deadline=None)
@given(seeds, st.floats(1e-9, 1e9))
def test_capability_has_no_unit(seed, scale):
    """Indices and their intervals stay when values and limits are scaled."""
    value = np.random.default_rng(seed).normal(0.0, 1.0, 12)
    one, other = (capability_study(k * value, lower=-3.0 * k, upper=4.0 * k) for k in (1.0, scale))
    assert one.indices.cpk == pytest.approx(other.indices.cpk, rel=1e-9)
    assert one.cpk_interval == pytest.approx(other.cpk_interval, rel=1e-6)


def test_false_alarms_of_joint_charts():
    """Phase I: a single point of 20 passes the limit of 5 % in 5 % of 4000 sets."""
    rng = np.random.default_rng(5)
    out = sum(
        1 in {s.index for s in joint_individuals_chart(rng.normal(size=(20, 3)), false_alarm=0.05).chart.signals}
        for _ in range(4000)
    )
    assert 0.039 <= out / 4000 <= 0.061


@pytest.mark.parametrize("count", [6, 20])
def test_intervals_of_cpk_cover(count):
    """One limit, true Cpk 1: 95 % intervals hold it in 94 to 96 % of 3000 sets."""
    rng = np.random.default_rng(6)
    held = 0
    for _ in range(3000):
        low, high = capability_study(rng.normal(size=count), upper=3.0).cpk_interval
        held += low <= 1.0 <= high
    assert 0.94 <= held / 3000 <= 0.96


def test_tolerance_intervals_cover():
    """Ten values, 90 %: the stated share or more in 94 to 96 % of 20 000 sets; between the ends likewise."""
    from scipy.stats import norm

    rng = np.random.default_rng(7)
    draws = rng.normal(size=(20_000, 10))
    mean, sigma = draws.mean(axis=1), draws.std(axis=1, ddof=1)
    factor = two_sided_tolerance_factor(10, share=0.9)
    held = norm.cdf(mean + factor * sigma) - norm.cdf(mean - factor * sigma)
    assert 0.944 <= np.mean(held >= 0.9) <= 0.956
    between = norm.cdf(draws.max(axis=1)) - norm.cdf(draws.min(axis=1))
    assert 0.944 <= np.mean(between >= share_between_ends(10)) <= 0.956
