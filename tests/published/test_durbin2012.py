"""The local level of the flow of a river: published variances, likelihood and gain."""

import math

import numpy as np
import pytest

from lapwright.process.learning_filter import first_belief, member_predictions, updated, widened

#: Variances of noise and of level, log-likelihood (diffuse start) and steady gain as printed.
NOISE, LEVEL, LOG_LIKELIHOOD, GAIN = 15_099.0, 1_469.1, -632.54, 0.267


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_likelihood_and_gain_of_the_river():
    """Predictions of every year but the first multiply to the likelihood; the gain settles where it is printed."""
    nile = pytest.importorskip("statsmodels.datasets.nile")
    flow = nile.load_pandas().data["volume"].to_numpy(dtype=np.float64)
    effect, one, noise = np.zeros(1, dtype=np.intp), np.ones(1), np.full(1, NOISE)
    belief = first_belief(np.zeros(1), np.full((1, 1), 1e7), np.ones(1))
    likelihood, gain = 0.0, math.nan
    for year, value in enumerate(flow):
        mean, variance = member_predictions(belief, effect, one, noise)
        if year:
            likelihood += float(-0.5 * (np.log(2 * math.pi * variance) + (value - mean) ** 2 / variance)[0])
        after = updated(belief, effect, one, value=float(value), noise_variance=noise)
        gain = float((after.mean - belief.mean)[0, 0] / (value - mean[0]))
        belief = widened(after, 0, LEVEL)
    assert pytest.approx(likelihood, abs=0.1) == LOG_LIKELIHOOD
    assert pytest.approx(gain, abs=0.0005) == GAIN
