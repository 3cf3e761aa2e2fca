"""When the story takes place: as the cast has it, or so many weeks later that it has just ended.

Whole weeks only, so that every working day stays the day of the week it is, and the same seed gives the same story. The
clock of the laboratory keeps the offset from UTC that it has on the first morning.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

from lapwright.errors import BadInput, Fault
from lapwright.model.order import Order
from lapwright.model.readings import Calibration
from lapwright.sim import cast

WEEK = timedelta(weeks=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """How far the story is moved, in whole weeks, and the offset of its clock."""

    moved: timedelta = timedelta(0)
    zone: tzinfo = cast.LOCAL

    @property
    def first_morning(self) -> datetime:
        """When the story begins."""
        return self.at(cast.FIRST_MORNING)

    def at(self, moment: datetime) -> datetime:
        """A moment of the cast's, by the laboratory's clock."""
        return (moment.replace(tzinfo=None) + self.moved).replace(tzinfo=self.zone)

    def order(self, order: Order) -> Order:
        """An order of the cast's with its day moved."""
        return replace(order, due=None if order.due is None else order.due + self.moved)

    def calibration(self, calibration: Calibration) -> Calibration:
        """A calibration of the cast's with its days moved, numbered by its year."""
        done = calibration.done + self.moved
        certificate = calibration.certificate.replace(f"-{calibration.done:%y}-", f"-{done:%y}-")
        return replace(calibration, certificate=certificate, done=done, due=calibration.due + self.moved)


def beginning(first_day: date) -> Calendar:
    """The calendar of a story that begins on a day. Raises `BadInput` when that is no Monday."""
    if first_day.weekday() != cast.FIRST_MORNING.weekday():
        sentence = f"{first_day:%Y-%m-%d} is a {first_day:%A}; the story begins on a Monday. Give one, as 2026-05-04."
        raise BadInput([Fault(sentence=sentence, field="first_day")])
    moved = first_day - cast.FIRST_MORNING.date()
    morning = datetime.combine(first_day, cast.FIRST_MORNING.time(), tzinfo=ZoneInfo(cast.TIME_ZONE))
    offset = morning.utcoffset()
    return Calendar(moved=moved, zone=cast.LOCAL if offset is None else timezone(offset))


def just_ended(now: datetime) -> Calendar:
    """The latest calendar by which the whole story is past."""
    weeks = (now - cast.STORY_ENDS) // WEEK
    found = beginning(cast.FIRST_MORNING.date() + weeks * WEEK)
    if found.at(cast.STORY_ENDS) > now:  # the clock was put back meanwhile
        found = beginning(cast.FIRST_MORNING.date() + (weeks - 1) * WEEK)
    return found
