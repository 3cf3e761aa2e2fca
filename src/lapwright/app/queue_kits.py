"""Carriers and jigs of the shelf as the queue counts them: how many there are of each, and which wafer uses one when.

A wafer is on a carrier from its bond until it is taken off: one of the smallest size on the shelf that reaches over it.
It is on a jig from its first cut to the end of its last. A shelf without jigs, or without carriers for a wafer, sets no
limit; of carriers that is said.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lapwright.metrology.outlines import furthest_reach
from lapwright.model.order import Order
from lapwright.model.queue import Hold, Kit, Task
from lapwright.model.shelf import RecordedCarrier

_JIG = "jig"


@dataclass(frozen=True, slots=True, kw_only=True)
class KitsNow:
    """What there is of each kit, which tasks use one, and what was assumed."""

    kits: tuple[Kit, ...]
    holds: tuple[Hold, ...]
    assumed: tuple[str, ...] = ()


def kits_now(planned: Sequence[tuple[Order, Sequence[Task]]]) -> KitsNow:
    """The carriers and jigs on record as kits, and the use that the tasks of each order make of them."""
    from lapwright.records import queries, run_queries

    wafers = {name: (order, tasks) for order, made in planned for name, tasks in _by_wafer(made).items()}
    kits, holds, assumed = _carriers(wafers, queries.carriers())
    jigs = [one.jig.jig_id for one in queries.jigs()]
    mounted = {run_queries.wafer_on_jig(jig_id) for jig_id in jigs} - {None}
    if jigs:
        kits.append(Kit(kit_id=_JIG, name="jig", count=len(jigs)))
        for wafer_id, (_, tasks) in wafers.items():
            cuts = [task.task_id for task in tasks if task.shares]
            if cuts:
                is_on = wafer_id in mounted or any(task.running and task.shares for task in tasks)
                holds.append(Hold(kit_id=_JIG, first="" if is_on else cuts[0], last=cuts[-1]))
    return KitsNow(kits=tuple(_enough(kits, holds)), holds=tuple(holds), assumed=tuple(assumed))


# ----------------------------------------------------------------------------------------------------------------------


def _by_wafer(tasks: Iterable[Task]) -> dict[str, list[Task]]:
    found: dict[str, list[Task]] = {}
    for task in tasks:
        found.setdefault(task.pieces[0], []).append(task)
    return found


def _carriers(
    wafers: dict[str, tuple[Order, list[Task]]], recorded: Sequence[RecordedCarrier]
) -> tuple[list[Kit], list[Hold], list[str]]:
    on = {one.wafer_id: _size(one) for one in recorded if one.wafer_id is not None}
    # one that is on a wafer which is not planned stays there
    there = Counter(_size(one) for one in recorded if one.wafer_id is None or one.wafer_id in wafers)
    holds, without = [], set()
    for wafer_id, (order, tasks) in wafers.items():
        ends = [task.task_id for task in tasks if task.name == "take off"]
        bonds = [task.task_id for task in tasks if task.name == "bond"]
        if not ends:
            continue
        if wafer_id in on and not bonds:
            holds.append(Hold(kit_id=_carrier(on[wafer_id]), first="", last=ends[-1]))
        elif bonds:
            reach = 2e3 * furthest_reach(order.outline)
            size = min((one for one in there if one >= reach - 0.1), default=None)
            if size is None:
                without.add(round(reach, 1))
            else:
                holds.append(Hold(kit_id=_carrier(size), first=bonds[0], last=ends[-1]))
    kits = [Kit(kit_id=_carrier(size), name=_carrier(size), count=count) for size, count in sorted(there.items())]
    assumed = [
        f"No carrier for wafers of {size:g} mm is free on the shelf or used by what is planned: enough are taken."
        for size in sorted(without)
    ]
    return kits, holds, assumed


def _size(one: RecordedCarrier) -> float:
    """Its diameter in tenths of a mm."""
    return round(1e3 * one.carrier.diameter, 1)


def _carrier(size: float) -> str:
    return f"carrier of {size:g} mm"


def _enough(kits: Sequence[Kit], holds: Sequence[Hold]) -> Iterable[Kit]:
    """Never fewer than are in use now, whatever the shelf says."""
    now = Counter(hold.kit_id for hold in holds if not hold.first)
    for kit in kits:
        if any(hold.kit_id == kit.kit_id for hold in holds):
            yield Kit(kit_id=kit.kit_id, name=kit.name, count=max(kit.count, now[kit.kit_id]))
