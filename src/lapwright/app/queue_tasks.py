"""What is still to be done to a wafer, as tasks of the queue: bonding, its cuts, readings, taking off.

The parts of one cut, with the cleaning and reading between them, are one task: the wafer keeps its station. How far a
rate is known comes from the route's own interval; the spread of work by hand is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from lapwright.app.route_basis import between
from lapwright.metrology.outlines import furthest_reach
from lapwright.model.board import ShopTimes
from lapwright.model.job import RecordedRun, RecordedWafer, WaferState
from lapwright.model.order import Order
from lapwright.model.plan import Plan, Stage
from lapwright.model.queue import PlaceKind, Setting, Task

if TYPE_CHECKING:
    from lapwright.library import Library

HAND_SPREAD, RUN_SPREAD = 0.15, 0.08
_RATE_90 = 2.0 * 1.645
_UNKNOWN_GRAIN = 1e-6  # m
_LEAST_LEFT = 300.0  # s; what is assumed to be left of a run past its time
#: Before which step a wafer stands; what is behind it is done.
NEXT_STEP: dict[WaferState, str] = {
    "received": "measure in", "measured_in": "bond", "rebond": "bond", "bonded": "read the stack", "stack_read": "cuts",
    "ready": "cuts", "in_work": "cuts", "worked": "read on the carrier", "read_on_carrier": "take off",
    "debonded": "read free",
}  # fmt: skip
_STEPS = ("measure in", "bond", "read the stack", "cuts", "read on the carrier", "take off", "read free")


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferAhead:
    """A wafer with what its tasks are made from: its route or the stages left of it, and the run that goes on."""

    wafer: RecordedWafer
    order: Order
    stages: tuple[Stage, ...]
    run: RecordedRun | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Which places do what: by kind, and by plate for laps and polishes."""

    by_kind: Mapping[PlaceKind, tuple[str, ...]]
    by_plate: Mapping[tuple[str, str], tuple[str, ...]]


def wafer_tasks(ahead: WaferAhead, where: Where, times: ShopTimes, library: Library, at: datetime) -> tuple[Task, ...]:
    """What is still to be done to a wafer, in order; empty when nothing is, or it is out of the work."""
    step = NEXT_STEP.get(ahead.wafer.state)
    if step is None:
        return ()
    tasks: list[Task] = []
    for name in _STEPS[_STEPS.index(step) :]:
        made = _cuts(ahead, where, times, library) if name == "cuts" else _by_hand(ahead, where, times, name)
        for task in made:
            tasks.append(replace(task, after=(tasks[-1].task_id,) if tasks else ()))
    if ahead.run is not None and tasks:
        tasks[0] = _running(tasks[0], ahead.run, at)
    return tuple(tasks)


def stages_left(plan: Plan, recorded: Sequence[tuple[Stage, bool]]) -> tuple[Stage, ...]:
    """The stages still to be done: of the wafer's own with whether each is done, else of the route."""
    if recorded:
        return tuple(stage for stage, is_done in recorded if not is_done)
    return between(plan.stages)


def setting_of(order: Order, plate: str, abrasive: str, library: Library) -> Setting:
    """What a place is set up for by a load of an order; an abrasive that the library does not know counts as 1 µm."""
    grain = next((row.grain for row in library.abrasives if row.abrasive_id == abrasive), _UNKNOWN_GRAIN)
    return Setting(
        plate=plate,
        abrasive=abrasive,
        grain=grain,
        material=order.material,
        size=2.0 * furthest_reach(order.outline),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _by_hand(ahead: WaferAhead, where: Where, times: ShopTimes, name: str) -> Iterator[Task]:
    wafer_id = ahead.wafer.wafer.wafer_id
    kind: PlaceKind
    rest, hands = 0.0, math.inf
    if name == "bond":
        kind, duration, rest, hands = "bond", times.bonding, times.cooling, times.loading
    elif name == "take off":
        kind, duration = "clean", times.taking_off
    else:
        kind, duration = "measure", times.reading
    yield Task(
        task_id=f"{wafer_id}/{name}",
        job_id=ahead.order.order_id,
        name=name,
        places=where.by_kind[kind],
        duration=duration,
        pieces=(wafer_id,),
        hands=min(hands, duration),
        rest=rest,
        spread=HAND_SPREAD,
    )


def _cuts(ahead: WaferAhead, where: Where, times: ShopTimes, library: Library) -> Iterator[Task]:
    """The cuts left, each with the reading behind it; the one behind the last is the reading on the carrier."""
    wafer_id = ahead.wafer.wafer.wafer_id
    groups = _grouped(ahead.stages)
    for number, (parts, gaps) in enumerate(groups):
        first = parts[0]
        name = first.name.partition(",")[0]
        runs = math.fsum(part.time for part in parts)
        setting = setting_of(ahead.order, first.plate or "", first.abrasive or "", library)
        kind: PlaceKind = "polish" if first.kind == "polish" else "lap" if first.kind == "lap" else "clean"
        places = where.by_kind["clean"] if kind == "clean" else where.by_plate.get((kind, first.plate or ""), ())
        duration = times.loading + runs + gaps
        yield Task(
            task_id=f"{wafer_id}/{name.lower()}",
            job_id=ahead.order.order_id,
            name=name.lower(),
            places=places or (f"none for {first.plate_name or first.plate or first.kind}",),
            duration=duration,
            setting=Setting() if kind == "clean" else setting,
            pieces=(wafer_id,),
            hands=times.loading,
            in_hours=gaps > 0.0,
            spread=RUN_SPREAD,
            shared_spread=_rate_spread(parts) * runs / duration,
            shares=f"{ahead.order.material} {first.abrasive} {first.plate}",
        )
        if number < len(groups) - 1:
            yield Task(
                task_id=f"{wafer_id}/read after {name.lower()}",
                job_id=ahead.order.order_id,
                name=f"read after {name.lower()}",
                places=where.by_kind["measure"],
                duration=times.reading,
                pieces=(wafer_id,),
                hands=times.reading,
                spread=HAND_SPREAD,
            )


def _grouped(stages: Sequence[Stage]) -> list[tuple[list[Stage], float]]:
    """The parts of each cut, and what is done between them [s]."""
    groups: list[tuple[list[Stage], float]] = []
    waiting = 0.0
    for stage in stages:
        if stage.kind in ("measure", "clean"):
            waiting += stage.time
            continue
        last = groups[-1][0][-1] if groups else None
        if last is not None and (last.kind, last.abrasive, last.plate) == (stage.kind, stage.abrasive, stage.plate):
            parts, gaps = groups[-1]
            groups[-1] = ([*parts, stage], gaps + waiting)
        else:
            groups.append(([stage], 0.0))
        waiting = 0.0
    return groups


def _rate_spread(parts: Sequence[Stage]) -> float:
    """Log deviation of the rate from its 90 % interval in the route."""
    known = [part for part in parts if part.rate_low and part.rate_high]
    if not known:
        return RUN_SPREAD
    longest = max(known, key=lambda part: part.time)
    assert longest.rate_low is not None
    assert longest.rate_high is not None
    return math.log(longest.rate_high / longest.rate_low) / _RATE_90


def _running(task: Task, run: RecordedRun, at: datetime) -> Task:
    """The task as it runs: at its station, with what is left of it."""
    left = task.duration - (at - run.started).total_seconds()
    return replace(task, places=(run.station_id,), duration=max(left, _LEAST_LEFT), running=True, hands=0.0)
