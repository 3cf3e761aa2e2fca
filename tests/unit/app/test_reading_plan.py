"""Readings at each site as the limits ask for them; the uncertainties reckoned by hand with a factor of 1.96."""

import math
from dataclasses import replace

import pytest

from lapwright.app.reading_plan import MOST_PROPOSED, reading_plan
from lapwright.model.order import Limit
from lapwright.model.readings import Gauge
from lapwright.testing.lot import ORDER

GAUGE = Gauge(gauge_id="G1", name="drop gauge", limit=1e-6, local=1e-7, repeatability=2.5e-7)
TTV = replace(ORDER, limits=(Limit(quantity="ttv", upper=2e-6),))


def by_hand(repeats):
    """Two sites, each with the scatter over the root of the readings and the local error, rectangular."""
    return 1.96 * math.sqrt(2.0 * (2.5e-7**2 / repeats + 1e-7**2 / 3.0))


def test_as_many_as_bring_a_quarter_of_the_limit():
    """0.71 µm by one, 0.52 by two, 0.43 by three; a quarter of 2 µm is 0.5."""
    assert by_hand(2) > 0.5e-6 > by_hand(3)
    plan = reading_plan(TTV, GAUGE, sites=9)
    assert (plan.repeats, plan.quantity, plan.is_enough, plan.wanted) == (3, "ttv", True, 0.5e-6)
    assert plan.known_to == pytest.approx(by_hand(3), rel=0.01)
    assert plan.known_by_one == pytest.approx(by_hand(1), rel=0.01)


def test_where_the_gauges_own_error_stays_more_readings_are_not_asked_for():
    """Thickness to ± 1 µm with a gauge that may be 1 µm off all over: nine sites by one are as good as any."""
    order = replace(ORDER, limits=(Limit(quantity="thickness", lower=99e-6, upper=101e-6),))
    plan = reading_plan(order, GAUGE, sites=9)
    assert (plan.repeats, plan.is_enough) == (1, False)
    assert plan.known_to > plan.wanted == pytest.approx(0.25e-6)


def test_without_a_repeatability_or_a_limit_it_says_so():
    """Two show the scatter; without a limit one is enough; never more than a person would take."""
    assert reading_plan(TTV, replace(GAUGE, repeatability=None), sites=9).repeats == 2
    assert reading_plan(replace(ORDER, limits=()), GAUGE, sites=9).repeats == 1
    assert reading_plan(TTV, replace(GAUGE, repeatability=5e-6), sites=9).repeats <= MOST_PROPOSED
