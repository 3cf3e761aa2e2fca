"""A short seeded campaign: the promises of the stop, a few hundred runs of the thousands in `./dev campaign endpoint`."""

import numpy as np
import pytest

from lapwright.testing.endpoint_campaign import Job, campaign, upper_bound


def test_runs_without_a_fault_end_at_the_target_less_the_margin():
    """60 runs at 0.5 to 10 µm/min: within 0.5 µm, none over by more than 0.5 µm, margins below 1 µm, one false stop."""
    ended = campaign(Job(seed=seed) for seed in range(60))
    good = [outcome for outcome in ended if outcome.advice == "stop_now"]
    assert len(good) >= 59
    assert max(abs(outcome.stop_error) for outcome in good) < 0.5
    assert max(outcome.over for outcome in ended) < 0.5
    assert np.percentile([outcome.margin for outcome in good], [50, 95]).max() < 1.0


@pytest.mark.parametrize(
    ("fault", "within"),
    [("dead", 5.3), ("frozen", 20.0), ("jump_up", 5.0), ("jump_down", 5.0), ("noisy", 15.0), ("backwards", 90.0)],
)
def test_runs_with_a_fault_end_in_time_and_never_over(fault, within):
    """Ten runs of each: a fault stop, in time, and no over-removal beyond 2 µm."""
    ended = campaign(Job(seed=100_000 + seed, fault=fault) for seed in range(10))
    assert {outcome.advice for outcome in ended} == {"stop_fault"}
    assert max(outcome.delay for outcome in ended) < within
    assert max(outcome.over for outcome in ended) < 2.0


def test_a_slurry_run_dry_is_named_before_a_minute_at_two_micrometres_a_minute():
    """Twenty runs; those at 2 µm/min or more are named within 65 s, when about a micrometre is missing."""
    ended = campaign(Job(seed=200_000 + seed, fault="dry") for seed in range(20))
    quick = [one for one in ended if one.rate >= 2.0 and one.codes and one.codes[0] == "run.rate_collapse"]
    assert len(quick) >= 5
    assert max(one.delay for one in quick) < 65.0
    assert np.median([one.missing for one in quick]) < 1.2


def test_drift_that_the_gauge_cannot_tell_stays_inside_the_interval():
    """Twenty runs with up to 2 µm of drift, told as the limit: the 90 % interval holds the truth in at least 16."""
    ended = campaign(Job(seed=300_000 + seed, drift=2e-6) for seed in range(20))
    assert sum(one.inside_interval for one in ended) >= 16
    assert max(one.over for one in ended) < 0.5


def test_the_bound_of_a_share_never_seen_is_three_over_the_runs():
    """None of 10 000: the upper 95 % bound is 2.995e-4, −ln 0.05 over the runs."""
    assert -np.log(0.05) / 10_000 == pytest.approx(upper_bound(0, 10_000), rel=1e-3)
    assert upper_bound(3, 3) == 1.0


def test_outcomes_stand_in_the_order_of_their_jobs():
    """The same seeds give the same runs."""
    jobs = [Job(seed=seed) for seed in (5, 6)]
    assert [one.over for one in campaign(jobs)] == [one.over for one in campaign(reversed(jobs))][::-1]
