"""Wafers to start so that enough are good."""

import pytest
from scipy import stats

from lapwright.errors import ImpossibleOrder, OutOfValidRange
from lapwright.process.spare_wafers import (
    KNOWN_LIKENESS,
    YieldBelief,
    chance_of_enough,
    prior_wafers,
    spare_advice,
    yield_belief,
)


@pytest.mark.parametrize(("started", "wanted", "a", "b"), [(7, 6, 30.0, 1.5), (24, 20, 8.0, 2.0), (3, 0, 0.5, 0.5)])
def test_belief_gives_the_beta_binomial_of_scipy(started, wanted, a, b):
    """scipy.stats.betabinom, survival below the number wanted."""
    expected = stats.betabinom(started, a, b).sf(wanted - 1)
    assert chance_of_enough(started, wanted, YieldBelief(good=a, lost=b)) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("started", "wanted", "good"), [(7, 6, 0.94), (40, 36, 0.95), (5, 5, 1.0)])
def test_known_yield_gives_the_binomial_of_scipy(started, wanted, good):
    """scipy.stats.binom."""
    expected = stats.binom(started, good).sf(wanted - 1)
    assert chance_of_enough(started, wanted, good) == pytest.approx(expected, rel=1e-9)


def test_advice_is_the_smallest_number_that_holds():
    """One fewer does not hold it; scipy tells both."""
    belief = yield_belief(0.95, good=40, lost=2, prior=8.0)
    advice = spare_advice(6, belief, chance=0.90)
    chances = [stats.betabinom(n, belief.good, belief.lost).sf(5) for n in (advice.started - 1, advice.started)]
    assert chances[0] < 0.90 <= chances[1]
    assert [advice.with_fewer, advice.chance] == pytest.approx(chances)


def test_more_own_wafers_need_fewer_spares_than_few_at_the_same_yield():
    """Doubt about the yield costs wafers; order law."""
    few, many = (spare_advice(20, yield_belief(0.95, good=19 * k, lost=k, prior=8.0), chance=0.95) for k in (1, 50))
    assert few.started > many.started


def test_a_chance_of_one_out_of_draws_leaves_half_a_wafer_of_doubt():
    """A route that never failed in its draws may fail all the same."""
    assert yield_belief(1.0, prior=8.0) == YieldBelief(good=7.5, lost=0.5)


def test_hopeless_yield_and_wrong_questions_are_refused():
    """A promise that no number of wafers holds is an error that says so; so is a chance above one."""
    with pytest.raises(ImpossibleOrder, match="spares"):
        spare_advice(6, 0.01)
    with pytest.raises(OutOfValidRange):
        yield_belief(1.2, prior=8.0)
    with pytest.raises(OutOfValidRange):
        spare_advice(0, 0.9)


def test_a_chance_is_worth_few_wafers_while_nobody_knows_the_lab_and_more_with_every_record():
    """A number that falls as doubt grows, and never below one; 1/(m + 1) is the likeness of two wafers, by definition."""
    worth = [prior_wafers(doubt) for doubt in (0.0, 0.1, 0.2, 0.36, 1.0, 10.0)]
    assert worth == sorted(worth, reverse=True)
    assert worth[-1] == 1.0
    assert 1.0 / (worth[0] + 1.0) == pytest.approx(KNOWN_LIKENESS)
    with pytest.raises(OutOfValidRange):
        prior_wafers(-0.1)
