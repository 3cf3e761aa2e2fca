"""How far stops and wedges scatter by a lab's own records."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from lapwright.errors import OutOfValidRange
from lapwright.process.spread_learning import COMMON, OWN, TAIL, USUAL_DOUBT, Errors, learned_spreads


def learned(errors, doubts, *, assumed):
    """One kind alone."""
    return learned_spreads({"one": Errors(errors=errors, uncertainties=doubts, assumed=assumed)})["one"]


def test_without_results_the_assumption_stands():
    """From zero runs the answer is the usual value, to the last bit, and its doubt the one from lab to lab."""
    found = learned([], [], assumed=0.6e-6)

    assert (found.deviation, found.doubt, found.results, found.far) == (0.6e-6, USUAL_DOUBT, 0, 0)


def test_nine_labs_of_ten_lie_within_a_factor():
    """What the assumption says of itself: 1.645 deviations of the logarithm are a factor of 1.8, to 2 %."""
    assert math.exp(1.6449 * USUAL_DOUBT) == pytest.approx(1.8, rel=0.02)


def test_the_belief_is_the_integral_over_all_spreads():
    """Mean and deviation of ln sigma by Simpson's rule over normal prior times scipy's t law of 8 degrees."""
    errors, doubts = np.array([0.5, -0.9, 1.2, 0.1, -1.1]), np.array([0.2, 0.1, 0.3, 0.2, 0.2])
    x = np.linspace(-2.5, 2.5, 2001)
    scale = np.sqrt((0.8**2 * np.exp(2 * x)[:, None] + doubts**2) * 6.0 / 8.0)
    weights = np.prod(stats.t.pdf(errors, 8, scale=scale), axis=1) * stats.norm.pdf(x, 0.0, math.hypot(COMMON, OWN))
    norm, first, second = (integrate.simpson(x**power * weights, x=x) for power in range(3))
    mean = first / norm
    found = learned(errors.tolist(), doubts.tolist(), assumed=0.8)

    assert math.log(found.deviation / 0.8) == pytest.approx(mean, abs=2e-3)
    assert found.doubt == pytest.approx(math.sqrt(second / norm - mean**2), rel=5e-3)


def test_the_tails_of_a_stop_are_those_of_the_law_it_is_learned_by():
    """Log deviation of the scale of a Student law of 8 degrees: half the square root of trigamma(4), by scipy."""
    from scipy.special import polygamma

    assert pytest.approx(0.5 * math.sqrt(float(polygamma(1, 4.0))), abs=1e-3) == TAIL


@pytest.mark.parametrize("true", [0.3, 0.6, 1.4])
def test_many_results_outweigh_the_assumption(true):
    """Two thousand stops read with a doubt of their own give the true scatter, the doubt taken out."""
    rng = np.random.default_rng(3)
    read = true * rng.standard_t(8, 2000) / math.sqrt(8.0 / 6.0) + 0.2 * rng.standard_normal(2000)
    found = learned(read.tolist(), [0.2] * 2000, assumed=0.6)

    assert found.deviation == pytest.approx(true, rel=0.12)
    assert found.doubt < 0.1


def test_a_run_that_went_wrong_moves_the_belief_little():
    """A stop of fifty micrometres among ten usual ones is told as out of the usual; by squares it would count 15."""
    usual = [1.0, -1.0] * 5
    before = learned(usual, [0.0] * 10, assumed=1.0)
    after = learned([*usual, 50.0], [0.0] * 11, assumed=1.0)

    assert (before.far, after.far) == (0, 1)
    assert before.deviation < after.deviation < 1.7 * before.deviation


def test_a_poor_reading_tells_little():
    """An error read to ten deviations moves the belief by less than a fiftieth of one read well."""
    well = learned([2.0], [0.0], assumed=1.0).deviation - 1.0
    poorly = learned([2.0], [10.0], assumed=1.0).deviation - 1.0

    assert abs(poorly) < 0.02 * well


def test_rough_stops_of_one_kind_make_the_others_doubtful_too():
    """Half of a lab's roughness is common to all it does: what was never seen moves the same way, and less."""
    found = learned_spreads({
        "seen": Errors(errors=[2.0, -2.0] * 6, uncertainties=[0.0] * 12, assumed=1.0),
        "unseen": Errors(errors=[], uncertainties=[], assumed=1.0),
    })  # fmt: skip

    assert 1.1 < found["unseen"].deviation < found["seen"].deviation
    assert found["seen"].doubt < found["unseen"].doubt < USUAL_DOUBT


def test_scaling_all_lengths_scales_the_deviation():
    """A statistic of lengths is a length; its doubt is a number."""
    errors, doubts = [0.4, -0.9, 2.0], [0.1, 0.2, 0.3]
    once = learned(errors, doubts, assumed=0.6)
    thrice = learned([3 * one for one in errors], [3 * one for one in doubts], assumed=1.8)

    assert thrice.deviation == pytest.approx(3 * once.deviation)
    assert thrice.doubt == pytest.approx(once.doubt)


def test_order_and_sign_do_not_matter():
    """The same errors in another order and with the other sign tell the same."""
    once = learned([0.4, -0.9, 2.0], [0.1, 0.2, 0.3], assumed=0.6)
    turned = learned([-2.0, -0.4, 0.9], [0.3, 0.1, 0.2], assumed=0.6)

    assert turned.deviation == pytest.approx(once.deviation)


def test_what_cannot_be_is_refused():
    """No deviation of nothing, no negative doubt, a doubt for each error."""
    for errors, doubts, assumed in (([1.0], [0.1], 0.0), ([1.0], [-0.1], 1.0), ([1.0], [], 1.0)):
        with pytest.raises(OutOfValidRange):
            learned(errors, doubts, assumed=assumed)
