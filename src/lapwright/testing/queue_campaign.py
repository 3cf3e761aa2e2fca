"""Seeded shops for the campaign of the queue, and such a shop played by another hand than the program's.

The shops are invented: six stages over nine places, some of which take several wafers, with dear changeovers, people in
day shifts and due dates that cannot all be kept. The playing is event by event (simpy): whoever is there takes what
the schedule has next, durations have heavier tails than the program believes, and rates differ from the planned ones.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from lapwright.model.queue import Booking, Changeovers, Job, Place, Setting, Shift, Shop, Task
from lapwright.process.queue import schedule
from lapwright.process.queue_loads import loads_of
from lapwright.process.queue_measures import Effort, Scheduled, measures
from lapwright.process.queue_promise import promises
from lapwright.process.queue_rules import dispatch
from lapwright.process.queue_setup import changeover, states_before

HOUR = 3600.0
TICK = 300.0
_SLACK = 1e-3  # s; less is rounding
_COARSE = (("al2o3-15", 15e-6, "cast-iron"), ("al2o3-9", 9e-6, "cast-iron"))
_FINE = (("al2o3-5", 5e-6, "glass"), ("al2o3-3", 3e-6, "glass"))
_POLISH = ("silica-colloidal", 0.06e-6, "pad-polyurethane")
_PLACES = (
    Place(place_id="G1", kind="measure"),
    Place(place_id="B1", kind="bond", positions=4),
    Place(place_id="B2", kind="bond", positions=2),
    Place(place_id="L1", positions=2),
    Place(place_id="L2"),
    Place(place_id="F1", positions=2),
    Place(place_id="P1", kind="polish", positions=2),
    Place(place_id="P2", kind="polish"),
    Place(place_id="C1", kind="clean", positions=4),
)
_NOTHING = Changeovers(plate_change=0.0, wash=0.0, cleaning=0.0, templates=0.0)


def random_shop(seed: int, *, jobs: int = 40, tightness: float = 1.0) -> Shop:
    """A shop of so many jobs of six stages on nine places; the smaller `tightness`, the sooner all is due."""
    rng = np.random.default_rng(seed)
    tasks: list[Task] = []
    promised = []
    for number in range(jobs):
        name = f"J{number:02d}"
        mine = list(_stages(name, rng))
        tasks += [replace(one, after=(before.task_id,)) if before else one for before, one in _behind(mine)]
        promised.append(Job(job_id=name, due=float(rng.uniform(8.0, 2.2 * jobs)) * HOUR * tightness))
    shifts = tuple(Shift(start=24.0 * HOUR * day, end=24.0 * HOUR * day + 9.0 * HOUR, people=3) for day in range(60))
    return Shop(places=_PLACES, jobs=tuple(promised), tasks=tuple(tasks), shifts=shifts)


def plain_shop(seed: int, *, changeovers: bool, loads: bool, hours: bool) -> Shop:
    """A shop of forty jobs without due dates, with or without changeovers, shared loads and hours."""
    shop = random_shop(seed)
    return replace(
        shop,
        jobs=tuple(replace(one, due=None) for one in shop.jobs),
        places=shop.places if loads else tuple(replace(one, positions=1) for one in shop.places),
        shifts=shop.shifts if hours else (),
        changeovers=shop.changeovers if changeovers else _NOTHING,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One shop by two plain rules and by the search: mean lateness [s] and changeovers of each."""

    first_come: tuple[float, float]
    due: tuple[float, float]
    ours: tuple[float, float]
    found: Scheduled
    shop: Shop

    def is_better(self, rule: str) -> bool:
        """Whether the search is better in both than a rule."""
        other = getattr(self, rule)
        return bool(self.ours[0] < other[0] and self.ours[1] < other[1])


