"""The days of the Board that are shown at once, and the others, one press away."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.http import QueryDict
from django.utils.formats import date_format

from lapwright.app.queue import Board
from lapwright.app.queue_shop import laboratory_zone
from lapwright.model.board import PlannedTask
from lapwright.web.sentences import day_form

AT_ONCE = 3  # days


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A few days as one press: its words, how many tasks begin in it, the address behind it, whether it is shown."""

    words: str
    tasks: int
    query: str
    is_shown: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The days that are shown, when they begin and end [s since 1970], and all stretches of the schedule."""

    days: tuple[date, ...]
    start: float
    end: float
    stretches: tuple[Stretch, ...]

    def holds(self, task: PlannedTask | None) -> bool:
        """Whether a task is under way in these days."""
        return task is not None and task.begin < self.end and task.end > self.start


def window_of(board: Board, asked: QueryDict, task: PlannedTask | None) -> Window:
    """The stretch with the day that is asked for (`?day=`), else with the task that is, else the first."""
    zone = laboratory_zone()
    starts = [datetime.fromtimestamp(one.start, tz=zone).date() for one in board.tasks]
    days = sorted({*starts, *(datetime.fromtimestamp(one.end, tz=zone).date() for one in board.tasks)})
    groups = [tuple(days[first : first + AT_ONCE]) for first in range(0, len(days), AT_ONCE)]
    wanted = _asked_day(asked) or (None if task is None else day_of(task.start))
    firsts = [group[0] for group in groups]
    shown = 0 if wanted is None else max(0, bisect_right(firsts, wanted) - 1)
    begun = [0] * len(groups)
    for start in starts:
        begun[bisect_right(firsts, start) - 1] += 1
    if not groups:
        return Window(days=(), start=0.0, end=0.0, stretches=())
    return Window(
        days=groups[shown],
        start=_midnight(groups[shown][0]),
        end=_midnight(groups[shown][-1] + timedelta(days=1)),
        stretches=tuple(
            Stretch(words=_words(group), tasks=begun[place], query=_query(asked, group[0]), is_shown=place == shown)
            for place, group in enumerate(groups)
        ),
    )


def day_of(seconds: float) -> date:
    """The day of a moment by the laboratory's clock."""
    return datetime.fromtimestamp(seconds, tz=laboratory_zone()).date()


# ----------------------------------------------------------------------------------------------------------------------


def _asked_day(asked: QueryDict) -> date | None:
    try:
        return date.fromisoformat(asked.get("day", "")[:10])
    except ValueError:
        return None


def _midnight(day: date) -> float:
    return datetime(day.year, day.month, day.day, tzinfo=laboratory_zone()).timestamp()


def _query(asked: QueryDict, day: date) -> str:
    others = asked.copy()
    others.pop("task", None)
    others["day"] = day.isoformat()
    return others.urlencode()


def _words(days: tuple[date, ...]) -> str:
    first, last = (date_format(day, day_form("j M")) for day in (days[0], days[-1]))
    return first if first == last else f"{first} – {last}"
