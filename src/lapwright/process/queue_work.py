"""The least work of a group of places: loads as full as they can be, changeovers as few as they can be.

Each place of a group may be weighed: the least weighed sum of work over all ways to share out tasks among the places is
a number that no schedule can undercut. It is found exactly: within one setting by taking the pieces from the longest
down, since the best loads of a place hold neighbours in that order; between settings along a tree of changeovers.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.model.queue import Changeovers, Setting, Task
from lapwright.process.queue_setup import changeover

_MOST_PLACES, _MOST_FILLINGS = 4, 64
_Piece = tuple[float, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Cluster:
    """Settings with what it costs at least to come to any of them from outside [s]; the costs of nested ones add."""

    settings: frozenset[Setting]
    cost: float


def clusters(settings: Sequence[Setting], table: Changeovers) -> list[Cluster]:
    """Nested sets of settings with entry costs, no changeover undercutting those of the sets that it enters.

    Parameters
    ----------
    settings : sequence of Setting
        Those that run on the same places.
    table : Changeovers
        How long changeovers take.

    Returns
    -------
    list of Cluster

    Notes
    -----
    Whoever runs some of the settings enters, after the first, every set that holds one of them and not the first, at
    least once; so the sum of the costs of the sets met, less those that hold the first, is a bound on the changeovers
    of any order, however often it comes back. The costs are the dual values of the least spanning arborescence, built
    up as by Edmonds (1967), from memory.
    """
    names = list(dict.fromkeys(settings))
    left = {
        (one, other): changeover(names[one], names[other], table)[0]
        for one in range(len(names))
        for other in range(len(names))
        if one != other
    }
    found: list[Cluster] = []
    while True:
        sources = _sources(len(names), left)
        if len(sources) <= 1:
            return found
        for inside in sources:
            entering = [key for key in left if key[1] in inside and key[0] not in inside]
            cost = min(left[key] for key in entering)
            for key in entering:
                left[key] -= cost
            if cost > 0.0:
                found.append(Cluster(frozenset(names[one] for one in inside), cost))


class Workload:
    """Tasks on a group of places, ready to be weighed."""

    def __init__(
        self, tasks: Sequence[Task], positions: dict[str, int], table: Changeovers, *, hands_only: bool = False
    ) -> None:
        self.places = tuple(positions)
        self._room = tuple(positions.values())
        self._is_merged = len(positions) > _MOST_PLACES or math.prod(self._room) > _MOST_FILLINGS
        self._families: dict[Setting, list[list[_Piece]]] = defaultdict(list)
        for setting, listed in self._sorted(tasks, hands_only=hands_only):
            self._families[setting].append(listed)
        self._clusters = clusters(list(self._families), table)
        self._first = max(
            (math.fsum(one.cost for one in self._clusters if setting in one.settings) for setting in self._families),
            default=0.0,
        )

    def least(self, weights: Sequence[float]) -> float:
        """The least weighed sum of the work of the places, changeovers but the first of each included.

        Parameters
        ----------
        weights : sequence of float [1]
            By place; of a group too large to be looked at place by place the mean counts.

        Returns
        -------
        float [s]
        """
        free = math.fsum(weights) * self._first
        room = (max(self._room),) if self._is_merged else self._room
        if self._is_merged:
            weights = [math.fsum(weights) / len(weights)]
        parts: dict[frozenset[Setting], list[float]] = {
            frozenset([setting]): _together([_loads(family, weights, room) for family in families])
            for setting, families in self._families.items()
        }
        for cluster in self._clusters:
            inside = [key for key in parts if key <= cluster.settings]
            table = _together([parts.pop(key) for key in inside])
            parts[cluster.settings] = [
                cost + cluster.cost * math.fsum(weight for one, weight in enumerate(weights) if met >> one & 1)
                for met, cost in enumerate(table)
            ]
        return max(0.0, min(_together(list(parts.values()))) - free)

    # ------------------------------------------------------------------------------------------------------------------

    def _sorted(self, tasks: Sequence[Task], *, hands_only: bool) -> list[tuple[Setting, list[_Piece]]]:
        """By what may share a load: its pieces, the longest first, each with the places that it may go to."""
        number = {place_id: 0 if self._is_merged else index for index, place_id in enumerate(self.places)}
        grouped: dict[tuple[Setting, float, bool], list[_Piece]] = defaultdict(list)
        for task in tasks:
            length = min(task.hands, task.duration) if hands_only else task.duration
            where = tuple(sorted({number[one] for one in task.places}))
            grouped[(task.setting, task.hands, task.in_hours)] += [(length, where)] * len(task.pieces)
        return [(key[0], sorted(listed, key=lambda one: -one[0])) for key, listed in grouped.items()]


# ----------------------------------------------------------------------------------------------------------------------


def _loads(family: Sequence[_Piece], weights: Sequence[float], room: Sequence[int]) -> list[float]:
    """By the set of places met (as bits): the least weighed time of loads that take all pieces of one family."""
    states: dict[tuple[tuple[int, ...], int], float] = {((0,) * len(room), 0): 0.0}
    for length, where in family:
        after: dict[tuple[tuple[int, ...], int], float] = {}
        for (filled, met), cost in states.items():
            for place in where:
                opened = filled[place] == 0
                now = (filled[place] + 1) % room[place]
                key = ((*filled[:place], now, *filled[place + 1 :]), met | 1 << place)
                total = cost + (weights[place] * length if opened else 0.0)
                if total < after.get(key, math.inf):
                    after[key] = total
        states = after
    table = [math.inf] * (1 << len(room))
    for (_, met), cost in states.items():
        table[met] = min(table[met], cost)
    return table


def _together(tables: Sequence[list[float]]) -> list[float]:
    """The least sums by the union of the places met."""
    total = tables[0]
    for table in tables[1:]:
        joined = [math.inf] * len(total)
        for one, cost in enumerate(total):
            if cost == math.inf:
                continue
            for other, more in enumerate(table):
                joined[one | other] = min(joined[one | other], cost + more)
        total = joined
    return total


def _sources(count: int, left: dict[tuple[int, int], float]) -> list[frozenset[int]]:
    """The strongly connected sets of the free arcs that no free arc enters from outside."""
    reach = [{one} for one in range(count)]
    free: dict[int, list[int]] = defaultdict(list)
    for (one, other), cost in left.items():
        if cost <= 1e-9:
            free[one].append(other)
    for one in range(count):
        todo = [one]
        while todo:
            for other in free[todo.pop()]:
                if other not in reach[one]:
                    reach[one].add(other)
                    todo.append(other)
    sets = {frozenset(other for other in reach[one] if one in reach[other]) for one in range(count)}
    return sorted(
        (inside for inside in sets if not any(reach[one] & inside for one in range(count) if one not in inside)),
        key=sorted,
    )
