"""Laws of the endpoint that hold for every run."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.process.endpoint import EndpointConfig, judge, start, update
from lapwright.process.endpoint_filter import gains, spread_ahead
from lapwright.process.endpoint_follow import followed_run
from lapwright.process.timed_stop import loaded_steps, removal_by_weighing, timed_stop, two_step_stop

RATE = 3e-6 / 60.0
positive = st.floats(1e-3, 1e3)


def streams():
    """A steady cut of 30 to 60 readings with noise."""
    return st.lists(st.floats(-1.5e-6, 1.5e-6), min_size=30, max_size=60)


def judged(config, noise, *, late=0.0, factor=1.0):
    """Decision after the readings."""
    state = start(config, late)
    for step, extra in enumerate(noise, 1):
        update(state, late + 0.2 * step, factor * (RATE * 0.2 * step + extra))
    return judge(state, state.time)


@given(streams(), st.floats(-1e4, 1e4))
def test_the_clock_may_start_anywhere(noise, late):
    """Shift: the same run an hour later is the same run."""
    config = EndpointConfig(target=20e-6, rate=RATE)
    early, shifted = judged(config, noise), judged(config, noise, late=late)
    assert early.removed == pytest.approx(shifted.removed, rel=1e-6, abs=1e-12)
    assert early.rate == pytest.approx(shifted.rate, rel=1e-6, abs=1e-15)


@given(streams(), st.floats(0.1, 10.0))
def test_lengths_scale_all_lengths(noise, factor):
    """Scaling: every length times k gives every length of the answer times k, and the same times and chance."""
    config = EndpointConfig(target=20e-6, rate=RATE, zero_uncertainty=0.3e-6)
    scaled = EndpointConfig(
        target=20e-6 * factor, rate=RATE * factor, zero_uncertainty=0.3e-6 * factor, noise=0.5e-6 * factor,
        resolution=1e-6 * factor,
    )  # fmt: skip
    one, other = judged(config, noise), judged(scaled, noise, factor=factor)
    for name in ("removed", "removed_uncertainty", "rate", "margin"):
        assert factor * getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-6, abs=1e-15)
    assert (one.time_left is None) == (other.time_left is None)
    if one.time_left is not None:
        assert one.time_left == pytest.approx(other.time_left, rel=1e-6)
    assert one.chance_over_target == pytest.approx(other.chance_over_target, rel=1e-6, abs=1e-12)


@given(streams())
def test_the_interval_is_in_order(noise):
    """Low, expected, high; and a chance between none and one."""
    decision = judged(EndpointConfig(target=20e-6, rate=RATE), noise)
    assert 0.0 <= decision.chance_over_target <= 1.0
    assert decision.margin > 0.0
    if decision.time_left is not None:
        high = math.inf if decision.time_left_high is None else decision.time_left_high
        assert decision.time_left_low <= decision.time_left <= high


@given(positive, st.floats(-0.99, 0.99), positive, st.floats(0.0, 10.0), st.floats(0.0, 10.0), positive)
def test_a_covariance_stays_one(p11, correlation, p22, step, density, variance):
    """Positive semidefinite before and after a reading; a reading never makes the removal less certain."""
    p12 = correlation * math.sqrt(p11 * p22)
    a, b, c = spread_ahead(p11, p12, p22, step, density)
    assert a * c - b * b >= -1e-9 * a * c
    gain1, gain2 = gains(a, b, variance)
    assert 0.0 <= gain1 < 1.0
    after = ((1.0 - gain1) * a, (1.0 - gain1) * b, c - gain2 * b)
    assert after[0] <= a
    assert after[0] * after[2] - after[1] ** 2 >= -1e-6 * a * c


@settings(max_examples=20)
@given(st.integers(0, 1000), st.floats(5e-6, 15e-6), st.floats(0.5e-6, 5e-6))
def test_a_larger_target_stops_no_earlier(seed, target, more):
    """Order: the same stream, a target further away."""
    rng = np.random.default_rng(seed)
    times = np.arange(0.2, 500.0, 0.2)
    lengths = np.round((RATE * times + 0.5e-6 * rng.standard_normal(times.size)) * 1e6) / 1e6
    stops = [
        followed_run(EndpointConfig(target=one, rate=RATE), times.tolist(), lengths.tolist()).decision.at
        for one in (target, target + more)
    ]
    assert stops[0] <= stops[1]


@given(positive, positive, st.floats(1.01, 3.0), st.floats(1.01, 3.0), st.floats(1.0, 1e4))
def test_a_timed_stop_scales_with_removal_and_rate(removal, rate, lower, higher, cost):
    """Twice the removal takes twice the time; twice the rate half; dearer over-removal stops sooner."""
    rates = {"rate_low": rate / lower, "rate": rate, "rate_high": rate * higher}
    stop = timed_stop(removal, **rates, over_to_under=cost)
    assert 2.0 * stop.time == pytest.approx(timed_stop(2.0 * removal, **rates, over_to_under=cost).time)
    faster = {name: 2.0 * value for name, value in rates.items()}
    assert stop.time / 2.0 == pytest.approx(timed_stop(removal, **faster, over_to_under=cost).time)
    assert timed_stop(removal, **rates, over_to_under=2.0 * cost).time < stop.time
    first = two_step_stop(removal, **rates)
    assert removal == pytest.approx(first.removal_first + first.left)


@given(st.lists(st.tuples(st.floats(90e-6, 110e-6), st.floats(1e-5, 1e-3)), min_size=1, max_size=8), st.randoms())
def test_pieces_share_the_load_whatever_their_order(pieces, shuffling):
    """The time and the steps do not hang on the order; each piece ends at the final height."""
    shuffled = list(pieces)
    shuffling.shuffle(shuffled)
    one, other = (
        loaded_steps([height for height, _ in some], [area for _, area in some], final=80e-6, rate=1e-8)
        for some in (pieces, shuffled)
    )
    assert sum(step.time for step in one) == pytest.approx(sum(step.time for step in other))
    for number, (height, _) in enumerate(pieces):
        taken = sum(step.removal for step in one if number in step.pieces)
        assert height - 80e-6 == pytest.approx(taken)


@given(positive, positive, positive)
def test_weighing_scales_with_the_mass(mass, density, area):
    """Twice the mass is twice the removal."""
    one, _ = removal_by_weighing(mass, 0.0, density=density, area=area)
    assert 2.0 * one == pytest.approx(removal_by_weighing(2.0 * mass, 0.0, density=density, area=area)[0])
