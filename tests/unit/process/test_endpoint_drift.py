"""Drift with temperature, told apart from removal; check readings; slowing down."""

import math
from dataclasses import replace

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.process.endpoint import EndpointConfig, judge, note_new_rate, start, update
from lapwright.process.endpoint_check import checked_estimate
from lapwright.process.endpoint_drift import drift_in_standstill, start_drift, update_with_warming
from lapwright.process.endpoint_follow import followed_run
from lapwright.process.slow_down import end_spread, slow_down_plan
from lapwright.sim.runs import GaugeTruth, RunTruth, simulated_run

RATE = 2e-6 / 60.0
DRIFT = 0.6e-6  # m/K, planted
CONFIG = EndpointConfig(target=100e-6, rate=RATE)


def warming(time):
    """Five kelvin in all, time constant ten minutes, and the thermostat's swing of 0.4 K in four minutes."""
    return 5.0 * (1.0 - np.exp(-time / 600.0)) + 0.4 * np.sin(2.0 * np.pi * time / 240.0)


def drifting_run(seed, *, standstill):
    """A run of 20 minutes; the plate stands for the first `standstill` seconds; drift as planted."""
    rng = np.random.default_rng(seed)
    run = simulated_run(RunTruth(rate=RATE, duration=1200.0, wander=0.02), GaugeTruth(noise=0.5e-6), rng=rng)
    truth = np.array([run.removal_at(max(0.0, time - standstill)) for time in run.time])
    shown = truth + DRIFT * warming(run.time) + 0.5e-6 * rng.standard_normal(run.time.size)
    return run.time, np.round(shown * 1e6) / 1e6, truth


def test_planted_drift_is_separated_with_a_standstill_and_a_temperature():
    """0.6 µm/K over 3 µm in all, two minutes of standstill: the removal is known to 0.3 µm (job map, row 47)."""
    for seed in range(8):
        times, lengths, truth = drifting_run(seed, standstill=120.0)
        state = start(CONFIG, 0.0)
        beside = start_drift(state)
        for time, length in zip(times.tolist(), lengths.tolist(), strict=True):
            update_with_warming(state, beside, time, length, warming=float(warming(time)), is_cutting=time > 120.0)
        assert pytest.approx(beside.drift, abs=0.1e-6) == DRIFT
        assert truth[-1] == pytest.approx(state.removed, abs=0.3e-6)


def test_the_same_drift_unseparated_is_far_off():
    """Without the temperature the gauge is believed: three micrometres too much."""
    times, lengths, truth = drifting_run(0, standstill=0.0)
    state = start(CONFIG, 0.0)
    for time, length in zip(times.tolist(), lengths.tolist(), strict=True):
        update(state, time, length)
    assert state.removed - truth[-1] > 1.5e-6


def test_what_is_not_known_of_the_drift_widens_the_interval():
    """Without a standstill the drift stays uncertain, and the interval holds the truth."""
    times, lengths, truth = drifting_run(1, standstill=0.0)
    state = start(CONFIG, 0.0)
    beside = start_drift(state, drift_uncertainty=0.5e-6)
    for time, length in zip(times.tolist(), lengths.tolist(), strict=True):
        update_with_warming(state, beside, time, length, warming=float(warming(time)))
    decision = judge(state, state.time)
    assert abs(decision.removed - truth[-1]) < 2.0 * decision.removed_uncertainty


def test_a_standstill_alone_gives_the_drift_and_its_uncertainty():
    """100 readings of 0.5 µm noise over 0 to 2 K: 0.6 µm/K within three standard uncertainties."""
    rng = np.random.default_rng(2)
    temperature = np.linspace(0.0, 2.0, 100)
    slope, doubt = drift_in_standstill(temperature, DRIFT * temperature + 0.5e-6 * rng.standard_normal(100), 0.5e-6)
    assert pytest.approx(slope, abs=3.0 * doubt) == DRIFT
    assert pytest.approx(doubt, rel=0.02) == 0.5e-6 / math.sqrt(100 * 4.0 / 12.0)  # variance of a uniform 0…2: 4/12


def test_a_temperature_that_stands_still_tells_nothing():
    """The uncertainty is infinite."""
    assert drift_in_standstill([1.0, 1.0], [0.0, 1e-6], 1e-7) == (0.0, math.inf)


def test_a_check_reading_that_shows_more_removal_names_the_foot():
    """Gauge 10 µm, check 13 ± 0.5 µm: foot wear or a film; the estimate moves almost all the way when it is unsure."""
    state = start(replace(CONFIG, zero_uncertainty=0.1e-6), 0.0)
    state.removed = 10e-6
    checked = checked_estimate(state, 1.0, removal=13e-6, uncertainty=0.5e-6)
    assert checked.is_biased
    assert judge(state, 1.0).faults[0].code == "gauge.foot_wear"


