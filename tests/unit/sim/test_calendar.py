"""When the demonstration takes place: the weekdays stay, and the story is past but not by more than a week."""

from datetime import UTC, date, datetime, timedelta

import pytest

from lapwright.errors import BadInput
from lapwright.sim import cast
from lapwright.sim.scenario.calendar import Calendar, beginning, just_ended


@pytest.mark.parametrize(
    "now",
    [
        datetime(2026, 5, 18, 9, 0, tzinfo=UTC),  # the very end, by the cast's own days
        datetime(2026, 5, 18, 8, 59, tzinfo=UTC),
        datetime(2026, 11, 27, 4, 0, tzinfo=UTC),
        datetime(2027, 3, 28, 12, 0, tzinfo=UTC),  # the day on which clocks go forward in Europe
        datetime(2030, 1, 1, tzinfo=UTC),
        datetime(2026, 4, 1, tzinfo=UTC),
    ],
)
def test_the_story_has_ended_within_the_last_week(now):
    """And begins on a Monday at eight, by a clock of Berlin."""
    calendar = just_ended(now)
    ended = calendar.at(cast.STORY_ENDS)
    assert timedelta(0) <= now - ended < timedelta(days=7, hours=1)
    assert (calendar.first_morning.weekday(), calendar.first_morning.hour) == (0, 8)
    assert calendar.moved.days % 7 == 0


def test_winter_has_another_offset_than_summer():
    """Central European Time is one hour ahead of UTC, in summer two."""
    assert beginning(date(2026, 11, 2)).first_morning.utcoffset() == timedelta(hours=1)
    assert beginning(date(2026, 5, 4)).first_morning == cast.FIRST_MORNING


def test_orders_and_calibrations_move_along():
    """The days keep their distance from the first morning; a certificate of another year is numbered by it."""
    moved = beginning(date(2027, 5, 3))
    assert moved.order(cast.ORDER).due - moved.first_morning.date() == cast.ORDER.due - date(2026, 5, 4)
    calibration = moved.calibration(cast.CALIBRATIONS[0])
    assert calibration.certificate == "AW-27-031 (invented)"
    assert calibration.done == date(2027, 2, 8)
    assert Calendar().calibration(cast.CALIBRATIONS[0]) == cast.CALIBRATIONS[0]


def test_a_story_begins_on_a_monday():
    """Another day is refused with its name."""
    with pytest.raises(BadInput, match="2026-05-06 is a Wednesday"):
        beginning(date(2026, 5, 6))
