"""What a schedule is sought for, as terms of the model: the end of all, lateness, what is moved."""

from __future__ import annotations

from typing import Any

from lapwright.process.queue_order import sequences


def makespan_of(model: Any) -> Any:
    """The end of all, in ticks; never before what is proved."""
    makespan = model.model.new_int_var(min(model.least_end, model.horizon), model.horizon, "makespan")
    for end in model.ends.values():
        model.model.add(makespan >= end)
    return makespan


def lateness_of(model: Any) -> Any:
    """Ticks of lateness of all jobs, each times its priority; None when nothing has a date."""
    terms = []
    for job in model.shop.jobs:
        mine = [
            model.ends[task.task_id] + model.up(task.rest) for task in model.shop.tasks if task.job_id == job.job_id
        ]
        if job.due is None or not mine:
            continue
        due = model.down(job.due)
        late = model.model.new_int_var(0, max(0, model.horizon - due) + model.horizon, f"late {job.job_id}")
        for end in mine:
            model.model.add(late >= end - due)
        model.late[job.job_id], model.due[job.job_id] = late, due
        terms.append(job.priority * late)
    return sum(terms) if terms else None


def moved_in(model: Any) -> Any:
    """How many tasks stand elsewhere, or behind another one, than before; None without an earlier schedule."""
    if not model.previous:
        return None
    terms = []
    for place_id, names in sequences(list(model.previous.values())).items():
        arcs = model.arcs.get(place_id, {})
        for one, other in zip([None, *names], names, strict=False):
            if model.tasks[other].running:
                continue
            spot = model.spots[other].get(place_id)
            kept = arcs.get((one, other)) if one is None or place_id in model.spots[one] else None
            moved = model.model.new_bool_var(f"moved {other}")
            if kept is None and spot is not None and not spot.joins:
                model.model.add(moved == 1)
            elif kept is not None:
                joined = sum(spot.joins.values()) if spot is not None else 0
                model.model.add(moved + kept + joined >= 1)
            terms.append(moved)
    return sum(terms)
