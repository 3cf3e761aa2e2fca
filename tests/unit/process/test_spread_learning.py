"""How far stops and wedges scatter by a lab's own records."""

import numpy as np
import pytest
from scipy import stats

from lapwright.errors import OutOfValidRange
from lapwright.process.spread_learning import learned_spread


def test_without_results_the_assumption_stands():
    """From zero runs the answer is the usual value, to the last bit."""
    found = learned_spread([], [], assumed=0.6e-6)

    assert (found.deviation, found.results, found.held_back) == (0.6e-6, 0, 0)


def test_errors_read_without_doubt_give_the_mean_of_the_posterior():
    """Normal with known mean: scaled inverse chi-squared; 1/precision of the gamma posterior of scipy."""
    errors = [0.5, -0.9, 1.2, 0.1, -1.1]
    shape = (8.0 + len(errors)) / 2.0
    rate = (8.0 * 0.8**2 + sum(error**2 for error in errors)) / 2.0
    precision = stats.gamma(shape, scale=1.0 / rate).mean()

    assert learned_spread(errors, [0.0] * 5, assumed=0.8).deviation == pytest.approx(precision**-0.5, rel=1e-12)


@pytest.mark.parametrize("true", [0.3, 0.6, 1.4])
def test_many_results_outweigh_the_assumption(true):
    """Two thousand stops read with a doubt of their own give the true scatter, the doubt taken out."""
    rng = np.random.default_rng(3)
    read = true * rng.standard_normal(2000) + 0.4 * rng.standard_normal(2000)

    assert learned_spread(read, [0.4] * 2000, assumed=0.6).deviation == pytest.approx(true, rel=0.12)


def test_a_run_that_went_wrong_counts_for_three_deviations():
    """A stop of fifty micrometres is trouble, not scatter: (8 * 1 + 9) / 9."""
    found = learned_spread([50.0], [0.0], assumed=1.0)

    assert found.held_back == 1
    assert found.deviation == pytest.approx((17.0 / 9.0) ** 0.5)


def test_a_poor_reading_tells_little():
    """An error read to ten deviations moves the belief by less than a fiftieth of one read well."""
    well = learned_spread([2.0], [0.0], assumed=1.0).deviation - 1.0
    poorly = learned_spread([2.0], [10.0], assumed=1.0).deviation - 1.0

    assert abs(poorly) < 0.02 * well


def test_scaling_all_lengths_scales_the_deviation():
    """A statistic of lengths is a length."""
    errors, doubts = [0.4, -0.9, 2.0], [0.1, 0.2, 0.3]
    once = learned_spread(errors, doubts, assumed=0.6).deviation
    thrice = learned_spread([3 * one for one in errors], [3 * one for one in doubts], assumed=1.8).deviation

    assert thrice == pytest.approx(3 * once)


def test_what_cannot_be_is_refused():
    """No deviation of nothing, no negative doubt, a doubt for each error."""
    for errors, doubts, assumed in (([1.0], [0.1], 0.0), ([1.0], [-0.1], 1.0), ([1.0], [], 1.0)):
        with pytest.raises(OutOfValidRange):
            learned_spread(errors, doubts, assumed=assumed)
