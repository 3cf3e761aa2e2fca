"""The bank of filters against batch formulas of normal beliefs."""

import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from lapwright.process.learning_filter import (
    Belief,
    first_belief,
    member_predictions,
    mixed,
    updated,
    usual_spreads,
    widened,
)
from lapwright.testing.digits import digits_agreeing
from lapwright.testing.tables import numbers, published_table


def history(seed=3, runs=25, effects=4):
    """Loadings and values of made-up runs."""
    generator = np.random.default_rng(seed)
    loadings = generator.standard_normal((runs, effects))
    return loadings, loadings @ np.array([0.3, -0.2, 0.1, 0.0]) + 0.1 * generator.standard_normal(runs)


def one_filter(variance):
    """A bank of one filter with independent effects."""
    return first_belief(np.zeros(variance.size), variance[None, :], np.ones(1))


def taught(belief, loadings, values, noise_variance):
    """The belief after all runs, and the sum of the logarithms of what was expected of each."""
    evidence, effects = 0.0, np.arange(loadings.shape[1])
    for row, value in zip(loadings, values, strict=True):
        mean, variance = member_predictions(belief, effects, row, noise_variance)
        evidence += float(stats.norm.logpdf(value, mean[0], math.sqrt(variance[0])))
        belief = updated(belief, effects, row, value=value, noise_variance=noise_variance, memory=1.0)
    return belief, evidence


def test_run_by_run_is_the_batch_posterior():
    """Mean (X'X/s² + V⁻¹)⁻¹ X'y/s² and its covariance, the textbook form of a normal belief."""
    loadings, values = history()
    prior = np.array([0.2, 0.5, 1.0, 0.1])
    belief, _ = taught(one_filter(prior), loadings, values, np.full(1, 0.01))
    covariance = np.linalg.inv(loadings.T @ loadings / 0.01 + np.diag(1.0 / prior))
    assert covariance @ loadings.T @ values / 0.01 == pytest.approx(belief.mean[0], rel=1e-9)
    assert covariance == pytest.approx(belief.covariance[0], rel=1e-8, abs=1e-12)


def test_predictions_multiply_to_the_marginal_likelihood():
    """Scipy's normal density of all values at once, covariance X V X' + s² I."""
    loadings, values = history()
    prior = np.array([0.2, 0.5, 1.0, 0.1])
    _, evidence = taught(one_filter(prior), loadings, values, np.full(1, 0.01))
    whole = stats.multivariate_normal(np.zeros(values.size), loadings @ np.diag(prior) @ loadings.T + 0.01 * np.eye(25))
    assert whole.logpdf(values) == pytest.approx(evidence, rel=1e-10)


def test_weights_are_posterior_odds_of_the_spreads():
    """Two filters with memory 1: weights in the ratio of the marginal likelihoods times the first weights."""
    loadings, values = history()
    noise = np.array([0.01, 0.04])
    belief = first_belief(np.zeros(4), np.ones((2, 4)), np.array([0.3, 0.7]))
    for row, value in zip(loadings, values, strict=True):
        belief = updated(belief, np.arange(4), row, value=value, noise_variance=noise, memory=1.0)
    whole = [
        stats.multivariate_normal(np.zeros(25), loadings @ loadings.T + one * np.eye(25)).logpdf(values)
        for one in noise
    ]
    odds = 0.3 / 0.7 * math.exp(whole[0] - whole[1])
    assert odds == pytest.approx(belief.weight[0] / belief.weight[1], rel=1e-8)


@pytest.mark.parametrize(("ratio", "gain"), [(1.0, 0.6180340), (0.1, 0.2701562), (0.0973, 0.2670505)])
def test_a_wandering_level_forgets_exponentially(ratio, gain):
    """Steady gain (-q + sqrt(q² + 4q))/2, seven digits; a second source is scipy's Riccati solver."""
    from scipy.linalg import solve_discrete_are

    belief, effect, one = one_filter(np.ones(1)), np.zeros(1, dtype=np.intp), np.ones(1)
    for _ in range(400):
        belief = widened(belief, 0, ratio)
        before = belief.mean[0, 0]
        belief = updated(belief, effect, one, value=before + 1.0, noise_variance=np.ones(1))
    eye = np.eye(1)
    ahead = float(solve_discrete_are(eye, eye, ratio * eye, eye)[0, 0])
    assert gain == pytest.approx(belief.mean[0, 0] - before, abs=6e-8)
    assert ahead / (ahead + 1.0) == pytest.approx(gain, abs=6e-8)


