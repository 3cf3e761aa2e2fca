"""A short seeded campaign: the promises of the stop, a few hundred runs of the thousands in `./dev campaign endpoint`."""

import numpy as np
import pytest
from scipy.stats import norm

from lapwright.sim.stop_trials import upper_bound
from lapwright.testing.endpoint_bounds import (
    FALSE_STOPS,
    LONGEST,
    best_collapse,
    best_collapse_learnt,
    false_frozen,
    missing_at,
    missing_removal,
)
from lapwright.testing.endpoint_campaign import Job, campaign, kept_campaign


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
    """Twenty runs; those at 2 µm/min or more are named within 60 s, when less than a micrometre is missing."""
    ended = campaign(Job(seed=200_000 + seed, fault="dry") for seed in range(20))
    quick = [one for one in ended if one.rate >= 2.0 and one.codes and one.codes[0] == "run.rate_collapse"]
    assert len(quick) >= 5
    assert max(one.delay for one in quick) < 60.0
    assert np.median([one.missing for one in quick]) < 1.0


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


def test_a_campaign_broken_off_goes_on_where_it_was(tmp_path):
    """What is kept is read and not played again; other seeds are other files."""
    jobs = [Job(seed=seed, fault="dead") for seed in (5, 6)]
    first = kept_campaign("dead", jobs, folder=tmp_path)
    (kept,) = tmp_path.iterdir()
    assert first == campaign(jobs)
    kept.write_text(kept.read_text(encoding="utf-8").replace("gauge.stale", "read.back"), encoding="utf-8")
    assert kept_campaign("dead", jobs, folder=tmp_path)[0].codes == ("read.back",)
    kept_campaign("dead", jobs[:1], folder=tmp_path)
    assert len(list(tmp_path.iterdir())) == 2


def test_the_best_detector_of_dry_slurry_does_what_its_bound_says():
    """4000 simulated pairs at 5 µm/min: told everything, it names half of the collapses at the bound, within 5 sigma."""
    after, missing = best_collapse(5.0, 0.5)
    course = missing_removal(np.arange(0.2, after, 0.2), 5.0)
    noise = np.random.default_rng(1).normal(0.0, np.sqrt(0.25 + 1.0 / 12.0), (4000, course.size))
    limit = np.quantile(np.random.default_rng(2).normal(0.0, 1.0, 2_000_000), 1.0 - 0.005 * after / 1200.0)
    named = (noise + course) @ course / np.sqrt((0.25 + 1.0 / 12.0) * course @ course) > limit
    assert named.mean() == pytest.approx(0.5, abs=0.05)
    assert missing == pytest.approx(missing_removal(np.array([after]), 5.0)[0])


def test_who_must_learn_the_rate_knows_later_and_later_still_if_it_wanders():
    """Told everything, learning a steady rate, learning one that wanders."""
    soon = [best_collapse(5.0, 0.5)[1], *(best_collapse_learnt(5.0, 0.5, wander=one)[1] for one in (1e-9, 0.025))]
    assert soon == sorted(soon)
    assert soon[1] < 1.15 * soon[0]


def test_rows_of_equal_readings_are_as_common_as_computed():
    """Rows of ten equal readings at 5 µm/min, counted in 200 simulated runs of 690 s, within 3 %."""
    rng = np.random.default_rng(3)
    place = np.arange(3450) * 5.0 / 300.0 + rng.random((200, 1))
    shown = np.round(place + 0.5 * rng.standard_normal(place.shape))
    equal = np.diff(shown, axis=1) == 0.0
    rows = np.lib.stride_tricks.sliding_window_view(equal, 9, axis=1).all(axis=2)
    begun = rows[:, 1:] & ~equal[:, : rows.shape[1] - 1]
    assert begun.sum() / 200 == pytest.approx(false_frozen(5.0, within=2.0), rel=0.03)


def test_half_are_named_where_the_fall_reaches_the_deviations_it_counts_from():
    """At a power of one half the test statistic is its threshold; a higher one waits for more."""
    after, missing = best_collapse_learnt(5.0, 0.5)
    threshold = float(norm.isf(FALSE_STOPS * after / LONGEST))

    assert missing_at(5.0, threshold) == pytest.approx(missing, rel=0.02)
    assert missing < missing_at(5.0, threshold + 1.0) < 1.6 * missing
