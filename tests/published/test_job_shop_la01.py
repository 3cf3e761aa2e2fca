"""The first five job shops of Lawrence through our own model."""

from pathlib import Path

import pytest

from lapwright.process.queue import schedule
from lapwright.process.queue_check import schedule_faults
from lapwright.process.queue_measures import Effort
from lapwright.process.queue_rules import dispatch
from lapwright.testing.job_shops import UNIT, job_shop

TABLE = Path(__file__).parent / "data" / "job_shops.csv"
#: Instance and optimal makespan (see sources.toml).
ROWS = (("la01", 666), ("la02", 655), ("la03", 597), ("la04", 590), ("la05", 593))


@pytest.mark.parametrize(("instance", "optimum"), ROWS, ids=lambda value: f"lawrence1984-{value}")
def test_the_optimum_is_reached_and_proved(instance, optimum):
    """The published makespan, and a bound that equals it."""
    shop = job_shop(TABLE, instance)
    found = schedule(shop, effort=Effort(work=20.0), tick=UNIT)
    assert [(one.value / UNIT, one.bound / UNIT) for one in found.reached] == [(optimum, optimum)]
    assert schedule_faults(shop, found.bookings) == ()


@pytest.mark.parametrize(("instance", "optimum"), ROWS, ids=lambda value: f"lawrence1984-{value}")
def test_no_rule_comes_below_the_optimum(instance, optimum):
    """A schedule by a plain rule that ended earlier would have broken one."""
    shop = job_shop(TABLE, instance)
    for rule in ("first_come", "due", "family"):
        assert max(one.end for one in dispatch(shop, rule)) >= optimum * UNIT
