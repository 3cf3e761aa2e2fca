"""Published job-shop instances as shops."""

from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path

from lapwright.model.queue import Job, Place, Shop, Task

UNIT = 60.0  # s; what one unit of time is taken to be


def job_shop(path: Path, instance: str) -> Shop:
    """One instance of the table of instances: each job a line of tasks, each machine a place."""
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    jobs: dict[str, list[tuple[str, float]]] = defaultdict(list)
    for row in csv.DictReader(lines):
        if row["instance"] == instance:
            jobs[f"J{row['job']}"].append((f"M{row['machine']}", float(row["duration"]) * UNIT))
    tasks = tuple(
        Task(
            task_id=f"{job}.{number}",
            job_id=job,
            name=f"step {number}",
            places=(machine,),
            duration=duration,
            after=(f"{job}.{number - 1}",) if number else (),
        )
        for job, steps in jobs.items()
        for number, (machine, duration) in enumerate(steps)
    )
    machines = sorted({task.places[0] for task in tasks})
    return Shop(
        places=tuple(Place(place_id=machine) for machine in machines),
        jobs=tuple(Job(job_id=job) for job in jobs),
        tasks=tasks,
    )
