"""Whether a schedule can really be done: every rule looked at again in plain arithmetic, by a way of its own.

Nothing here is shared with what makes schedules, so that a fault in one does not hide in the other.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

from lapwright.model.queue import Booking, Setting, Shop, Task

_SLACK = 1e-6  # s


def schedule_faults(shop: Shop, bookings: Sequence[Booking], *, previous: Sequence[Booking] = ()) -> tuple[str, ...]:
    """Everything in a schedule that the shop cannot do.

    Parameters
    ----------
    shop : Shop
        The shop.
    bookings : sequence of Booking
        The schedule.
    previous : sequence of Booking
        The schedule in force; what runs must not be moved from its place.

    Returns
    -------
    tuple of str
        One sentence for each fault; empty when all is well.

    Examples
    --------
    >>> from lapwright.model.queue import Job, Place
    >>> task = Task(task_id="a", job_id="j", name="lap", places=("L1",), duration=60.0)
    >>> shop = Shop(places=(Place(place_id="L1"),), jobs=(Job(job_id="j"),), tasks=(task,))
    >>> schedule_faults(shop, [Booking(task_id="a", place_id="L1", begin=0.0, start=0.0, end=50.0)])
    ('a: lasts 50 s, needs 60 s.',)
    """
    tasks = {task.task_id: task for task in shop.tasks}
    booked: dict[str, Booking] = {}
    found = []
    for one in bookings:
        if one.task_id in booked:
            found.append(f"{one.task_id}: is there twice.")
        booked[one.task_id] = one
    found += [f"{name}: is missing." for name in tasks if name not in booked]
    found += [f"{name}: is no task of the shop." for name in booked if name not in tasks]
    if found:
        return tuple(found)
    for name, one in booked.items():
        found += _task_faults(tasks[name], one)
        for before in tasks[name].after:
            if booked[before].end + tasks[before].rest > one.start + _SLACK:
                found.append(f"{name}: starts before {before} and its rest are over.")
    found += _held_faults(shop, tasks, booked, previous)
    return (
        *found, *_place_faults(shop, tasks, booked), *_people_faults(shop, tasks, booked), *_kit_faults(shop, booked),
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _task_faults(task: Task, one: Booking) -> list[str]:
    name, found = task.task_id, []
    if one.place_id not in task.places or (task.running and one.place_id != task.places[0]):
        found.append(f"{name}: is at {one.place_id}, where it cannot be done.")
    if one.end - one.start < task.duration - _SLACK:
        found.append(f"{name}: lasts {one.end - one.start:g} s, needs {task.duration:g} s.")
    if task.running and abs(one.start) > _SLACK:
        found.append(f"{name}: runs and was moved.")
    if not task.running and min(one.begin, one.start) < max(0.0, min(task.release, one.begin)) - _SLACK:
        found.append(f"{name}: begins in the past.")
    if one.start < task.release - _SLACK and not task.running:
        found.append(f"{name}: starts before it may.")
    if one.begin > one.start + _SLACK:
        found.append(f"{name}: its changeover begins after its start.")
    return found


def _held_faults(
    shop: Shop, tasks: dict[str, Task], booked: dict[str, Booking], previous: Sequence[Booking]
) -> list[str]:
    found = []
    for fix in shop.fixes:
        one = booked.get(fix.task_id)
        if one is None or tasks[fix.task_id].running:
            continue
        if one.place_id != fix.place_id or one.start < fix.start - _SLACK:
            found.append(f"{fix.task_id}: was set by hand to {fix.place_id} and is not there.")
    for one in previous:
        task = tasks.get(one.task_id)
        if task is not None and task.running and booked[one.task_id].place_id != task.places[0]:
            found.append(f"{one.task_id}: runs and was moved.")
    return found


def _place_faults(shop: Shop, tasks: dict[str, Task], booked: dict[str, Booking]) -> list[str]:
    found: list[str] = []
    by_place: dict[str, list[Booking]] = defaultdict(list)
    for one in booked.values():
        by_place[one.place_id].append(one)
    for place in shop.places:
        loads: dict[float, list[Booking]] = defaultdict(list)
        for one in by_place[place.place_id]:
            loads[one.start].append(one)
        before: Setting = place.setting
        free = 0.0
        is_first = True
        for start in sorted(loads):
            load = loads[start]
            members = [tasks[one.task_id] for one in load]
            named = ", ".join(one.task_id for one in load)
            found += _load_faults(named, load, members, place.positions)
            runs = any(task.running for task in members)
            gap = 0.0 if runs else _least_gap(before, members[0].setting, shop)
            begin = min(one.begin for one in load)
            if begin < free - _SLACK and not is_first:
                found.append(f"{named}: begins on {place.place_id} before the load there is over.")
            if start - max(free, begin) < gap - _SLACK:
                found.append(f"{named}: {place.place_id} is not changed over or not clean before it.")
            end = max(one.end for one in load)
            for closure in place.closed:
                if not runs and begin < closure.end - _SLACK and closure.start < end - _SLACK:
                    found.append(f"{named}: {place.place_id} is closed then, {closure.reason or 'out of use'}.")
            before, free, is_first = members[0].setting, end, False
    return found


def _load_faults(named: str, load: list[Booking], members: list[Task], positions: int) -> list[str]:
    found = []
    if sum(len(task.pieces) for task in members) > positions:
        found.append(f"{named}: more pieces in one load than the {positions} that fit.")
    if len({task.setting for task in members}) > 1:
        found.append(f"{named}: different abrasives, plates, materials or sizes in one load.")
    if len({one.end for one in load}) > 1 and not all(task.running for task in members):
        found.append(f"{named}: one load, and its pieces end at different times.")
    if sum(one.leads for one in load) != 1:
        found.append(f"{named}: not one, and only one, leads the load.")
    return found


def _least_gap(before: Setting, after: Setting, shop: Shop) -> float:
    """What must pass between two loads: plate, then dirt, then templates."""
    table = shop.changeovers
    gap = table.plate_change if before.plate and after.plate and before.plate != after.plate else 0.0
    carries_grain = after.grain > 0.0 and before.grain > after.grain
    mixes = bool(before.material) and bool(after.material) and before.material != after.material
    if carries_grain or mixes:
        gap += table.cleaning
    elif before.abrasive and after.abrasive and before.abrasive != after.abrasive:
        gap += table.wash
    if before.size and after.size and before.size != after.size:
        gap += table.templates
    return gap


def _people_faults(shop: Shop, tasks: dict[str, Task], booked: dict[str, Booking]) -> list[str]:
    """Hands bound against people there, moment by moment."""
    if not shop.shifts:
        return []
    found = []
    changes: dict[float, int] = defaultdict(int)
    for shift in shop.shifts:
        changes[shift.start] += shift.people
        changes[shift.end] -= shift.people
    for name, one in booked.items():
        task = tasks[name]
        if task.running:
            continue
        if task.in_hours and not _within_hours(shop, one.begin, one.start + task.duration):
            found.append(f"{name}: runs beyond the hours in which somebody is there.")
        until = one.start + min(task.hands, task.duration)
        if one.leads and until > one.begin + _SLACK:
            changes[one.begin] -= 1
            changes[until] += 1
    there, last = 0, -math.inf
    for at in sorted(changes):
        if there < 0 and at > last + _SLACK:
            found.append(f"From {last:g} s to {at:g} s more hands are bound than people are there.")
        there, last = there + changes[at], at
    return found


def _kit_faults(shop: Shop, booked: dict[str, Booking]) -> list[str]:
    """Kits in use against kits that there are, at each moment at which one is taken."""
    found = []
    for kit in shop.kits:
        uses = [
            (booked[hold.first].start if hold.first else 0.0, booked[hold.last].end, hold.count)
            for hold in shop.holds
            if hold.kit_id == kit.kit_id
        ]
        for at in sorted({start for start, _, _ in uses}):
            used = sum(count for start, end, count in uses if start <= at + _SLACK and end > at + _SLACK)
            if used > kit.count:
                found.append(f"At {at:g} s {used} of {kit.name or kit.kit_id} are in use; there are {kit.count}.")
    return found


def _within_hours(shop: Shop, begin: float, end: float) -> bool:
    """Whether somebody is there all the time from one moment to another."""
    at = begin
    for shift in sorted(shop.shifts, key=lambda one: one.start):
        if shift.start <= at + _SLACK and shift.end > at:
            at = shift.end
    return at >= end - _SLACK