def compared(seed: int, *, jobs: int, work: float) -> Compared:
    """One seeded shop by first come first served, by earliest due date, and by the search."""
    shop = random_shop(seed, jobs=jobs)
    found = schedule(shop, effort=Effort(work=work), tick=TICK)
    told = {rule: measures(shop, dispatch(shop, rule)) for rule in ("first_come", "due")}
    ours = measures(shop, found.bookings)
    return Compared(
        first_come=(told["first_come"]["mean_lateness"], told["first_come"]["changeovers"]),
        due=(told["due"]["mean_lateness"], told["due"]["changeovers"]),
        ours=(ours["mean_lateness"], ours["changeovers"]),
        found=found,
        shop=shop,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """How many jobs, played, were done within the 90 % interval, and by the dates of 50, 80 and 90 %."""

    within: int
    by_50: int
    by_80: int
    by_90: int
    jobs: int


def kept_promises(shop: Shop, bookings: tuple[Booking, ...], *, plays: int, seed: int) -> Kept:
    """The promises of a schedule against as many plays of it by the other hand."""
    told = {one.job_id: one for one in promises(shop, bookings, draws=2000, generator=np.random.default_rng(seed))}
    counts = np.zeros(5, dtype=int)
    for play in range(plays):
        done = played(shop, bookings, np.random.default_rng((seed, play)))
        for job_id, one in told.items():
            at = done[job_id]
            counts += [one.low <= at <= one.high, at <= one.even, at <= one.sure_80, at <= one.sure_90, 1]
    return Kept(**dict(zip(("within", "by_50", "by_80", "by_90", "jobs"), counts.tolist(), strict=True)))


def played(shop: Shop, bookings: tuple[Booking, ...], rng: np.random.Generator) -> dict[str, float]:
    """When each job is done in one play of a schedule, event by event."""
    import simpy

    return _Play(simpy, shop, bookings, rng).run()


# ----------------------------------------------------------------------------------------------------------------------


def _behind(tasks: list[Task]) -> Iterator[tuple[Task | None, Task]]:
    yield None, tasks[0]
    yield from pairwise(tasks)


def _stages(name: str, rng: np.random.Generator) -> Iterator[Task]:
    material = str(rng.choice(["Si", "LiTaO3"]))
    size = float(rng.choice([50.8e-3, 76.2e-3]))

    def setting(kind: tuple[str, float, str]) -> Setting:
        return Setting(plate=kind[2], abrasive=kind[0], grain=kind[1], material=material, size=size)

    def made(step: str, places: tuple[str, ...], hours: float, **more: Any) -> Task:
        return Task(task_id=f"{name}.{step}", job_id=name, name=step, places=places, duration=hours * HOUR, **more)

    coarse, fine = _COARSE[int(rng.integers(2))], _FINE[int(rng.integers(2))]
    yield made("read", ("G1",), float(rng.uniform(0.1, 0.3)), hands=300.0, spread=0.15)
    yield made("bond", ("B1", "B2"), 0.5, setting=Setting(size=size), hands=600.0, rest=900.0, spread=0.05)
    for step, places, kind, low, high in (
        ("coarse", ("L1", "L2"), coarse, 0.5, 2.5),
        ("fine", ("F1", "L2") if rng.random() < 0.5 else ("F1",), fine, 0.4, 1.5),
        ("polish", ("P1", "P2"), _POLISH, 0.5, 2.0),
    ):
        yield made(
            step, places, float(rng.uniform(low, high)), setting=setting(kind), hands=600.0, spread=0.08,
            shared_spread=0.12, shares=f"{material} {kind[0]}",
        )  # fmt: skip
    yield made("clean", ("C1",), 0.5, hands=300.0, spread=0.15)


class _Play:
    """One play: a process for each load, people who come and go, durations drawn anew."""

    def __init__(self, simpy: Any, shop: Shop, bookings: tuple[Booking, ...], rng: np.random.Generator) -> None:
        self.env = simpy.Environment()
        self.shop, self.tasks = shop, {task.task_id: task for task in shop.tasks}
        self.loads = loads_of(bookings)
        self.rng = rng
        common = {key: rng.standard_normal() for key in sorted({task.shares for task in shop.tasks})}
        self.lengths = {
            task.task_id: task.duration
            * np.exp(task.spread * _heavy(rng) + task.shared_spread * (common[task.shares] if task.shares else 0.0))
            for task in shop.tasks
        }
        self.done = {name: self.env.event() for name in self.tasks}
        self.ends: dict[str, float] = {}
        self.free = {place.place_id: self.env.event() for place in shop.places}
        for event in self.free.values():
            event.succeed()
        people = max((shift.people for shift in shop.shifts), default=1000)
        self.people = simpy.PriorityResource(self.env, capacity=people)

    def run(self) -> dict[str, float]:
        """Play to the end."""
        states = states_before(self.shop)
        for load in self.loads:
            place_id = load[0].place_id
            setting = self.tasks[load[0].task_id].setting
            setup = changeover(states[place_id], setting, self.shop.changeovers)[0]
            states[place_id] = setting
            before, self.free[place_id] = self.free[place_id], self.env.event()
            self.env.process(self._load(load, setup, before, self.free[place_id]))
        self.env.run()
        found: dict[str, float] = {}
        for name, end in self.ends.items():
            task = self.tasks[name]
            found[task.job_id] = max(found.get(task.job_id, 0.0), end + task.rest)
        return found

    def _load(self, load: list[Booking], setup: float, before: Any, after: Any) -> Iterator[Any]:
        members = [self.tasks[one.task_id] for one in load]
        yield before
        for task in members:
            for name in task.after:
                yield self.done[name]
                late = self.ends[name] + self.tasks[name].rest - setup - self.env.now
                if late > _SLACK:
                    yield self.env.timeout(late)
        length = max(self.lengths[task.task_id] for task in members)
        hands = min(members[0].hands, length)
        while True:
            with self.people.request(priority=load[0].begin) as asked:
                yield asked
                wait = self._until_hours(setup + hands)
                if wait == 0.0:
                    yield self.env.timeout(setup + hands)
                    break
            yield self.env.timeout(wait)
        end = self.env.now - hands + length
        yield self.env.timeout(end - self.env.now)
        for task in members:
            self.ends[task.task_id] = end
            self.done[task.task_id].succeed()
        after.succeed()

    def _until_hours(self, needed: float) -> float:
        """How long until a shift has room for so much work by hand; zero when it has now."""
        now = float(self.env.now)
        for shift in self.shop.shifts:
            if max(now, shift.start) + needed <= shift.end + _SLACK:
                wait = shift.start - now
                return wait if wait > _SLACK else 0.0
        return 0.0


def _heavy(rng: np.random.Generator) -> float:
    """A draw of deviation 1 with heavier tails than a normal one: Student's t with 6 degrees of freedom."""
    return float(rng.standard_t(6) * np.sqrt(4.0 / 6.0))
