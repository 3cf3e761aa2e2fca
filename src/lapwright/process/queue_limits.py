"""What the places share in a model of the queue: people, kits, and the order of pieces that are alike."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise
from typing import Any

from lapwright.model.queue import Task
from lapwright.process.queue_order import is_never, strands


def add_people(of: Any) -> None:
    """Loading and changing over bind one of the people there; in whose absence nothing begins."""
    if not of.shop.shifts:
        return
    most = max(shift.people for shift in of.shop.shifts)
    intervals, demands = [], []
    for first, last, there in _presence(of):
        if there < most:
            intervals.append(of.model.new_fixed_size_interval_var(first, last - first, "away"))
            demands.append(most - there)
    for task in of.shop.tasks:
        name = task.task_id
        if task.running or (task.hands == 0.0 and isinstance(of.setups[name], int)):
            continue
        if all(is_never(spot.leads) for spot in of.spots[name].values()):
            continue
        bound = of.up(min(task.hands, task.duration))
        leads = _leads(of, task)
        size = bound + of.setups[name]
        begin, end = of.begins[name], of.starts[name] + bound
        if isinstance(leads, int):
            intervals.append(of.model.new_interval_var(begin, size, end, f"hands {name}"))
        else:
            intervals.append(of.model.new_optional_interval_var(begin, size, end, leads, f"hands {name}"))
        demands.append(1)
    of.model.add_cumulative(intervals, demands, most)


def add_kits(of: Any) -> None:
    """Of each kit no more are in use at once than there are, from the task that takes it to the end of the last."""
    for kit in of.shop.kits:
        intervals, demands = [], []
        for hold in of.shop.holds:
            if hold.kit_id != kit.kit_id:
                continue
            start = of.starts[hold.first] if hold.first else 0
            size = of.model.new_int_var(0, of.horizon, f"{kit.kit_id} from {hold.first} to {hold.last}")
            end = of.ends[hold.last]
            intervals.append(of.model.new_interval_var(start, size, end, f"{kit.kit_id} until {hold.last}"))
            demands.append(hold.count)
            of.spans[(kit.kit_id, hold.first, hold.last)] = size
        if intervals:
            of.model.add_cumulative(intervals, demands, kit.count)


def keep_alike(of: Any) -> None:
    """Pieces with the same way before them keep their order, so that the solver need not try all exchanges."""
    alike: dict[tuple[Any, ...], list[list[Task]]] = defaultdict(list)
    for strand in strands(of.shop):
        if any(task.running or task.task_id in of.fixes or task.task_id in of.previous for task in strand):
            continue
        signature = tuple(
            (task.places, of.up(task.duration), task.setting, task.hands, task.in_hours, task.rest, task.release,
             len(task.pieces))
            for task in strand
        )  # fmt: skip
        alike[(strand[0].job_id, *signature)].append(strand)
    for group in alike.values():
        for one, other in pairwise(group):
            pairs = list(zip(one, other, strict=True))
            if any(of.base[first.task_id].start > of.base[then.task_id].start for first, then in pairs):
                continue
            for before, after in pairs:
                of.model.add(of.starts[before.task_id] <= of.starts[after.task_id])


# ------------------------------------------------------------------------------------------------------------------


# ----------------------------------------------------------------------------------------------------------------------


def _leads(of: Any, task: Task) -> Any:
    spots = of.spots[task.task_id].values()
    if all(spot.leads is spot.present for spot in spots) or any(
        spot.leads == 1 for spot in spots if isinstance(spot.leads, int)
    ):
        return 1
    leads = of.leading[task.task_id] = of.model.new_bool_var(f"{task.task_id} leads")
    of.model.add(leads == sum(spot.leads for spot in spots))
    return leads


def _presence(of: Any) -> list[tuple[int, int, int]]:
    """Spans of time, from now to the horizon, with the people who are there."""
    edges = {0, of.horizon + 1}
    spans = [(of.up(one.start), of.down(one.end), one.people) for one in of.shop.shifts]
    for first, last, _ in spans:
        edges |= {min(max(first, 0), of.horizon + 1), min(max(last, 0), of.horizon + 1)}
    listed = sorted(edges)
    return [
        (one, other, sum(people for first, last, people in spans if first <= one and other <= last))
        for one, other in pairwise(listed)
    ]
