"""Run lengths beside the published ones: simulation, exact counts, wrong questions."""

import numpy as np
import pytest
from scipy import stats

from lapwright.errors import OutOfValidRange
from lapwright.metrology.run_length import (
    count_run_length,
    cusum_run_length,
    ewma_run_length,
    share_run_length,
    shewhart_run_length,
)


def test_a_cusum_by_simulation():
    """K 0.5, h 4, one deviation off: 4000 runs, four standard errors."""
    rng, lengths = np.random.default_rng(3), []
    for _ in range(4000):
        total, count = 0.0, 0
        while total <= 4.0:
            total, count = max(0.0, total + rng.normal(1.0) - 0.5), count + 1
        lengths.append(count)
    assert cusum_run_length(0.5, 4.0, shift=1.0) == pytest.approx(np.mean(lengths), abs=4 * np.std(lengths) / 4000**0.5)


def test_a_weight_of_one_is_a_plain_chart():
    """EWMA with λ 1 forgets everything."""
    assert shewhart_run_length(3.0, shift=0.6) == pytest.approx(ewma_run_length(1.0, 3.0, shift=0.6), rel=1e-9)


def test_counts_and_shares_agree_with_scipy():
    """Exact sums of Poisson and binomial chances."""
    counts, shares = stats.poisson(16.0), stats.binom(50, 0.2313)
    assert 1 / (counts.cdf(3) + counts.sf(28)) == pytest.approx(count_run_length(16.0, lower=4.0, upper=28.0), rel=1e-9)
    assert 1 / (shares.cdf(2) + shares.sf(20)) == pytest.approx(
        share_run_length(0.2313, size=50, lower=0.0524, upper=0.4102), rel=1e-9
    )
    assert share_run_length(0.5, size=4, lower=-1.0, upper=2.0) == np.inf


@pytest.mark.parametrize(
    "call",
    [
        lambda: shewhart_run_length(0.0),
        lambda: cusum_run_length(0.5, 0.0),
        lambda: ewma_run_length(1.5, 3.0),
        lambda: ewma_run_length(0.5, 0.0),
        lambda: count_run_length(0.0, lower=0.0, upper=1.0),
        lambda: share_run_length(1.0, size=5, lower=0.0, upper=1.0),
    ],
)
def test_wrong_questions(call):
    """Refused."""
    with pytest.raises(OutOfValidRange):
        call()
