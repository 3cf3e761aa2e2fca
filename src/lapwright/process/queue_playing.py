"""A schedule played many times at once, as a shop follows it: places keep their order, hands take what is there.

Whenever somebody's hands are free, of the loads that could begin he takes the one that the schedule has first; he does
not wait for what is not there yet, because nobody knows how late it will be; and a place is changed over once the
pieces for it have left the one before, not on the chance that they come in time. All plays go on load by load together,
each at its own moment.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from lapwright.model.queue import Booking, Shop, Task
from lapwright.process.queue_loads import loads_of
from lapwright.process.queue_setup import changeover, states_before

Times = NDArray[np.float64]
Whole = NDArray[np.intp]
_SLACK = 1e-6  # s; times nearer than this are one


def played(shop: Shop, bookings: Sequence[Booking], lengths: Mapping[str, Times]) -> dict[str, Times]:
    """When each task ends, in as many plays as there are lengths.

    Parameters
    ----------
    shop : Shop
        The shop.
    bookings : sequence of Booking
        Its schedule: the order of loads on each place, and which is taken first.
    lengths : mapping of str to float array, shape (plays,) [s]
        How long each task takes in each play.

    Returns
    -------
    dict of str to float array, shape (plays,) [s]
        By task.
    """
    return _Plays(shop, loads_of(bookings), lengths).run()


# ----------------------------------------------------------------------------------------------------------------------


class _Plays:
    """All plays; arrays are (loads, plays), (places, plays) or (kits or hands, plays). The last load is none."""

    def __init__(self, shop: Shop, loads: Sequence[Sequence[Booking]], lengths: Mapping[str, Times]) -> None:
        tasks = {task.task_id: task for task in shop.tasks}
        self.members = [[tasks[one.task_id] for one in load] for load in loads]
        self.plays = np.arange(len(next(iter(lengths.values()), ())))
        count, draws = len(loads), self.plays.size
        self.lengths, self.own = np.zeros((count + 1, draws)), lengths
        for number, members in enumerate(self.members):
            self.lengths[number] = np.max([lengths[task.task_id] for task in members], axis=0)
        self.begins = np.array([*(load[0].begin for load in loads), math.inf])
        self.hands = np.array([*(members[0].hands for members in self.members), 0.0])
        self.in_hours = np.array([*(members[0].in_hours for members in self.members), False])
        self.ends = np.full((count + 1, draws), math.inf)
        self.ready, self.there = np.zeros((count + 1, draws)), np.zeros((count + 1, draws))
        self._line_up(shop, loads)
        self._link()
        self._hold_back(shop)
        self.closed = [
            [(one.start, one.end) for one in sorted(place.closed, key=lambda one: one.start)] for place in shop.places
        ]
        self.people = _People(shop, draws)
        self.kits = _Kits(shop, self.members, draws)

    def run(self) -> dict[str, Times]:
        """To the end of all loads."""
        running = [number for number, members in enumerate(self.members) if members[0].running]
        for number in running:
            everywhere = np.full(self.plays.size, number)
            self._over(everywhere, self.place_of[everywhere], np.zeros(self.plays.size))
        for _ in range(len(self.members) - len(running)):
            self._step()
        return {
            task.task_id: self.own[task.task_id] if task.running else self.ends[number]
            for number, members in enumerate(self.members)
            for task in members
        }

    # ------------------------------------------------------------------------------------------------------------------

    def _line_up(self, shop: Shop, loads: Sequence[Sequence[Booking]]) -> None:
        """The loads of each place in order, with the changeover before each."""
        count = len(loads)
        number_of = {place.place_id: number for number, place in enumerate(shop.places)}
        states = states_before(shop)
        self.setups = np.zeros(count + 1)
        self.place_of = np.zeros(count + 1, dtype=np.intp)
        lines: list[list[int]] = [[] for _ in shop.places]
        for number, load in enumerate(loads):
            place_id, first = load[0].place_id, self.members[number][0]
            self.place_of[number] = number_of[place_id]
            lines[number_of[place_id]].append(number)
            if not first.running:
                self.setups[number] = changeover(states[place_id], first.setting, shop.changeovers)[0]
                states[place_id] = first.setting
        longest = max(len(line) for line in lines)
        self.lines = np.array([line + [count] * (longest + 1 - len(line)) for line in lines])
        self.at = np.zeros((len(lines), self.plays.size), dtype=np.intp)
        self.free = np.zeros((len(lines), self.plays.size))

    def _link(self) -> None:
        """Which loads come after which, and the longest rest between them."""
        of = {task.task_id: number for number, members in enumerate(self.members) for task in members}
        rests = {task.task_id: task.rest for members in self.members for task in members}
        none = len(self.members)
        after: dict[int, dict[int, float]] = defaultdict(dict)
        for number, members in enumerate(self.members):
            for name in {name for task in members for name in task.after}:
                known = after[of[name]].get(number, 0.0)
                after[of[name]][number] = max(known, rests[name])
        widest = max((len(one) for one in after.values()), default=0)
        self.after = np.full((none + 1, widest), none)
        self.rests = np.zeros((none + 1, widest))
        self.missing = np.zeros((none + 1, self.plays.size), dtype=np.intp)
        self.missing[none] = 1
        for number, followers in after.items():
            for column, (follower, rest) in enumerate(followers.items()):
                self.after[number, column], self.rests[number, column] = follower, rest
                self.missing[follower] += 1

    def _hold_back(self, shop: Shop) -> None:
        fixes = {fix.task_id: fix.start for fix in shop.fixes}
        for number, members in enumerate(self.members):
            self.ready[number] = max(max(task.release, fixes.get(task.task_id, 0.0), 0.0) for task in members)

    def _step(self) -> None:
        """In each play the load that begins next, with whose hands and when."""
        heads = self.lines[np.arange(self.lines.shape[0])[:, None], self.at]
        setups, lengths = self.setups[heads], self.lengths[heads, self.plays]
        ready = np.maximum(self.ready[heads, self.plays], self.kits.ready(heads))
        begins = np.maximum(np.maximum(self.free, ready - setups), self.there[heads, self.plays])
        begins[self.missing[heads, self.plays] > 0] = math.inf
        hands = np.minimum(self.hands[heads], lengths)
        needed = setups + np.where(self.in_hours[heads], lengths, hands)
        begins = self._open(begins, setups, lengths)
        begins = self.people.earliest(begins, needed)
        if any(self.closed):
            for _ in range(4):
                begins = self.people.earliest(self._open(begins, setups, lengths), needed)
        first = begins.min(axis=0)
        place = np.where(begins <= first + _SLACK, self.begins[heads], math.inf).argmin(axis=0)
        chosen, begin = heads[place, self.plays], begins[place, self.plays]
        bound = setups[place, self.plays] + hands[place, self.plays]
        self.people.bind(begin, bound, needed[place, self.plays])
        self._over(chosen, place, begin + setups[place, self.plays])

    def _open(self, begins: Times, setups: Times, lengths: Times) -> Times:
        """Not into a time in which the place is closed."""
        for number, closures in enumerate(self.closed):
            for start, end in closures:
                row = begins[number]
                hit = (row < end - _SLACK) & (start < row + setups[number] + lengths[number] - _SLACK)
                begins[number] = np.where(hit, np.maximum(row, end), row)
        return begins

    def _over(self, chosen: Whole, place: Whole, start: Times) -> None:
        """A load in each play begins then, and what follows from its end."""
        end = start + self.lengths[chosen, self.plays]
        self.ends[chosen, self.plays] = end
        self.free[place, self.plays] = end
        self.at[place, self.plays] += 1
        self.kits.hand_over(chosen, end)
        for column in range(self.after.shape[1]):
            follower = self.after[chosen, column]
            ready = np.maximum(self.ready[follower, self.plays], end + self.rests[chosen, column])
            self.ready[follower, self.plays] = ready
            self.there[follower, self.plays] = np.maximum(self.there[follower, self.plays], end)
            self.missing[follower, self.plays] -= follower < len(self.members)


class _People:
    """Hands, grouped by the shifts that they work: when each comes free in each play."""

    def __init__(self, shop: Shop, draws: int) -> None:
        shifts = sorted(shop.shifts, key=lambda one: one.start)
        grouped: dict[tuple[tuple[float, float], ...], int] = defaultdict(int)
        for person in range(max((one.people for one in shifts), default=0)):
            grouped[tuple((one.start, one.end) for one in shifts if one.people > person)] += 1
        self._spans = [(np.array(spans), np.zeros((count, draws))) for spans, count in grouped.items()]

    def earliest(self, begins: Times, needed: Times) -> Times:
        """When somebody can begin what keeps him or must be over so long after, within his hours."""
        if not self._spans:
            return begins
        found = np.min([self._in_hours(spans, free, begins, needed) for spans, free in self._spans], axis=0)
        return np.where(needed > 0.0, found, begins)

    def bind(self, begin: Times, bound: Times, needed: Times) -> None:
        """Whoever can begin first then has his hands bound so long."""
        if not self._spans:
            return
        plays = np.arange(begin.size)
        open_ = np.where(bound > 0.0, begin, math.inf)
        for spans, free in self._spans:
            mine = np.isfinite(open_) & (self._in_hours(spans, free, begin, needed) <= begin + _SLACK)
            person = free.argmin(axis=0)
            free[person[mine], plays[mine]] = (begin + bound)[mine]
            open_[mine] = math.inf

    def _in_hours(self, spans: Times, free: Times, begins: Times, needed: Times) -> Times:
        starts, ends = spans[:, 0], spans[:, 1]
        needed = np.minimum(needed, (ends - starts).max())
        at = np.maximum(begins, free.min(axis=0))
        number = np.searchsorted(ends, at + needed - _SLACK)
        padded_starts, padded_ends = np.append(starts, ends[-1]), np.append(ends, math.inf)
        while True:
            found: Times = np.maximum(at, padded_starts[number])
            short = found + needed > padded_ends[number] + _SLACK
            short &= np.isfinite(found)
            if not short.any():
                return found
            number = number + short


class _Kits:
    """When each of a kit comes free in each play; who takes some takes those that come free first."""

    def __init__(self, shop: Shop, members: Sequence[Sequence[Task]], draws: int) -> None:
        of = {task.task_id: number for number, load in enumerate(members) for task in load}
        self._plays = np.arange(draws)
        self._all: list[tuple[Whole, Whole, Times]] = []
        for kit in shop.kits:
            takes, gives = np.zeros(len(members) + 1, dtype=np.intp), np.zeros(len(members) + 1, dtype=np.intp)
            now = 0
            for hold in shop.holds:
                if hold.kit_id == kit.kit_id:
                    gives[of[hold.last]] += hold.count
                    now += 0 if hold.first else hold.count
                    if hold.first:
                        takes[of[hold.first]] += hold.count
            free = np.zeros((kit.count, draws))
            free[kit.count - now :] = math.inf
            self._all.append((takes, gives, free))

    def ready(self, heads: Whole) -> Times:
        """When all that the loads take is free; infinite while it is not given back."""
        found = np.zeros(heads.shape)
        for takes, _, free in self._all:
            count = takes[heads]
            at = free[np.maximum(count, 1) - 1, self._plays]
            found = np.maximum(found, np.where(count > 0, at, 0.0))
        return found

    def hand_over(self, chosen: Whole, end: Times) -> None:
        """What the loads take is gone until it is given back; what they give back is free at their end."""
        for takes, gives, free in self._all:
            gone, back = takes[chosen], gives[chosen]
            for number in range(int(gone.max(initial=0))):
                free[number, gone > number] = math.inf
            free.sort(axis=0)
            for number in range(int(back.max(initial=0))):
                free[-1 - number, back > number] = end[back > number]
            free.sort(axis=0)
