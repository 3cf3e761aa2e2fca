"""Turning a schedule over load by load: the moves by which a large shop is bettered, cooled down as metal is annealed.

A schedule is held as its loads in an order; placed one after the other in it, each as early as it can be, they are the
schedule again. A move takes a load, or a piece out of one, elsewhere: behind one of its setting, to another place, into
a load that has room; what must come before or after it goes along. Moves start mostly from the loads that decide the
end, found by following what each one waited for. After Kirkpatrick, Gelatt and Vecchi (1983), from memory.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from lapwright.errors import CannotAnswer
from lapwright.model.queue import Booking, Shop
from lapwright.process.queue_floor import Floor, allowed_places
from lapwright.process.queue_loads import loads_of

_CHAIN = 400  # loads that may be pushed along by one move
_SLACK = 1e-6

#: What an order of loads is worth, the less the better; infinite when it breaks what is held.
Energy = Callable[[Floor], float]


@dataclass(slots=True)
class _Item:
    """A load in the order: its place, its tasks, and where it stands (the time at which it last began)."""

    place_id: str
    members: list[str]
    key: float


class Turning:
    """A schedule that is turned over; `here` is where it stands, `best` the best seen."""

    def __init__(self, shop: Shop, bookings: Sequence[Booking], energy: Energy, generator: np.random.Generator) -> None:
        self.floor = Floor(shop)
        self.energy, self.generator = energy, generator
        self._rolls: list[float] = []
        self._alike = {task.task_id: (task.setting, task.hands, task.in_hours) for task in shop.tasks}
        self._pieces = {task.task_id: len(task.pieces) for task in shop.tasks}
        self._length = {task.task_id: task.duration for task in shop.tasks}
        self._places = {task.task_id: allowed_places(self.floor, task) for task in shop.tasks}
        self._single = all(count == 1 for count in self.floor.positions.values())
        self._before = {task.task_id: task.after for task in shop.tasks}
        self._after: dict[str, list[str]] = defaultdict(list)
        for task in shop.tasks:
            for name in task.after:
                self._after[name].append(task.task_id)
        running = {task.task_id for task in shop.tasks if task.running}
        self.here = [
            _Item(load[0].place_id, [one.task_id for one in load], load[0].start)
            for load in loads_of(bookings)
            if load[0].task_id not in running
        ]
        self.value = self._placed(self.here)
        self._look()
        self.best, self.least = self.floor.bookings(), self.value

    def turn(self, warmth: float) -> None:
        """One move, kept when it is better, or not too much worse for the warmth."""
        moved = self._moved()
        if moved is None:
            return
        value = self._placed(moved)
        if value <= self.value or self._roll() < math.exp(min(0.0, (self.value - value) / warmth)):
            self.here, self.value = moved, value
            self._look()
            if value < self.least:
                self.best, self.least = self.floor.bookings(), value

    # ------------------------------------------------------------------------------------------------------------------

    def _roll(self) -> float:
        """A uniform number; drawn in lots, because one at a time is dear."""
        if not self._rolls:
            self._rolls = self.generator.random(4096).tolist()
        return self._rolls.pop()

    def _one(self, count: int) -> int:
        return int(self._roll() * count)

    def _placed(self, items: list[_Item]) -> float:
        """Place the loads in their order; infinite when that cannot be."""
        floor = self.floor
        floor.clear()
        try:
            for item in items:
                floor.put(item.members, item.place_id)
        except (KeyError, CannotAnswer):  # one before it is not placed yet, or no hours are left
            return math.inf
        return self.energy(floor)

    def _look(self) -> None:
        """What moves need to know of where the schedule stands: times, neighbours, and what decides the end."""
        skip = len(self.floor.loads) - len(self.here)
        placed = self.floor.loads[skip:]
        last: dict[str, int] = {}
        self._prev: list[int] = []
        self._of: dict[str, int] = {}
        self._on: dict[str, list[int]] = defaultdict(list)
        for number, (item, load) in enumerate(zip(self.here, placed, strict=True)):
            item.key = load.start
            self._prev.append(last.get(load.place_id, -1))
            last[load.place_id] = number
            self._on[load.place_id].append(number)
            for name in load.members:
                self._of[name] = number
        self._now = placed
        self._deciding = self._chain(max(range(len(placed)), key=lambda number: placed[number].end))

    def _chain(self, number: int) -> list[int]:
        """The loads that one waited for, back to the first."""
        found = []
        while number >= 0:
            found.append(number)
            load, prev = self._now[number], self._prev[number]
            if prev >= 0 and self._now[prev].end >= load.begin - _SLACK:
                number = prev
                continue
            before = [self._of[name] for one in load.members for name in self._before[one] if name in self._of]
            number = max(before, key=lambda one: self._now[one].end, default=-1)
        return found

    def _moved(self) -> list[_Item] | None:
        """The loads in another order; None when the move drawn leads nowhere."""
        deciding = self._roll() < 0.6
        number = self._deciding[self._one(len(self._deciding))] if deciding else self._one(len(self.here))
        kind = self._roll()
        if kind < 0.3:
            change = self._beside(number)
        elif kind < 0.5:
            change = self._exchanged(number)
        elif kind < 0.7:
            change = self._run_beside(number)
        elif self._single:
            change = self._beside(number)
        else:
            change = self._exchanged_pieces(number) if kind < 0.85 else self._joined(number)
        if change is None:
            return None
        items, touched = change
        return self._in_order(items, touched)

    def _copy(self) -> list[_Item]:
        return [_Item(item.place_id, item.members, item.key) for item in self.here]

    def _beside(self, number: int) -> tuple[list[_Item], list[int]] | None:
        """A load goes before or behind another one, of its setting if there is one, on any of its places."""
        item = self.here[number]
        places = self._common(item.members)
        place_id = places[self._one(len(places))]
        others = [one for one in self._on[place_id] if one != number]
        if not others:
            if place_id == item.place_id:
                return None
            items = self._copy()
            items[number].place_id = place_id
            return items, [number]
        alike = self._alike[item.members[0]]
        same = [one for one in others if self._alike[self.here[one].members[0]] == alike]
        if same and self._roll() < 0.5:
            other = same[self._one(len(same))]
        else:
            at = min(range(len(others)), key=lambda one: abs(self.here[others[one]].key - item.key))
            at += self._one(7) - 3
            other = others[min(max(at, 0), len(others) - 1)]
        items = self._copy()
        items[number].place_id = place_id
        items[number].key = self.here[other].key + (1e-3 if self._roll() < 0.5 else -1e-3)
        return items, [number]

    def _exchanged(self, number: int) -> tuple[list[_Item], list[int]] | None:
        """A load and the one before it on its place change sides."""
        prev = self._prev[number]
        if prev < 0:
            return None
        items = self._copy()
        items[number].key = self.here[prev].key - 1e-3
        return items, [number]

    def _run_beside(self, number: int) -> tuple[list[_Item], list[int]] | None:
        """A load goes with its neighbours of one setting before or behind another run there."""
        item = self.here[number]
        on = self._on[item.place_id]
        alike = self._alike[item.members[0]]
        first = last = on.index(number)
        while first > 0 and self._alike[self.here[on[first - 1]].members[0]] == alike:
            first -= 1
        while last < len(on) - 1 and self._alike[self.here[on[last + 1]].members[0]] == alike:
            last += 1
        if self._roll() < 0.5:  # a part of the run
            first += self._one(last - first + 1)
        run = on[first : last + 1]
        places = self._places[item.members[0]]
        place_id = places[self._one(len(places))]
        others = [one for one in self._on[place_id] if one not in run]
        if not others or any(place_id not in self._common(self.here[one].members) for one in run):
            return None
        same = [one for one in others if self._alike[self.here[one].members[0]] == alike]
        pool = same if same and self._roll() < 0.5 else others
        other = pool[self._one(len(pool))]
        side = 1e-3 if self._roll() < 0.5 else -1e-3
        items = self._copy()
        for step, one in enumerate(run):
            items[one].place_id = place_id
            items[one].key = self.here[other].key + side + 1e-6 * step
        return items, run

    def _joined(self, number: int) -> tuple[list[_Item], list[int]] | None:
        """A piece leaves its load for another of its setting that has room, or for one of its own."""
        item = self.here[number]
        name = item.members[self._one(len(item.members))]
        alike, places = self._alike[name], self._places[name]
        fits = [
            other
            for place_id in places
            for other in self._on[place_id]
            if other != number
            and self._alike[self.here[other].members[0]] == alike
            and sum(self._pieces[one] for one in self.here[other].members) + self._pieces[name]
            <= self.floor.positions[place_id]
        ]
        items = self._copy()
        rest = [one for one in item.members if one != name]
        if fits and (not rest or self._roll() < 0.8):
            other = fits[self._one(len(fits))]
            items[other].members = [*items[other].members, name]
            touched = [other]
        elif rest:
            place_id = places[self._one(len(places))]
            items.append(_Item(place_id, [name], item.key + (self._roll() - 0.5) * 4.0 * self._length[name]))
            touched = [len(items) - 1]
        else:
            return None
        items[number].members = rest
        return items, touched

    def _exchanged_pieces(self, number: int) -> tuple[list[_Item], list[int]] | None:
        """Two pieces of one setting change places between two loads."""
        item = self.here[number]
        name = item.members[self._one(len(item.members))]
        alike = self._alike[name]
        fits = [
            other
            for place_id in self._places[name]
            for other in self._on[place_id]
            if other != number and self._alike[self.here[other].members[0]] == alike
        ]
        if not fits:
            return None
        other = fits[self._one(len(fits))]
        theirs = self.here[other].members
        swapped = theirs[self._one(len(theirs))]
        if item.place_id not in self._places[swapped] or self._pieces[swapped] != self._pieces[name]:
            return None
        items = self._copy()
        items[number].members = [swapped if one == name else one for one in item.members]
        items[other].members = [name if one == swapped else one for one in theirs]
        return items, [number, other]

    def _common(self, members: Sequence[str]) -> list[str]:
        """The places on which all of them may be, in one load."""
        pieces = sum(self._pieces[name] for name in members)
        return [
            place_id
            for place_id in self._places[members[0]]
            if pieces <= self.floor.positions[place_id] and all(place_id in self._places[name] for name in members)
        ]

    def _in_order(self, items: list[_Item], touched: list[int]) -> list[_Item] | None:
        """Take along what must come before or after; then all by where they stand."""
        of = {name: number for number, item in enumerate(items) for name in item.members}
        todo, pushed = list(touched), 0
        while todo:
            number = todo.pop()
            item = items[number]
            length = max(self._length[name] for name in item.members)
            for name in item.members:
                for before in self._before[name]:
                    other = of.get(before)
                    if other is not None and items[other].key >= item.key:
                        if other == number:
                            return None
                        items[other].key = item.key - max(1.0, self._length[before])
                        todo.append(other)
                for after in self._after.get(name, ()):
                    other = of[after]
                    if items[other].key <= item.key:
                        if other == number:
                            return None
                        items[other].key = item.key + max(1.0, length)
                        todo.append(other)
            pushed += 1
            if pushed > _CHAIN:
                return None
        found = [item for item in items if item.members]
        found.sort(key=lambda item: item.key)
        return found
