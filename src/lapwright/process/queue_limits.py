"""What the places share in a model of the queue: people, kits, and the order of pieces that are alike."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise
from typing import Any

from lapwright.model.queue import Task
from lapwright.process.queue_order import is_never, strands


def add_people(model: Any) -> None:
    """Loading and changing over bind one of the people there; in whose absence nothing begins."""
    if not model.shop.shifts:
        return
    most = max(shift.people for shift in model.shop.shifts)
    intervals, demands = [], []
    for first, last, there in _presence(model):
        if there < most:
            intervals.append(model.model.new_fixed_size_interval_var(first, last - first, "away"))
            demands.append(most - there)
    for task in model.shop.tasks:
        name = task.task_id
        if task.running or (task.hands == 0.0 and isinstance(model.setups[name], int)):
            continue
        if all(is_never(spot.leads) for spot in model.spots[name].values()):
            continue
        bound = model.up(min(task.hands, task.duration))
        leads = _leads(model, task)
        size = bound + model.setups[name]
        begin, end = model.begins[name], model.starts[name] + bound
        if isinstance(leads, int):
            intervals.append(model.model.new_interval_var(begin, size, end, f"hands {name}"))
        else:
            intervals.append(model.model.new_optional_interval_var(begin, size, end, leads, f"hands {name}"))
        demands.append(1)
    model.model.add_cumulative(intervals, demands, most)


def add_kits(model: Any) -> None:
    """Of each kit no more are in use at once than there are, from the task that takes it to the end of the last."""
    for kit in model.shop.kits:
        intervals, demands = [], []
        for hold in model.shop.holds:
            if hold.kit_id != kit.kit_id:
                continue
            start = model.starts[hold.first] if hold.first else 0
            size = model.model.new_int_var(0, model.horizon, f"{kit.kit_id} from {hold.first} to {hold.last}")
            end = model.ends[hold.last]
            intervals.append(model.model.new_interval_var(start, size, end, f"{kit.kit_id} until {hold.last}"))
            demands.append(hold.count)
            model.spans[(kit.kit_id, hold.first, hold.last)] = size
        if intervals:
            model.model.add_cumulative(intervals, demands, kit.count)


def keep_alike(model: Any) -> None:
    """Pieces with the same way before them keep their order, so that the solver need not try all exchanges."""
    alike: dict[tuple[Any, ...], list[list[Task]]] = defaultdict(list)
    for strand in strands(model.shop):
        if any(task.running or task.task_id in model.fixes or task.task_id in model.previous for task in strand):
            continue
        signature = tuple(
            (task.places, model.up(task.duration), task.setting, task.hands, task.in_hours, task.rest, task.release,
             len(task.pieces))
            for task in strand
        )  # fmt: skip
        alike[(strand[0].job_id, *signature)].append(strand)
    for group in alike.values():
        for one, other in pairwise(group):
            pairs = list(zip(one, other, strict=True))
            if any(model.base[first.task_id].start > model.base[then.task_id].start for first, then in pairs):
                continue
            for before, after in pairs:
                model.model.add(model.starts[before.task_id] <= model.starts[after.task_id])


# ----------------------------------------------------------------------------------------------------------------------


def _leads(model: Any, task: Task) -> Any:
    spots = model.spots[task.task_id].values()
    if all(spot.leads is spot.present for spot in spots) or any(
        spot.leads == 1 for spot in spots if isinstance(spot.leads, int)
    ):
        return 1
    leads = model.leading[task.task_id] = model.model.new_bool_var(f"{task.task_id} leads")
    model.model.add(leads == sum(spot.leads for spot in spots))
    return leads


def _presence(model: Any) -> list[tuple[int, int, int]]:
    """Spans of time, from now to the horizon, with the people who are there."""
    edges = {0, model.horizon + 1}
    spans = [(model.up(one.start), model.down(one.end), one.people) for one in model.shop.shifts]
    for first, last, _ in spans:
        edges |= {min(max(first, 0), model.horizon + 1), min(max(last, 0), model.horizon + 1)}
    listed = sorted(edges)
    return [
        (one, other, sum(people for first, last, people in spans if first <= one and other <= last))
        for one, other in pairwise(listed)
    ]
