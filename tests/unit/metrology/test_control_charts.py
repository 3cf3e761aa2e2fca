"""Control charts beside the published ones: loops agree, wrong questions are refused."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.control_charts import (
    count_chart,
    cusum_chart,
    ewma_chart,
    individuals_chart,
    mean_chart,
    moving_range_chart,
    range_factors,
    share_chart,
)

VALUE = np.random.default_rng(2).normal(10.0, 2.0, 500)


def test_weighted_mean_agrees_with_a_loop():
    """Point by point."""
    z, points = 10.0, [10.0]
    for x in VALUE:
        z = 0.2 * x + 0.8 * z
        points.append(z)
    assert points == pytest.approx(ewma_chart(VALUE, weight=0.2, target=10.0, sigma=2.0).points.tolist(), rel=1e-12)


@pytest.mark.parametrize("headstart", [0.0, 2.5])
def test_sums_agree_with_a_loop(headstart):
    """Both sides, with a headstart."""
    upper, lower = cusum_chart(VALUE, target=10.0, sigma=2.0, headstart=headstart)
    for side, chart in ((1, upper), (-1, lower)):
        total, points = headstart, []
        for x in VALUE:
            total = max(0.0, total + side * (x - 10.0) / 2.0 - 0.5)
            points.append(total)
        assert points == pytest.approx(chart.points.tolist(), abs=1e-9)


def test_a_headstart_signals_sooner():
    """A process that begins two deviations off."""
    off = np.full(10, 12.0)
    plain, ahead = (cusum_chart(off, target=10.0, sigma=1.0, headstart=head)[0].signals[0].index for head in (0.0, 2.5))
    assert ahead < plain


def test_exact_limits_grow_to_the_steady_ones():
    """Narrower at first: λσL at the first value."""
    chart = ewma_chart(VALUE, weight=0.2, target=10.0, sigma=2.0, steady=False)
    assert pytest.approx(chart.upper[1]) == 10.0 + 3 * 0.2 * 2.0
    assert chart.upper[-1] == pytest.approx(ewma_chart(VALUE, weight=0.2, target=10.0, sigma=2.0).upper[-1])


def test_range_and_moving_range_limits():
    """D4 of two values is 3.267; of five 2.114."""
    assert pytest.approx(moving_range_chart(np.array([1.0, 2.0, 1.0])).upper[0], abs=5e-4) == 3.267
    _, ranges = mean_chart(VALUE.reshape(100, 5))
    assert 2.114 * ranges.centre == pytest.approx(ranges.upper[0], rel=3e-4)
    assert ranges.lower[0] == 0.0


def test_constant_values_give_no_signal_and_no_warning():
    """Nothing moves: limits on the line, nothing outside."""
    assert individuals_chart(np.full(20, 4.0)).signals == ()


def test_a_lower_limit_of_counts_is_never_below_nought():
    """A mean of four."""
    assert count_chart(np.array([3.0, 5.0, 4.0])).lower[0] == 0.0


def test_shares_of_samples_of_different_size():
    """Wider limits for the smaller sample."""
    chart = share_chart(np.array([5.0, 10.0]), np.array([50.0, 100.0]))
    assert chart.upper[0] > chart.upper[1]


@pytest.mark.parametrize(
    "call",
    [
        lambda: range_factors(1),
        lambda: individuals_chart(np.array([1.0])),
        lambda: individuals_chart(np.array([1.0, np.nan])),
        lambda: individuals_chart(VALUE, sigma=-1.0),
        lambda: ewma_chart(VALUE, weight=0.0, target=0.0, sigma=1.0),
        lambda: ewma_chart(VALUE, weight=0.5, target=0.0, sigma=0.0),
        lambda: cusum_chart(VALUE, target=0.0, sigma=1.0, headstart=6.0),
        lambda: cusum_chart(VALUE, target=0.0, sigma=1.0, reference=-0.5),
        lambda: count_chart(np.array([1.0, -1.0])),
        lambda: share_chart(np.array([5.0]), np.array([4.0])),
        lambda: mean_chart(VALUE[:, None]),
    ],
)
def test_wrong_questions(call):
    """Refused, not clipped."""
    with pytest.raises(OutOfValidRange):
        call()


def test_counts_and_sizes_belong_together():
    """One size for each count."""
    with pytest.raises(ShapeMismatch):
        share_chart(np.array([1.0, 2.0]), np.array([50.0]))
