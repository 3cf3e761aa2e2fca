"""CUSUM and EWMA of the thirty readings of the textbook's table 9.1."""

from pathlib import Path

import pytest

from lapwright.metrology.control_charts import cusum_chart, ewma_chart
from lapwright.testing.checks_charts import series

VALUE = series(Path(__file__).parent / "data", "montgomery_cusum")


def test_the_sum_crosses_five_at_reading_29():
    """C+ 5.28 at reading 29, seven readings after it left nought; 5.30 at reading 30."""
    upper, lower = cusum_chart(VALUE, target=10.0, sigma=1.0)
    assert upper.signals[0].index == 28
    assert pytest.approx(upper.points[28:].tolist(), abs=5e-3) == (5.28, 5.30)
    assert all(upper.points[22:29] > 0.0)
    assert upper.points[21] == 0.0
    assert lower.signals == ()


def test_the_weighted_mean_leaves_its_limits_at_reading_29():
    """With λ 0.1 and L 2.7 and exact limits; z 9.945, 9.7495, …, 10.64682; steady limits 10.6194 and 9.3806."""
    steady = ewma_chart(VALUE, weight=0.1, target=10.0, sigma=1.0, limit=2.7)
    exact = ewma_chart(VALUE, weight=0.1, target=10.0, sigma=1.0, limit=2.7, steady=False)
    assert pytest.approx(steady.points[[1, 2, 28, 29, 30]].tolist(), abs=5e-6) == (
        9.945,
        9.7495,
        10.57314,
        10.64682,
        10.63414,
    )
    assert pytest.approx((steady.lower[0], steady.upper[0]), abs=5e-5) == (9.3806, 10.6194)
    assert exact.signals[0].index == 29