def test_one_student_t_has_the_moments_of_the_mixture():
    """Variance and kurtosis of scipy's t equal those of half a million draws from the mixture."""
    weight, deviation = np.array([0.5, 0.3, 0.2]), np.array([0.1, 0.15, 0.25])
    found = mixed(weight, np.zeros(3), deviation**2, 0.5 * deviation**2)
    variance, kurtosis = stats.t.stats(found.degrees_of_freedom, scale=found.scale, moments="vk")
    total = float(weight @ deviation**2)
    assert total == pytest.approx(float(variance), rel=1e-9)
    assert 3.0 * float(weight @ deviation**4) / total**2 - 3.0 == pytest.approx(float(kurtosis), rel=1e-9)


def test_a_mixture_of_equals_is_normal():
    """No excess kurtosis: degrees of freedom at their cap."""
    found = mixed(np.full(4, 0.25), np.full(4, 2.0), np.full(4, 0.04), np.full(4, 0.01))
    assert (found.degrees_of_freedom, found.mean) == (200.0, 2.0)


def test_the_usual_spreads_centre_on_what_is_said_of_runs():
    """Root mean square of a run's scatter 0.15, which is common practice for one fixed recipe."""
    spreads = usual_spreads()
    assert pytest.approx(math.sqrt(spreads.weight @ spreads.scatter**2), abs=0.005) == 0.15
    assert isinstance(one_filter(np.ones(1)), Belief)


def test_certified_line_through_the_filter():
    """NIST StRD Norris, B0 -0.262323073774029, B1 1.00211681802045: seven digits through a belief that is nearly none.

    The intercept is small beside the values, so that a prior variance of 1e9 costs it some digits; slope seven.
    """
    table = published_table(Path(__file__).parents[2] / "published" / "data" / "nist_strd_norris.csv")
    x, y = numbers(table["x"]), numbers(table["y"])
    belief = first_belief(np.zeros(2), np.full((1, 2), 1e9), np.ones(1))
    for place, value in zip(x, y, strict=True):
        loadings = np.array([1.0, place / 1000.0])
        belief = updated(belief, np.arange(2), loadings, value=float(value), noise_variance=np.full(1, 0.7828))
    assert digits_agreeing(belief.mean[0, 1] / 1000.0, 1.00211681802045) >= 7
    assert digits_agreeing(belief.mean[0, 0], -0.262323073774029) >= 4
    deviations = np.sqrt(np.diag(belief.covariance[0]))
    assert deviations == pytest.approx([0.232818234301152, 0.429796848199937], rel=1e-3)


def test_long_tails_weigh_the_guesses_by_students_law():
    """Two guesses of the scatter, one run far off: the ratio of their chances is that of scipy's t of that variance."""
    noise, tails = np.array([0.01, 0.09]), 8.0
    belief = first_belief(np.zeros(1), np.full((2, 1), 0.04), np.full(2, 0.5))
    found = updated(belief, np.arange(1), np.ones(1), value=0.8, noise_variance=noise, memory=1.0, tails=tails)
    scale = np.sqrt((0.04 + noise) * (tails - 2.0) / tails)
    density = stats.t.pdf(0.8, tails, scale=scale)

    assert found.weight == pytest.approx(density / density.sum())


def test_with_long_tails_a_run_far_off_teaches_less_and_one_close_by_more():
    """Beside the normal law; as the degrees grow the two are one."""
    belief, noise = first_belief(np.zeros(1), np.full((1, 1), 0.04), np.ones(1)), np.full(1, 0.04)

    def moved(value, tails):
        after = updated(belief, np.arange(1), np.ones(1), value=value, noise_variance=noise, tails=tails)
        return float(after.mean[0, 0]) / value

    assert moved(2.0, 8.0) < moved(2.0, math.inf) < moved(0.05, 8.0)
    assert moved(2.0, 1e9) == pytest.approx(moved(2.0, math.inf), rel=1e-6)
