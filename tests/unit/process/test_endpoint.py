"""The endpoint of a run: the estimate, the stop, and what it says of itself."""

import math

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.process.endpoint import EndpointConfig, is_due, judge, note_new_rate, start, update
from lapwright.process.endpoint_follow import followed_run
from lapwright.sim.runs import GaugeTruth, RunTruth, simulated_run

RATE = 2e-6 / 60.0
GAUGE = GaugeTruth()
CONFIG = EndpointConfig(target=20e-6, rate=RATE)


def followed(config, times, lengths):
    """The state after all readings."""
    state = start(config, 0.0)
    for time, length in zip(times, lengths, strict=True):
        update(state, time, length)
    return state


def run_of(seed, *, rate=RATE, duration=900.0, gauge=GAUGE, **truth):
    """A simulated run."""
    return simulated_run(RunTruth(rate=rate, duration=duration, **truth), gauge, rng=np.random.default_rng(seed))


def test_a_steady_cut_is_read_without_bias():
    """Removal within 0.2 µm and rate within 5 % of the truth after five minutes, at 0.5 µm noise in steps of 1 µm."""
    run = run_of(1, duration=300.0)
    state = followed(CONFIG, run.time.tolist(), run.length.tolist())
    assert run.removal_at(state.time) == pytest.approx(state.removed, abs=0.2e-6)
    assert pytest.approx(state.rate, rel=0.05) == RATE


def test_a_rate_far_from_the_plan_is_learnt():
    """The plan expects 2 µm/min; the plate cuts 5; after two minutes it is known within 5 %."""
    run = run_of(2, rate=5e-6 / 60.0, duration=120.0)
    state = followed(CONFIG, run.time.tolist(), run.length.tolist())
    assert pytest.approx(state.rate, rel=0.05) == 5e-6 / 60.0


def test_the_stop_leaves_the_margin_it_shows():
    """At the end of the latency the true removal is the target less the margin, within 0.2 µm."""
    for seed in range(5):
        run = run_of(seed, decay=0.2)
        decision = followed_run(CONFIG, run.time.tolist(), run.length.tolist()).decision
        assert decision.advice == "stop_now"
        assert CONFIG.target - decision.margin == pytest.approx(run.removal_at(decision.at + 1.0), abs=0.2e-6)


def test_a_longer_latency_stops_earlier_by_what_is_cut_meanwhile():
    """Four seconds more at 10 µm/min: about 0.67 µm earlier."""
    run = run_of(3, rate=10e-6 / 60.0, duration=200.0)
    quick, slow = (
        followed_run(
            EndpointConfig(target=20e-6, rate=10e-6 / 60.0, latency=latency), run.time.tolist(), run.length.tolist()
        ).decision
        for latency in (1.0, 5.0)
    )
    assert pytest.approx(quick.at - slow.at, abs=0.5) == 4.0
    assert run.removal_at(slow.at) < run.removal_at(quick.at)


def test_over_removal_that_costs_more_leaves_more():
    """The margin grows with the price of over-removal, and is nothing when both cost the same."""
    margins = [
        judge(start(EndpointConfig(target=20e-6, rate=RATE, over_to_under=cost), 0.0), 0.0).margin
        for cost in (1.0, 10.0, 1000.0)
    ]
    assert margins == sorted(margins)
    assert pytest.approx(margins[0], abs=1e-12) == 0.0


def test_the_chance_of_being_over_is_half_at_the_target():
    """Removed equals target: as likely over as under."""
    state = start(EndpointConfig(target=20e-6, rate=RATE, zero_uncertainty=1e-6), 0.0)
    state.removed = 20e-6
    assert judge(state, 0.0).chance_over_target == pytest.approx(0.5)


