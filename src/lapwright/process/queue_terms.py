"""What a schedule is sought for, as terms of the model: the end of all, lateness, what is moved."""

from __future__ import annotations

from typing import Any

from lapwright.process.queue_order import sequences


def makespan_of(of: Any) -> Any:
    """The end of all, in ticks; never before what is proved."""
    makespan = of.model.new_int_var(min(of.least_end, of.horizon), of.horizon, "makespan")
    for end in of.ends.values():
        of.model.add(makespan >= end)
    return makespan


def lateness_of(of: Any) -> Any:
    """Ticks of lateness of all jobs, each times its priority; None when nothing has a date."""
    terms = []
    for job in of.shop.jobs:
        mine = [of.ends[task.task_id] + of.up(task.rest) for task in of.shop.tasks if task.job_id == job.job_id]
        if job.due is None or not mine:
            continue
        due = of.down(job.due)
        late = of.model.new_int_var(0, max(0, of.horizon - due) + of.horizon, f"late {job.job_id}")
        for end in mine:
            of.model.add(late >= end - due)
        of.late[job.job_id], of.due[job.job_id] = late, due
        terms.append(job.priority * late)
    return sum(terms) if terms else None


def moved_in(of: Any) -> Any:
    """How many tasks stand elsewhere, or behind another one, than before; None without an earlier schedule."""
    if not of.previous:
        return None
    terms = []
    for place_id, names in sequences(list(of.previous.values())).items():
        arcs = of.arcs.get(place_id, {})
        for one, other in zip([None, *names], names, strict=False):
            if of.tasks[other].running:
                continue
            spot = of.spots[other].get(place_id)
            kept = arcs.get((one, other)) if one is None or place_id in of.spots[one] else None
            moved = of.model.new_bool_var(f"moved {other}")
            if kept is None and spot is not None and not spot.joins:
                of.model.add(moved == 1)
            elif kept is not None:
                joined = sum(spot.joins.values()) if spot is not None else 0
                of.model.add(moved + kept + joined >= 1)
            terms.append(moved)
    return sum(terms)
