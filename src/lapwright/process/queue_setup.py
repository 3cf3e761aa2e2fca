"""Changing a place over: what must be done between two loads, how long it takes, and that no grain is carried on.

A grain left from a coarser load scratches the finer one after it, and materials are not mixed: so before a finer grain
or another material the place is cleaned thoroughly. Between abrasives it is washed in any case.
"""

from __future__ import annotations

from lapwright.errors import Fault
from lapwright.model.queue import Changeovers, Setting, Shop, Task


def changeover(before: Setting, after: Setting, changeovers: Changeovers) -> tuple[float, str]:
    """What must be done on a place between two loads: how long it takes, and what it is in words.

    Parameters
    ----------
    before, after : Setting
        What the place was set up for, and is to be.
    changeovers : Changeovers
        How long each part takes [s].

    Returns
    -------
    tuple of float [s] and str
        Zero and empty when nothing must be done.

    Examples
    --------
    >>> iron = Setting(plate="cast-iron", abrasive="al2o3-15", grain=15e-6, material="LiTaO3")
    >>> fine = Setting(plate="cast-iron", abrasive="al2o3-5", grain=5e-6, material="LiTaO3")
    >>> changeover(iron, fine, Changeovers(cleaning=2400.0))
    (2400.0, 'thorough cleaning')
    >>> changeover(fine, iron, Changeovers(wash=900.0))
    (900.0, 'wash')
    """
    time, words = 0.0, []
    if after.plate and before.plate and after.plate != before.plate:
        time += changeovers.plate_change
        words.append("plate change")
    if is_unclean(before, after):
        time += changeovers.cleaning
        words.append("thorough cleaning")
    elif before.abrasive and after.abrasive and before.abrasive != after.abrasive:
        time += changeovers.wash
        words.append("wash")
    if before.size > 0.0 and after.size > 0.0 and before.size != after.size:
        time += changeovers.templates
        words.append("other templates")
    return time, ", ".join(words)


def is_unclean(before: Setting, after: Setting) -> bool:
    """Whether what a load leaves on a place would harm the next one: coarser grain, or another material.

    Parameters
    ----------
    before, after : Setting
        Of the two loads.

    Returns
    -------
    bool

    Examples
    --------
    >>> is_unclean(Setting(grain=15e-6), Setting(grain=3e-6)), is_unclean(Setting(grain=3e-6), Setting(grain=15e-6))
    (True, False)
    """
    coarser = before.grain > after.grain > 0.0
    return coarser or bool(before.material and after.material and before.material != after.material)


def states_before(shop: Shop) -> dict[str, Setting]:
    """What every place is set up for before the first task that does not run yet: what runs there, else what is on it.

    Parameters
    ----------
    shop : Shop
        The shop.

    Returns
    -------
    dict of str to Setting
        By place.
    """
    states = {place.place_id: place.setting for place in shop.places}
    states |= {task.places[0]: task.setting for task in shop.tasks if task.running}
    return states


def shop_faults(shop: Shop) -> list[Fault]:
    """Everything in a shop that no schedule can be made from.

    Parameters
    ----------
    shop : Shop
        The shop.

    Returns
    -------
    list of Fault
        Empty when all is well.
    """
    places = {place.place_id: place for place in shop.places}
    tasks = {task.task_id: task for task in shop.tasks}
    jobs = {job.job_id for job in shop.jobs}
    found = []
    if len(tasks) < len(shop.tasks):
        found.append("Two tasks have one name. Name each differently.")
    for task in shop.tasks:
        said = f"Task {task.task_id!r}"
        found += [
            f"{said} wants place {one!r}, which is not there. Enter it." for one in task.places if one not in places
        ]
        found += [
            f"{said} comes after {one!r}, which is not there. Mend the route." for one in task.after if one not in tasks
        ]
        if task.job_id not in jobs:
            found.append(f"{said} is of job {task.job_id!r}, which is not there. Enter the job.")
        room = max((places[one].positions for one in task.places if one in places), default=len(task.pieces))
        if len(task.pieces) > room:
            found.append(f"{said} has {len(task.pieces)} pieces; its places take {room} at once. Divide it.")
    for fix in shop.fixes:
        fixed = tasks.get(fix.task_id)
        if fixed is not None and fix.place_id not in fixed.places:
            found.append(
                f"Task {fix.task_id!r} cannot be done on {fix.place_id!r}. Choose of: {', '.join(fixed.places)}."
            )
    return [Fault(sentence=sentence) for sentence in found + _mixed(shop) + _kit_faults(shop, tasks)]


# ----------------------------------------------------------------------------------------------------------------------


def _mixed(shop: Shop) -> list[str]:
    """Places at which some tasks name their grain or material and others do not, so that dirt is lost sight of."""
    seen: dict[str, set[tuple[bool, bool]]] = {}
    for task in shop.tasks:
        for place_id in task.places:
            named = (task.setting.grain > 0.0, bool(task.setting.material))
            seen.setdefault(place_id, set()).add(named)
    return [
        f"At place {place_id!r} some tasks name grain and material and some do not; dirt could be carried on unseen."
        " Name them for all."
        for place_id, kinds in seen.items()
        if len(kinds) > 1
    ]


def _kit_faults(shop: Shop, tasks: dict[str, Task]) -> list[str]:
    """Kits that are not there, too few of them, or in use by tasks that are not there."""
    counts = {kit.kit_id: kit.count for kit in shop.kits}
    names = {kit.kit_id: kit.name or kit.kit_id for kit in shop.kits}
    found, now = [], dict.fromkeys(counts, 0)
    for hold in shop.holds:
        if hold.kit_id not in counts:
            found.append(f"Kit {hold.kit_id!r} is in use and not there. Enter it.")
            continue
        found += [
            f"{names[hold.kit_id]} is in use by task {one!r}, which is not there. Mend the route."
            for one in (hold.first, hold.last)
            if one and one not in tasks
        ]
        if hold.count > counts[hold.kit_id]:
            found.append(
                f"Task {hold.first!r} wants {hold.count} of {names[hold.kit_id]}; there are {counts[hold.kit_id]}."
                " Enter more, or divide it."
            )
        now[hold.kit_id] += 0 if hold.first else hold.count
    found += [
        f"{now[one]} of {names[one]} are in use now, more than the {counts[one]} that there are. Enter the others."
        for one in counts
        if now[one] > counts[one]
    ]
    return found
