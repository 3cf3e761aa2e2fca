"""Kits in use while a schedule is played many times: who takes one takes the one that comes free first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from lapwright.model.queue import Hold, Shop, Task
from lapwright.process.queue_people import Times


class KitsPlayed:
    """When each of a kit comes free, a column for each play; tasks take and give back in the order of the schedule."""

    def __init__(self, shop: Shop, draws: int) -> None:
        self._takes: dict[str, list[Hold]] = defaultdict(list)
        self._gives: dict[str, list[Hold]] = defaultdict(list)
        held: dict[str, int] = defaultdict(int)
        for hold in shop.holds:
            self._gives[hold.last].append(hold)
            if hold.first:
                self._takes[hold.first].append(hold)
            else:
                held[hold.kit_id] += hold.count
        self._free = {kit.kit_id: np.zeros((kit.count - held[kit.kit_id], draws)) for kit in shop.kits}

    def ready(self, members: Sequence[Task], start: Times) -> Times:
        """The start of a load, not before all that it takes is free."""
        for kit_id, count in self._needed(members).items():
            free = self._free[kit_id]
            start = np.maximum(start, np.partition(free, count - 1, axis=0)[count - 1])
        return start

    def hand_over(self, members: Sequence[Task], end: Times) -> None:
        """What a load takes is gone, what it gives back is free at its end."""
        for kit_id, count in self._needed(members).items():
            self._free[kit_id] = np.sort(self._free[kit_id], axis=0)[count:]
        for task in members:
            for hold in self._gives[task.task_id]:
                back = np.repeat(end[None, :], hold.count, axis=0)
                self._free[hold.kit_id] = np.concatenate([self._free[hold.kit_id], back])

    def _needed(self, members: Sequence[Task]) -> dict[str, int]:
        needed: dict[str, int] = defaultdict(int)
        for task in members:
            for hold in self._takes[task.task_id]:
                needed[hold.kit_id] += hold.count
        return needed