def test_a_check_reading_that_shows_less_removal_names_drift():
    """Gauge 10 µm, check 7 ± 0.5 µm."""
    state = start(CONFIG, 0.0)
    state.removed = 10e-6
    checked_estimate(state, 1.0, removal=7e-6, uncertainty=0.5e-6)
    assert judge(state, 1.0).faults[0].code == "gauge.drift"


def test_a_check_reading_narrows_an_unsure_zero():
    """A zero known to 2 µm and a check known to 0.5 µm: weighed 16 to 1, and later readings move along."""
    state = start(replace(CONFIG, zero_uncertainty=2e-6), 0.0)
    state.removed = 10e-6
    state.p11 = 0.0
    checked = checked_estimate(state, 0.0, removal=13e-6, uncertainty=0.5e-6)
    assert not checked.is_biased
    assert pytest.approx(state.removed, abs=1e-9) == 10e-6 + 3e-6 * 4.0 / 4.25
    assert judge(state, 0.0).removed_uncertainty == pytest.approx(0.5e-6 * math.sqrt(4.0 / 4.25))
    assert state.offset == pytest.approx(3e-6 * 4.0 / 4.25)


def test_a_check_needs_an_uncertainty():
    """Unknown is not zero."""
    with pytest.raises(OutOfValidRange, match="uncertainty"):
        checked_estimate(start(CONFIG, 0.0), 0.0, removal=1e-6, uncertainty=0.0)


def slowed_over(seed, *, slow):
    """How far a run at 10 µm/min with an uncertain latency ends from the mean: plain, or slowed near the target."""
    rate, spread = 10e-6 / 60.0, 1.0
    config = EndpointConfig(target=40e-6, rate=rate, latency=2.0, latency_spread=spread)
    truth = RunTruth(rate=rate, duration=600.0, wander=0.03)
    late = float(spread * np.random.default_rng(10_000 + seed).standard_normal())
    run = simulated_run(truth, GaugeTruth(), rng=np.random.default_rng(seed))
    if not slow:
        decision = followed_run(config, run.time.tolist(), run.length.tolist()).decision
        return math.nan if decision.faults else run.removal_at(decision.at + 2.0 + late)
    plan = slow_down_plan(config, rate)
    state, told = start(config, 0.0), False
    position = 0
    while True:
        time, length = float(run.time[position]), float(run.length[position])
        update(state, time, length)
        decision = judge(state, time)
        if decision.advice != "run":
            return math.nan if decision.faults else run.removal_at(decision.at + 2.0 + late)
        if not told and config.target - state.removed < plan.left:
            note_new_rate(state, time, factor=plan.share)
            changed = replace(truth, change_at=time, change=plan.share)
            run, told = simulated_run(changed, GaugeTruth(), rng=np.random.default_rng(seed)), True
        position += 1


def test_slowing_down_halves_the_spread_of_the_end():
    """Thirty runs with a latency of 2 s ± 1 s at 10 µm/min (job map, row 48)."""
    plain, slowed = (np.array([slowed_over(seed, slow=slow) for seed in range(30)]) for slow in (False, True))
    assert np.isnan(plain).sum() + np.isnan(slowed).sum() <= 2  # false stops, one run in a hundred at this rate
    assert np.nanstd(slowed) < 0.5 * np.nanstd(plain)


def test_the_plan_to_slow_down_says_where_and_for_how_long():
    """At a quarter of the rate: 60 s of settling before the stop, and the spread expected is less than half."""
    config = EndpointConfig(target=40e-6, rate=10e-6 / 60.0, latency_spread=1.0)
    plan = slow_down_plan(config, 10e-6 / 60.0)
    assert plan.rate == pytest.approx(2.5e-6 / 60.0)
    assert 2.5e-6 < plan.left < 4e-6
    assert plan.longer == pytest.approx(plan.left * 3.0 / (10e-6 / 60.0))  # four times the time, less the time itself
    assert plan.spread < 0.5 * plan.spread_without


def test_the_spread_of_the_end_is_the_latency_when_nothing_else_is():
    """A gauge without noise or step: rate times spread of the latency."""
    config = EndpointConfig(target=40e-6, rate=RATE, latency_spread=1.0, noise=1e-12, resolution=0.0)
    assert end_spread(config, RATE) == pytest.approx(RATE, rel=1e-3)


@pytest.mark.parametrize(("rate", "share"), [(0.0, 0.5), (1e-7, 0.0), (1e-7, 1.0)])
def test_a_plan_to_slow_down_needs_a_rate_and_a_share(rate, share):
    """Neither nothing nor all."""
    with pytest.raises(OutOfValidRange):
        slow_down_plan(CONFIG, rate, share=share)