def test_the_interval_of_the_time_left_holds_the_time_left():
    """Halfway, the 90 % interval holds the true moment of the stop in at least 16 of 20 runs."""
    held = 0
    for seed in range(20):
        run = run_of(seed, wander=0.03)
        state = followed(CONFIG, *(half[: len(half) // 3].tolist() for half in (run.time, run.length)))
        decision = judge(state, state.time)
        aim = CONFIG.target - decision.margin
        truth = float(np.interp(aim, run.true_removal, run.true_time)) - state.time
        held += decision.time_left_low <= truth <= (decision.time_left_high or math.inf)
    assert held >= 16


def test_readings_out_of_order_are_left_out():
    """An earlier time changes nothing."""
    state = followed(CONFIG, [1.0, 2.0], [0.0, 1e-6])
    before = (state.removed, state.readings)
    update(state, 1.5, 9e-6)
    assert (state.removed, state.readings) == before


def test_a_silence_short_of_the_limit_is_a_gap_and_the_run_goes_on():
    """Four seconds without a reading: one gap, no fault."""
    times = [*np.arange(0.2, 60.0, 0.2), *np.arange(64.0, 120.0, 0.2)]
    state = followed(CONFIG, times, [RATE * time for time in times])
    assert state.gaps == 1
    assert judge(state, state.time).advice == "run"


def test_a_stop_due_in_a_silence_is_asked_for_in_it():
    """The target falls into a gap of four seconds at 10 µm/min; the stop does not wait for the next reading."""
    rate = 10e-6 / 60.0
    config = EndpointConfig(target=20e-6, rate=rate)
    times = [time for time in np.arange(0.2, 200.0, 0.2).tolist() if not 117.0 < time < 121.0]
    decision = followed_run(config, times, [rate * time for time in times]).decision
    assert decision.advice == "stop_now"
    assert 117.0 < decision.at < 119.0


def test_a_record_that_ends_before_the_stop_stops_for_silence():
    """gauge.stale at the last time and the limit."""
    times = np.arange(0.2, 60.1, 0.2).tolist()
    decision = followed_run(CONFIG, times, [RATE * time for time in times]).decision
    assert (decision.advice, decision.faults[0].code) == ("stop_fault", "gauge.stale")
    assert decision.at == pytest.approx(65.0)
    assert decision.faults[0].time == pytest.approx(65.0)


def test_foot_wear_that_is_known_is_put_right():
    """A foot that hides 3 % of the removal: with the share given, the estimate holds the truth."""
    run = run_of(4, gauge=GaugeTruth(foot_wear=0.03))
    config = EndpointConfig(target=100e-6, rate=RATE, foot_wear=0.03)
    state = followed(config, run.time.tolist(), run.length.tolist())
    assert run.removal_at(state.time) == pytest.approx(state.removed, abs=0.2e-6)


def test_the_quick_question_and_the_full_judgement_agree():
    """`is_due` is true exactly when `judge` advises a stop."""
    run = run_of(5, duration=700.0)
    state = start(CONFIG, 0.0)
    for time, length in zip(run.time.tolist(), run.length.tolist(), strict=True):
        update(state, time, length)
        assert is_due(state, time) == (judge(state, time).advice != "run")


def test_a_coarse_gauge_without_noise_is_followed_between_its_steps():
    """Steps of 1 µm at 0.5 µm/min: no false fault in 8 minutes, and the stop within 1.2 µm below the target."""
    rate = 0.5e-6 / 60.0
    for noise in (0.0, 0.05e-6, 0.1e-6):
        run = run_of(6, rate=rate, gauge=GaugeTruth(noise=noise))
        decision = followed_run(EndpointConfig(target=4e-6, rate=rate), run.time.tolist(), run.length.tolist()).decision
        assert decision.advice == "stop_now", decision.faults
        assert 2.8e-6 < run.removal_at(decision.at + 1.0) < 4.0e-6


def test_a_load_changed_on_purpose_is_no_fault():
    """The rate drops to a quarter because the load was lowered: no collapse is named, and the new rate is learnt."""
    run = run_of(7, change_at=300.0, change=0.25)
    state = start(EndpointConfig(target=50e-6, rate=RATE), 0.0)
    told = False
    for time, length in zip(run.time.tolist(), run.length.tolist(), strict=True):
        if time >= 300.0 and not told:
            told = bool(note_new_rate(state, time, factor=0.25))
        update(state, time, length)
    assert judge(state, state.time).faults == ()
    assert pytest.approx(state.rate, rel=0.25) == 0.25 * RATE


def test_the_same_change_unannounced_is_a_collapse():
    """Nobody said so: the rate collapsed."""
    run = run_of(7, change_at=300.0, change=0.25)
    decision = followed_run(EndpointConfig(target=50e-6, rate=RATE), run.time.tolist(), run.length.tolist()).decision
    assert decision.faults[0].code == "run.rate_collapse"


@pytest.mark.parametrize(
    ("name", "value"),
    [("target", 0.0), ("rate", -1.0), ("stale", 0.0), ("rate_band", 1.0), ("foot_wear", 1.0), ("over_to_under", 0.0)],
)
def test_what_cannot_be_meant_is_refused(name, value):
    """Each by its name."""
    with pytest.raises(OutOfValidRange, match=name):
        EndpointConfig(**{"target": 20e-6, "rate": RATE, name: value})


def test_a_change_of_rate_needs_a_factor():
    """Nothing is no factor."""
    with pytest.raises(OutOfValidRange, match="factor"):
        note_new_rate(start(CONFIG, 0.0), 1.0, factor=0.0)
