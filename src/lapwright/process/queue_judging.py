"""What schedules come to in each aim, in whole ticks, and which of two is the better; kept quick, it is asked often."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from lapwright.model.queue import Booking, Shop
from lapwright.process.queue_floor import Floor
from lapwright.process.queue_measures import Aim

#: What jobs beyond the bound, and the work of places, count beside the end of all, so that the search sees a slope.
_BEYOND, _BUSY = 0.05, 0.02


class Judge:
    """Worths of schedules of one shop; `held` are aims that must not get worse again."""

    def __init__(self, shop: Shop, tick: float, aims: Sequence[Aim], previous: Sequence[Booking], bound: float) -> None:
        self.aims = tuple(aims)
        self.held: dict[Aim, int] = {}
        self._tick, self._previous, self._bound = tick, previous, bound
        self._due = {job.job_id: (job.due, job.priority) for job in shop.jobs if job.due is not None}
        self._rests = [(task.task_id, task.job_id, task.rest) for task in shop.tasks]

    def worth(self, aim: Aim, bookings: Sequence[Booking]) -> int:
        """What a schedule comes to in one aim: ticks of lateness times priority or of makespan, or a count."""
        return self._worths(bookings)[aim]

    def score(self, bookings: Sequence[Booking]) -> tuple[int, ...]:
        """What a schedule comes to, aim by aim; the less the better."""
        worths = self._worths(bookings)
        return tuple(worths[aim] for aim in self.aims)

    def keeps_held(self, bookings: Sequence[Booking]) -> bool:
        """Whether no aim that is held gets worse."""
        worths = self._worths(bookings)
        return all(worths[aim] <= value for aim, value in self.held.items())

    def slope(self, aim: Aim, bookings: Sequence[Booking]) -> tuple[float, ...]:
        """As `score` from an aim on, its own with what leads further down; infinite where a held one gets worse."""
        worths = self._worths(bookings)
        if any(worths[one] > value for one, value in self.held.items()):
            return (math.inf,)
        own: float = worths[aim]
        if aim == "makespan":
            own += _BEYOND * self._beyond({one.task_id: one.end for one in bookings}) / self._tick
        rest = self.aims[self.aims.index(aim) + 1 :]
        return (own, *(worths[one] for one in rest))

    def energy(self, aim: Aim, floor: Floor) -> float:
        """One number [s] for loads as they are placed, infinite where a held aim gets worse."""
        changes = sum(load.start > load.begin for load in floor.loads)
        worths = self._worths(floor.bookings()) if self._previous else self._counted(floor.ends, changes, 0)
        if any(worths[one] > value for one, value in self.held.items()):
            return math.inf
        busy = math.fsum(load.end - load.begin for load in floor.loads)
        value = worths[aim] * self._tick + _BUSY * busy
        return value + _BEYOND * self._beyond(floor.ends) if aim == "makespan" else value

    # ------------------------------------------------------------------------------------------------------------------

    def _worths(self, bookings: Sequence[Booking]) -> dict[Aim, int]:
        changes = sum(one.leads and one.start > one.begin for one in bookings)
        moved = moves(self._previous, bookings) if self._previous else 0
        return self._counted({one.task_id: one.end for one in bookings}, changes, moved)

    def _counted(self, ends: Mapping[str, float], changes: int, moved: int) -> dict[Aim, int]:
        late = 0.0
        if self._due:
            for job_id, end in self._done(ends).items():
                due, priority = self._due.get(job_id, (None, 1))
                if due is not None and end > due:
                    late += priority * (end - due)
        return {
            "lateness": round(late / self._tick), "moves": moved, "changeovers": changes,
            "makespan": round(max(ends.values(), default=0.0) / self._tick),
        }  # fmt: skip

    def _done(self, ends: Mapping[str, float]) -> dict[str, float]:
        done: dict[str, float] = {}
        for name, job_id, rest in self._rests:
            end = ends[name] + rest
            if end > done.get(job_id, 0.0):
                done[job_id] = end
        return done

    def _beyond(self, ends: Mapping[str, float]) -> float:
        return math.fsum(max(0.0, end - self._bound) for end in self._done(ends).values())


def moves(previous: Sequence[Booking], bookings: Sequence[Booking]) -> int:
    """How many tasks lead no longer behind the same one on the same place.

    Parameters
    ----------
    previous, bookings : sequence of Booking
        The schedule in force, and another one.

    Returns
    -------
    int
    """
    before, after = _steps(previous, {one.task_id for one in bookings}), _steps(bookings, None)
    joined = {one.task_id for one in bookings if not one.leads}
    return sum(after.get(name) != step and name not in joined for name, step in before.items())


# ----------------------------------------------------------------------------------------------------------------------


def _steps(bookings: Sequence[Booking], among: set[str] | None) -> dict[str, tuple[str, str]]:
    """By task that leads: its place and the task before it there."""
    last: dict[str, str] = {}
    found = {}
    for one in sorted(bookings, key=lambda each: (each.start, each.task_id)):
        if one.leads and (among is None or one.task_id in among):
            found[one.task_id] = (one.place_id, last.get(one.place_id, ""))
            last[one.place_id] = one.task_id
    return found
