"""Seeded shops small enough that the solver proves the best: shared loads, changeovers, shifts, closures, carriers."""

from __future__ import annotations

import math

import numpy as np

from lapwright.model.queue import Closure, Hold, Job, Kit, Place, Setting, Shift, Shop, Task
from lapwright.process.queue_check import schedule_faults
from lapwright.process.queue_hints import Hints
from lapwright.process.queue_model import QueueModel
from lapwright.process.queue_rules import dispatch

HOUR = 3600.0
_KINDS = (("cast-iron", "al2o3-15", 15e-6), ("cast-iron", "al2o3-9", 9e-6), ("glass", "al2o3-3", 3e-6))
_SETTINGS = tuple(
    Setting(plate=plate, abrasive=abrasive, grain=grain, material=material, size=size)
    for plate, abrasive, grain in _KINDS
    for material in ("Si", "LiTaO3")
    for size in (50.8e-3, 76.2e-3)
)


def small_shop(seed: int) -> Shop:
    """Two to five jobs of three stages on four places; every kind of rule in some of them."""
    rng = np.random.default_rng(seed)
    jobs = int(rng.integers(2, 6))
    most = int(rng.integers(1, 4))
    has_shifts = bool(rng.random() < 0.6)
    tasks = tuple(task for job in range(jobs) for task in _tasks(str(job), rng, most=most, has_shifts=has_shifts))
    places = (
        Place(place_id="B", kind="bond", positions=3),
        Place(place_id="L1", positions=most),
        Place(
            place_id="L2", positions=min(most, 2),
            setting=_SETTINGS[int(rng.integers(4))] if rng.random() < 0.3 else Setting(),
            closed=(Closure(start=2 * HOUR, end=4 * HOUR),) if rng.random() < 0.3 else (),
        ),
        Place(place_id="P", kind="polish", positions=min(most, 2)),
    )  # fmt: skip
    people = [int(one) for one in rng.integers(1, 3, size=12)]
    shifts = tuple(
        Shift(start=24 * HOUR * day, end=24 * HOUR * day + 5 * HOUR, people=there) for day, there in enumerate(people)
    )
    kits: tuple[Kit, ...] = ()
    if rng.random() < 0.5:
        kits = (Kit(kit_id="carrier", name="carrier of 50 mm", count=int(rng.integers(1, 4))),)
    return Shop(
        places=places,
        jobs=tuple(Job(job_id=str(job)) for job in range(jobs)),
        tasks=tasks,
        shifts=shifts if has_shifts else (),
        kits=kits,
        holds=tuple(Hold(kit_id="carrier", first=f"{job}.0", last=f"{job}.2") for job in range(jobs) if kits),
    )


def proved_end(shop: Shop, tick: float = 300.0) -> float:
    """The end of all that the solver proves the earliest, by the model without any bound; the schedule is checked."""
    base = min((dispatch(shop, rule) for rule in ("due", "family", "first_come")), key=lambda one: one[-1].end)
    model = QueueModel(shop, tick=tick, horizon=max(one.end for one in base) + tick, base=base)
    model.model.minimize(model.makespan)
    Hints(model).tell(base)
    solver = model.cp.CpSolver()
    solver.parameters.max_deterministic_time = 3.0
    solver.parameters.num_workers = 1
    if solver.solve(model.model) != model.cp.OPTIMAL:
        raise AssertionError("The solver did not prove the earliest end.")
    faults = schedule_faults(shop, model.read(solver))
    if faults:
        raise AssertionError(faults[0])
    return float(solver.objective_value * tick)


def _tasks(job: str, rng: np.random.Generator, *, most: int, has_shifts: bool) -> list[Task]:
    coarse, fine = _SETTINGS[int(rng.integers(8))], _SETTINGS[8 + int(rng.integers(4))]
    ways = (
        (("B",), Setting(), 0.5),
        (("L1", "L2") if rng.random() < 0.6 else ("L1",), coarse, float(rng.uniform(0.3, 3.0))),
        (("P", "L2") if rng.random() < 0.3 else ("P",), fine, float(rng.uniform(0.3, 2.0))),
    )
    made = []
    for number, (places, setting, hours) in enumerate(ways):
        made.append(
            Task(
                task_id=f"{job}.{number}", job_id=job, name=f"stage {number}", places=places,
                duration=math.ceil(hours * 12.0) / 12.0 * HOUR, setting=setting,
                pieces=("",) * (1 if most == 1 else int(rng.integers(1, min(most, 2) + 1))),
                hands=float(rng.choice([300.0, 600.0] if has_shifts else [0.0, 300.0, 600.0])),
                in_hours=bool(has_shifts and rng.random() < 0.2), rest=900.0 if number == 0 else 0.0,
                after=(f"{job}.{number - 1}",) if number else (),
            )
        )  # fmt: skip
    return made
