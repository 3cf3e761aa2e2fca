"""When to order: against simulated years, and by hand.

Source of the reorder point: Silver, Pyke and Thomas, chapter 6 (from memory). Fact of the trade: one orders before the
stock falls to what the delivery time uses (common practice, no source).
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.errors import OutOfValidRange
from lapwright.process.stock import stock_outlook

DAILY = st.lists(st.floats(0.1, 10.0), min_size=2, max_size=8)


def test_even_use_is_a_division():
    """20 l at 1 l a day last 20 days; with 5 days of delivery one orders at 5 l, in 15 days."""
    found = stock_outlook(20.0, [1.0] * 10, lead_days=5.0)
    assert (found.lasts, found.lasts_low, found.lasts_high) == pytest.approx((20.0, 20.0, 20.0))
    assert (found.reorder_point, found.order_in) == pytest.approx((5.0, 15.0))


def test_planned_work_is_taken_off_first():
    """10 l of work in hand leave 10 l, and are ordered for as well."""
    found = stock_outlook(20.0, [1.0] * 10, lead_days=5.0, planned=10.0)
    assert (found.lasts, found.reorder_point, found.order_in) == pytest.approx((10.0, 15.0, 5.0))


def test_a_year_by_this_rule_runs_dry_as_seldom_as_promised():
    """100 simulated years of gamma use on three days in five, 14 days of delivery: dry in at most 5 % of the deliveries.

    The rule sees only the 90 days before; four standard errors of the share are allowed.
    """
    rng = np.random.default_rng(7)
    dry = orders = 0
    for _ in range(100):
        use = np.where(rng.random(90 + 365) < 0.6, rng.gamma(2.0, 0.5, 90 + 365), 0.0)
        left, coming = 40.0, -1
        for day in range(90, 90 + 365):
            if day == coming:
                dry += left < 0.0
                left, coming = left + 40.0, -1
            left -= use[day]
            if coming < 0:
                found = stock_outlook(max(left, 0.0), use[day - 89 : day + 1].tolist(), lead_days=14.0)
                if found.order_in is not None and found.order_in <= 0.0:
                    coming, orders = day + 14, orders + 1
    share = dry / orders
    assert share <= 0.05 + 4.0 * (0.05 * 0.95 / orders) ** 0.5 + 0.02  # the use of the day of ordering comes on top


def test_the_days_that_a_stock_lasts_are_held_by_nine_in_ten():
    """4000 simulated courses of use against the interval."""
    rng = np.random.default_rng(8)
    found = stock_outlook(60.0, rng.gamma(4.0, 0.25, 2000).tolist(), lead_days=1.0)
    lasted = np.array([(np.cumsum(rng.gamma(4.0, 0.25, 120)) < 60.0).sum() for _ in range(4000)])
    inside = ((lasted >= found.lasts_low - 1.0) & (lasted <= found.lasts_high)).mean()
    assert 0.86 < inside < 0.96


@given(DAILY, st.floats(1.0, 100.0), st.floats(0.5, 20.0))
def test_scaling_use_and_stock_together_changes_no_day(daily, left, factor):
    """Litres or millilitres."""
    one = stock_outlook(left, daily, lead_days=7.0)
    other = stock_outlook(left * factor, [factor * use for use in daily], lead_days=7.0)
    assert other.lasts == pytest.approx(one.lasts, rel=1e-9)
    assert other.order_in == pytest.approx(one.order_in, rel=1e-6, abs=1e-6)


@given(DAILY, st.floats(1.0, 100.0))
def test_more_stock_lasts_longer_and_more_delivery_time_orders_sooner(daily, left):
    """Order of the answers."""
    found = stock_outlook(left, daily, lead_days=7.0)
    assert stock_outlook(left + 1.0, daily, lead_days=7.0).lasts > found.lasts
    assert stock_outlook(left, daily, lead_days=8.0).order_in < found.order_in
    assert found.lasts_low <= found.lasts * (1.0 + 1e-12)
    assert found.lasts_high >= found.lasts * (1.0 - 1e-12)


def test_nothing_used_never_runs_out():
    """And nonsense is refused."""
    assert stock_outlook(5.0, [0.0] * 30, lead_days=7.0).lasts is None
    for wrong in ({"left": -1.0}, {"daily_use": []}, {"service": 1.0}, {"lead_days": float("nan")}):
        with pytest.raises(OutOfValidRange):
            stock_outlook(**{"left": 5.0, "daily_use": [1.0], "lead_days": 7.0, **wrong})
