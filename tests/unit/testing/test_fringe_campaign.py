"""The short version of the fringe campaign: the accuracy promised, on few seeded pictures."""

import math

import pytest

from lapwright.testing.fringe_campaign import WRONG, carrier_outcome, closed_outcome, rate_bound, steps_outcome


@pytest.mark.slow
@pytest.mark.parametrize("family", ["polynomial", "hills"])
def test_tilt_fringes_reach_the_accuracy_promised(family):
    """Twelve pictures: interior 1/200 fringe, edge band 1/40 fringe, no wrong turn, whole sample measured."""
    ended = [carrier_outcome(seed, side=512, family=family) for seed in range(12)]

    assert all(outcome.refused is None for outcome in ended)
    assert max(outcome.interior for outcome in ended) <= 1 / 200
    assert max(outcome.edge for outcome in ended) <= 1 / 40
    assert max(outcome.worst for outcome in ended) < WRONG
    assert min(outcome.interior_share for outcome in ended) > 0.99


@pytest.mark.slow
@pytest.mark.parametrize("family", ["polynomial", "hills"])
def test_closed_fringes_are_right_or_refused(family):
    """Five pictures: within 1/20 fringe up to sign, or refused; at most one refused."""
    ended = [closed_outcome(seed, side=384, family=family) for seed in range(5)]
    kept = [outcome for outcome in ended if outcome.refused is None]

    assert len(kept) >= 4
    assert max(math.hypot(outcome.interior, outcome.edge) for outcome in kept) <= 1 / 20


@pytest.mark.parametrize("noise", [0.01, 0.05])
def test_five_steps_reach_the_noise_bound(noise):
    """Three sets: within 1.1 of noise sqrt(2/5), and 1/500 fringe at 1 %."""
    ended = [steps_outcome(seed, side=256, noise=noise) for seed in range(3)]
    worst = max(outcome.interior for outcome in ended)

    assert worst <= 1.1 * noise * math.sqrt(2 / 5) / (2 * math.pi)
    assert noise > 0.01 or worst <= 1 / 500


def test_bound_on_a_rate_never_seen_is_the_rule_of_three():
    """None of 1000: 1 - 0.05^(1/1000) = 0.299 %."""
    assert pytest.approx(rate_bound(0, 1000), rel=1e-9) == 1.0 - 0.05 ** (1 / 1000)
