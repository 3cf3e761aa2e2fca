"""Monte Carlo: intervals, adaptive trials, and what it refuses."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.metrology.monte_carlo import (
    adaptive_monte_carlo,
    is_first_order_enough,
    linear_model,
    monte_carlo,
    numerical_tolerance,
)
from lapwright.metrology.uncertainty import Budget, Contribution, combined_uncertainty

ONE = Budget(contributions=(Contribution(name="x", value=1.0, standard_uncertainty=2.0),))


def _rng(seed=5):
    return np.random.default_rng(seed)


def test_the_shortest_interval_of_a_skewed_result_leans_to_the_steep_side():
    """A squared normal: the shortest 95 % interval begins at nought, the symmetric one does not."""
    budget = Budget(contributions=(Contribution(name="x", standard_uncertainty=1.0),))
    found = monte_carlo(lambda values: values["x"] ** 2, budget, generator=_rng(), trials=200_000)
    assert pytest.approx(found.shortest[0], abs=1e-3) == 0.0
    assert pytest.approx(found.shortest[1], abs=0.08) == 3.84
    assert pytest.approx(found.symmetric, abs=0.08) == (0.001, 5.02)


def test_intervals_hold_the_share_by_count():
    """The interval of sorted draws holds exactly the share."""
    draws = _rng().standard_normal(20_000)
    budget = Budget(contributions=(Contribution(name="x", standard_uncertainty=1.0),))
    found = monte_carlo(lambda values: draws[: values["x"].size], budget, generator=_rng(), trials=10_000)
    inside = np.sort(draws[:10_000])
    held = np.count_nonzero((inside > found.shortest[0]) & (inside <= found.shortest[1]))
    assert held == 9500
    widths = inside[9500:] - inside[:500]
    assert widths.min() == pytest.approx(found.shortest[1] - found.shortest[0])


@pytest.mark.parametrize("probability", [0.3, 0.5, 0.999])
def test_any_probability(probability):
    """Also below one half, where the tails overlap."""
    found = monte_carlo(lambda values: values["x"], ONE, generator=_rng(), trials=100_000, probability=probability)
    assert found.shortest[1] - found.shortest[0] <= found.symmetric[1] - found.symmetric[0]


def test_the_same_seed_gives_the_same_result():
    """Drawn from the generator that is handed in, and from nothing else."""
    first, second = (monte_carlo(linear_model(ONE), ONE, generator=_rng(9), trials=20_000) for _ in range(2))
    assert first == second


def test_the_adaptive_form_stops_when_two_digits_hold_still():
    """U 2.0 ± 0.05, settled; one digit needs fewer trials; a small allowance ends unsettled."""
    two = adaptive_monte_carlo(linear_model(ONE), ONE, generator=_rng())
    one = adaptive_monte_carlo(linear_model(ONE), ONE, generator=_rng(), digits=1)
    short = adaptive_monte_carlo(linear_model(ONE), ONE, generator=_rng(), digits=3, most_trials=50_000)
    assert two.settled
    assert pytest.approx(two.standard_uncertainty, abs=0.05) == 2.0
    assert one.trials <= two.trials
    assert short.settled is False
    assert short.trials <= 50_000


@pytest.mark.parametrize(
    ("u", "digits", "tolerance"),
    [(36.0, 2, 0.5), (36.0, 1, 5.0), (0.0998, 2, 0.005), (0.0991, 2, 0.0005), (0.0996, 1, 0.05), (0.0, 2, 0.0)],
)
def test_numerical_tolerance(u, digits, tolerance):
    """Half a unit of the last digit that counts."""
    assert tolerance == pytest.approx(numerical_tolerance(u, digits=digits))


def test_first_order_is_enough_for_a_normal_sum_and_not_for_a_rectangle():
    """One rectangle reaches less far than the law of propagation says."""
    square = Budget(contributions=(Contribution(name="x", standard_uncertainty=1.0, distribution="rectangular"),))
    for budget, enough in ((ONE, True), (square, False)):
        drawn = monte_carlo(linear_model(budget), budget, generator=_rng(), trials=400_000)
        assert is_first_order_enough(combined_uncertainty(budget, value=drawn.mean), drawn) is enough


def test_a_model_without_a_value_at_some_draws_is_refused():
    """The share of lost trials is told."""
    with pytest.raises(OutOfValidRange, match="share of trials without a value"):
        monte_carlo(lambda values: np.log(values["x"]), ONE, generator=_rng(), trials=10_000)


@pytest.mark.parametrize(("trials", "probability"), [(9_999, 0.95), (10_000, 0.0), (10_000, 1.0)])
def test_too_few_trials_and_odd_probabilities_are_refused(trials, probability):
    """Wrong questions."""
    with pytest.raises(OutOfValidRange):
        monte_carlo(linear_model(ONE), ONE, generator=_rng(), trials=trials, probability=probability)
    with pytest.raises(OutOfValidRange):
        adaptive_monte_carlo(linear_model(ONE), ONE, generator=_rng(), digits=5)


def test_a_constant_result_has_no_uncertainty():
    """A model that ignores its inputs."""
    found = monte_carlo(lambda _: 4.0, ONE, generator=_rng(), trials=10_000)
    assert (found.mean, found.standard_uncertainty, found.shortest) == (4.0, 0.0, (4.0, 4.0))
