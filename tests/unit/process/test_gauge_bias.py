"""What runs say of a gauge in process: the weighted mean, its uncertainty with scatter, when it is believed."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.errors import OutOfValidRange
from lapwright.process.gauge_bias import ShareTold, learned_bias


def told(*shares, uncertainty=0.004):
    """Runs of the same uncertainty."""
    return [ShareTold(share=share, uncertainty=uncertainty) for share in shares]


def test_three_runs_that_agree_are_believed():
    """Mean 0.03, u/√3 of the mean: the closed form of equal weights (JCGM 100, 4.2.3)."""
    found = learned_bias(told(0.030, 0.030, 0.030))
    assert (found.finding, found.correction) == ("too_little", pytest.approx(0.030))
    assert found.uncertainty == pytest.approx(0.004 / math.sqrt(3.0))


def test_two_runs_are_not_enough():
    """Nothing is corrected."""
    assert learned_bias(told(0.03, 0.03)).correction == 0.0


def test_a_gauge_that_reads_too_much_is_not_corrected():
    """It would take material from the next wafer for good."""
    found = learned_bias(told(-0.03, -0.03, -0.031))
    assert (found.finding, found.correction) == ("too_much", 0.0)


def test_runs_that_scatter_widen_the_uncertainty():
    """Birge ratio by hand: shares 0, 0.03, 0.06 with u 0.004: χ² = 2 · 7.5² = 112.5, ratio √56.25 = 7.5."""
    found = learned_bias(told(0.0, 0.03, 0.06))
    of_mean = 7.5 * 0.004 / math.sqrt(3.0)
    scatter = 0.004 * math.sqrt(56.25 - 1.0)
    assert found.uncertainty == pytest.approx(math.hypot(of_mean, scatter))
    assert found.finding == "none"


def test_an_uncertainty_of_nothing_is_refused():
    """It would outweigh every other run."""
    with pytest.raises(OutOfValidRange):
        learned_bias(told(0.03, uncertainty=0.0))


@given(st.lists(st.tuples(st.floats(-0.2, 0.2), st.floats(1e-3, 0.1)), min_size=1, max_size=8), st.randoms())
def test_the_order_of_the_runs_does_not_count(runs, shuffling):
    """Order and shift: the mean follows, the uncertainty stays."""
    shuffled = list(runs)
    shuffling.shuffle(shuffled)
    one, other, shifted = (
        learned_bias([ShareTold(share=share + extra, uncertainty=doubt) for share, doubt in some])
        for some, extra in ((runs, 0.0), (shuffled, 0.0), (runs, 0.1))
    )
    assert one.share == pytest.approx(other.share)
    assert shifted.share == pytest.approx(one.share + 0.1)
    assert shifted.uncertainty == pytest.approx(one.uncertainty, abs=1e-6)
