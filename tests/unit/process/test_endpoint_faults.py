"""Every fault of a stream: named, within its time, with a sentence that says what to do."""

import numpy as np
import pytest

from lapwright.process.endpoint import EndpointConfig
from lapwright.process.endpoint_follow import followed_run
from lapwright.sim.runs import NO_FAULT, GaugeTruth, PlantedFault, RunTruth, simulated_run

RATE = 5e-6 / 60.0
AT = 200.0
GAUGE = GaugeTruth()
#: planted fault, its size, codes that may name it, seconds until the stop
PLANTED = (
    ("dead", 0.0, {"gauge.stale"}, 5.3),
    ("frozen", 0.0, {"gauge.frozen"}, 5.1),
    ("jump_up", 8e-6, {"gauge.jump"}, 3.0),
    ("jump_down", 8e-6, {"gauge.jump"}, 3.0),
    ("backwards", 0.0, {"gauge.backwards", "run.rate_collapse"}, 30.0),
    ("dry", 0.3, {"run.rate_collapse"}, 60.0),
    ("surge", 3.0, {"run.rate_surge"}, 30.0),
    ("noisy", 6.0, {"gauge.noisy"}, 10.0),
)


def stopped(seed, fault=NO_FAULT, *, gauge=GAUGE, rate=RATE, planned=RATE, target=60e-6, **truth):
    """The decision at the stop of a simulated run, and the run."""
    run = simulated_run(
        RunTruth(rate=rate, duration=900.0, **truth), gauge, rng=np.random.default_rng(seed), fault=fault
    )
    config = EndpointConfig(target=target, rate=planned)
    return followed_run(config, run.time.tolist(), run.length.tolist()).decision, run


@pytest.mark.parametrize(("kind", "size", "codes", "within"), PLANTED, ids=[case[0] for case in PLANTED])
def test_a_planted_fault_is_named_in_its_time(kind, size, codes, within):
    """Five runs each, no over-removal, a sentence that ends in advice."""
    for seed in range(10, 15):
        decision, run = stopped(seed, PlantedFault(kind=kind, at=AT, size=size))
        assert decision.advice == "stop_fault"
        assert decision.faults[0].code in codes, seed
        assert AT < decision.at < AT + within
        assert run.removal_at(decision.at + 1.0) < 60e-6
        assert decision.faults[0].sentence.count(".") >= 2


def test_a_fine_gauge_that_freezes_at_a_fast_cut_is_frozen_and_not_noisy():
    """30 µm/min and a noise of 0.1 µm: the repeated value is soon too far off to be believed, and was once believed."""
    rate, config = 30e-6 / 60.0, EndpointConfig(target=60e-6, rate=30e-6 / 60.0, noise=0.1e-6, resolution=1e-7)
    times = [0.1 * step for step in range(1, 1200)]
    decision = followed_run(config, times, [round(rate * min(time, 50.0) * 1e7) / 1e7 for time in times]).decision
    assert [fault.code for fault in decision.faults] == ["gauge.frozen"]
    assert 50.0 < decision.at < 55.0


def test_a_film_that_forms_at_the_start_is_named():
    """A step of 6 µm in the first second: zero again, running."""
    run = simulated_run(RunTruth(rate=RATE, duration=100.0), GaugeTruth(), rng=np.random.default_rng(1))
    lengths = run.length - np.where(run.time > 1.0, 6e-6, 0.0)
    decision = followed_run(EndpointConfig(target=60e-6, rate=RATE), run.time.tolist(), lengths.tolist()).decision
    assert decision.faults[0].code == "gauge.film_step"
    assert "slurry" in decision.faults[0].sentence


def test_a_film_that_forms_slowly_is_named_after_the_first_minute():
    """6 µm in ten seconds, too slow for a jump: the line of the first minute does not begin at the zero."""
    rate = 1e-6 / 60.0
    run = simulated_run(RunTruth(rate=rate, duration=200.0), GaugeTruth(), rng=np.random.default_rng(2))
    lengths = run.length - 6e-6 * (1.0 - np.exp(-run.time / 4.0))
    decision = followed_run(EndpointConfig(target=60e-6, rate=rate), run.time.tolist(), lengths.tolist()).decision
    assert {fault.code for fault in decision.faults} & {"gauge.film_step", "gauge.backwards"}
    assert decision.at < 70.0


def test_a_slow_start_is_no_film():
    """40 % of the rate missing at first, made good in 15 s, at 10 µm/min: no fault."""
    rate = 10e-6 / 60.0
    decision, _ = stopped(3, rate=rate, planned=rate, climb=0.4, climb_time=15.0, target=30e-6)
    assert decision.advice == "stop_now"


def test_a_rate_unlike_the_plan_is_named():
    """Four times the rate that the plan expects within a factor of three."""
    decision, _ = stopped(4, rate=4.0 * RATE, planned=RATE, target=200e-6)
    assert decision.faults[0].code == "run.rate_unlike_plan"


def test_single_wild_readings_are_passed_over():
    """One in fifty is up to 10 µm off: the stop is right all the same."""
    for seed in range(10, 15):
        decision, run = stopped(seed, gauge=GaugeTruth(wild=0.02))
        assert decision.advice == "stop_now"
        assert run.removal_at(decision.at + 1.0) == pytest.approx(60e-6 - decision.margin, abs=0.3e-6)


def test_a_stream_of_wild_readings_is_named():
    """Every second reading is wild: the gauge is noisy, or has jumped."""
    run = simulated_run(RunTruth(rate=RATE, duration=300.0), GaugeTruth(), rng=np.random.default_rng(5))
    lengths = run.length + np.where(
        (run.time > 100.0) & (np.arange(run.time.size) % 2 == 0), 30e-6 * np.sign(np.sin(run.time)), 0.0
    )
    decision = followed_run(EndpointConfig(target=60e-6, rate=RATE), run.time.tolist(), lengths.tolist()).decision
    assert decision.faults[0].code == "gauge.noisy"


def test_a_gauge_frozen_from_the_start_is_named():
    """One value and nothing else, on a gauge that may be coarser than its noise: within three steps' time, 36 s."""
    times = np.arange(0.2, 60.0, 0.2).tolist()
    decision = followed_run(EndpointConfig(target=60e-6, rate=RATE), times, [0.0] * len(times)).decision
    assert decision.faults[0].code == "gauge.frozen"
    assert decision.at < 36.0
