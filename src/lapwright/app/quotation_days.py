"""When work of so many hours is done, by the hours in which people are there."""

from __future__ import annotations

from datetime import date, timedelta

from lapwright.model.board import ShopHours

MOST_DAYS = 3660


def day_done(start: date, work: float, hours: ShopHours) -> date | None:
    """The day on which work [s] is done that begins on the first day after `start` with somebody there.

    One thing after another: nothing runs beside it, nor unattended. None when it is not done within ten years.
    """
    of_weekday = [0.0] * 7
    for shift in hours.week:
        of_weekday[shift.weekday] += shift.end - shift.start
    day, left = start, work
    for _ in range(MOST_DAYS):
        day += timedelta(days=1)
        if day not in hours.off:
            left -= of_weekday[day.weekday()]
            if left <= 0.0 and of_weekday[day.weekday()] > 0.0:
                return day
    return None
