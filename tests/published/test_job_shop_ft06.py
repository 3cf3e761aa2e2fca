"""The job shops of Fisher and Thompson through our own model."""

from pathlib import Path

from lapwright.process.queue import schedule
from lapwright.process.queue_check import schedule_faults
from lapwright.process.queue_measures import Effort
from lapwright.testing.job_shops import UNIT, job_shop

TABLE = Path(__file__).parent / "data" / "job_shops.csv"


def test_ft06_is_solved_and_proved():
    """ft06: optimal makespan 55, proved by the bound."""
    shop = job_shop(TABLE, "ft06")
    found = schedule(shop, effort=Effort(work=20.0), tick=UNIT)
    assert [(one.aim, one.value / UNIT, one.bound / UNIT) for one in found.reached] == [("makespan", 55.0, 55.0)]
    assert max(one.end for one in found.bookings) == 55.0 * UNIT
    assert schedule_faults(shop, found.bookings) == ()


def test_ft10_is_never_beaten_and_always_bounded():
    """ft10: no schedule below 930, no bound above it, and within a tenth after a second of work.

    With enough work 930 is found and proved; that takes some ten seconds and stands in the report of the campaign.
    """
    shop = job_shop(TABLE, "ft10")
    found = schedule(shop, effort=Effort(work=0.4), tick=UNIT)
    (makespan,) = found.reached
    assert 930.0 * UNIT <= makespan.value <= 1.1 * 930.0 * UNIT
    assert makespan.bound <= 930.0 * UNIT
    assert schedule_faults(shop, found.bookings) == ()
