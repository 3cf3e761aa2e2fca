"""Bends of the removal line: found where they are, sized by least squares, and told apart."""

import numpy as np
import pytest

from lapwright.process.endpoint_bends import Blocks, add_to_block, strongest_bend, wander_in_change

RATE = 5e-6 / 60.0
TIMES = np.arange(0.2, 119.3, 0.2)
KNEE = 104.2  # 15 blocks before the end


def bend_of(lengths, *, variance=1e-14, wander=1e-4):
    """What stands out in the readings."""
    blocks = Blocks()
    for time, length in zip(TIMES.tolist(), lengths.tolist(), strict=True):
        add_to_block(blocks, time, length)
    return strongest_bend(blocks, variance, rate=RATE, wander=wander)


def bent(factor):
    """A line whose slope changes by a factor at the knee."""
    return RATE * (np.minimum(TIMES, KNEE) + factor * np.maximum(0.0, TIMES - KNEE))


def test_a_straight_line_has_no_bend():
    """Nor has one under noise of half a micrometre."""
    assert bend_of(RATE * TIMES) is None
    noise = 0.5e-6 * np.random.default_rng(1).standard_normal(TIMES.size)
    assert bend_of(RATE * TIMES + noise, variance=0.25e-12, wander=0.05) is None


@pytest.mark.parametrize(("factor", "kind"), [(0.3, "collapse"), (-1.0, "backwards"), (3.0, "surge"), (0.9, "slight")])
def test_a_bend_is_found_where_it_is_and_named(factor, kind):
    """A line without noise: both slopes, the moment, and what it looks like."""
    bend = bend_of(bent(factor))
    assert bend.kind == kind
    assert pytest.approx(bend.slope_before, rel=1e-3) == RATE
    assert pytest.approx(bend.slope_after, abs=0.01 * RATE) == max(0.0, factor) * RATE
    assert bend.look_back == pytest.approx(15.0, abs=0.01)


def test_a_plate_that_stops_is_a_collapse():
    """No removal any more, and none coming back."""
    assert bend_of(bent(0.0)).kind == "collapse"


def test_a_step_is_no_bend():
    """Two micrometres up at the knee, the slope as before."""
    bend = bend_of(RATE * TIMES + np.where(TIMES > KNEE + 0.1, 2e-6, 0.0))
    assert bend.kind == "step"
    assert bend.step == pytest.approx(2e-6, rel=1e-3)
    assert bend.look_back == pytest.approx(15.0, abs=0.01)


def test_the_slopes_are_those_of_least_squares():
    """Line and bend together over the whole record, against a general solver, under noise."""
    lengths = bent(0.3) + 0.1e-6 * np.random.default_rng(2).standard_normal(TIMES.size)
    bend = bend_of(lengths, variance=0.01e-12)
    knee = TIMES[-1] - bend.look_back
    regressors = np.column_stack([np.ones(TIMES.size), TIMES, np.maximum(0.0, TIMES - knee)])
    _, before, change = np.linalg.lstsq(regressors, lengths, rcond=None)[0]
    assert bend.slope_before == pytest.approx(before, rel=1e-6)
    assert bend.slope_after == pytest.approx(before + change, rel=1e-6)


@pytest.mark.parametrize("share", [0.05, 0.2, 0.5, 0.8])
def test_what_a_wandering_rate_adds_is_the_integral(share):
    """The fitted change answers a step of the rate at u by K(u); the integral of K squared, summed over 4000 readings."""
    t = (np.arange(4000) + 0.5) / 4000
    line = np.column_stack([np.ones(t.size), t])
    bend = np.maximum(0.0, t - (1.0 - share))
    bend -= line @ np.linalg.lstsq(line, bend, rcond=None)[0]
    later, moment = (np.cumsum(part[::-1])[::-1] for part in (bend, bend * t))
    answer = (moment - t * later) / (bend @ bend)
    assert wander_in_change(1.0, share) == pytest.approx(np.mean(answer**2), rel=1e-3)


def test_memory_does_not_grow_with_the_run():
    """Eight hours at a block a second: at most 800 blocks are kept."""
    blocks = Blocks()
    for step in range(28_800):
        add_to_block(blocks, float(step), 0.0)
    assert len(blocks.sums) <= 801


def test_what_follows_on_no_removal_is_no_bend():
    """The plate grips late: first the reading creeps backwards, then stands. No rate was there that could bend."""
    creep = -0.02 * RATE * np.minimum(TIMES, KNEE)
    assert bend_of(creep, variance=1e-20) is None
