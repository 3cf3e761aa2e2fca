"""The shop as scheduling sees it: places, people, jobs with their tasks, and a schedule. Times in s from one moment."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from lapwright.errors import OutOfValidRange

PlaceKind = Literal["lap", "polish", "bond", "clean", "measure"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a place is set up for: plate, abrasive with its grain [m], material of the wafers and their size [m].

    An empty text or zero means that it does not matter.
    """

    plate: str = ""
    abrasive: str = ""
    grain: float = 0.0
    material: str = ""
    size: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Changeovers:
    """How long a place is changed over [s]: another plate, a wash, a thorough cleaning, other templates.

    Common practice, no source; every lab enters its own.
    """

    plate_change: float = 1500.0
    wash: float = 900.0
    cleaning: float = 2400.0
    templates: float = 600.0

    def __post_init__(self) -> None:
        for name in ("plate_change", "wash", "cleaning", "templates"):
            if not 0.0 <= getattr(self, name) < math.inf:
                raise OutOfValidRange(name, getattr(self, name), "zero or more [s]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """A time in which a place cannot be used: broken, or its plate is conditioned."""

    start: float
    end: float
    reason: str = ""

    def __post_init__(self) -> None:
        if not self.start < self.end:
            raise OutOfValidRange("end of a closure", self.end, f"later than its start, {self.start:g} s")


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A station, bonder, bath or bench: how many pieces it takes at once, what is on it, when it is closed."""

    place_id: str
    name: str = ""
    kind: PlaceKind = "lap"
    positions: int = 1
    setting: Setting = Setting()
    closed: tuple[Closure, ...] = ()

    def __post_init__(self) -> None:
        if self.positions < 1:
            raise OutOfValidRange("positions", self.positions, "at least 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """Hours in which people are there, and how many."""

    start: float
    end: float
    people: int = 1

    def __post_init__(self) -> None:
        if not self.start < self.end:
            raise OutOfValidRange("end of a shift", self.end, f"later than its start, {self.start:g} s")
        if self.people < 1:
            raise OutOfValidRange("people", self.people, "at least 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What was promised together: `due` [s] or None, and how much an hour of lateness weighs beside another job's."""

    job_id: str
    due: float | None = None
    priority: int = 1

    def __post_init__(self) -> None:
        if not 1 <= self.priority <= 1000:
            raise OutOfValidRange("priority", self.priority, "from 1 to 1000")


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One stage of one or more pieces of a job at one of `places`.

    `duration` [s] is the expected one; a running task is at the first of its places and its duration is what is left.
    `hands` [s] from its start bind a person, who changes over before it too; with `in_hours` it does not run beyond a
    shift. `rest` [s] is what passes after it before the next one, with nobody and nowhere: cooling, curing, drying.
    `after` names the tasks before it. `spread` and `shared_spread` are log deviations of the duration: its own, and
    that of all tasks with the same `shares`.
    """

    task_id: str
    job_id: str
    name: str
    places: tuple[str, ...]
    duration: float
    setting: Setting = Setting()
    pieces: tuple[str, ...] = ("",)
    hands: float = 0.0
    in_hours: bool = False
    rest: float = 0.0
    after: tuple[str, ...] = ()
    release: float = 0.0
    spread: float = 0.0
    shared_spread: float = 0.0
    shares: str = ""
    running: bool = False

    def __post_init__(self) -> None:
        if not self.places:
            raise OutOfValidRange(f"number of places of task {self.task_id}", 0, "at least 1")
        if not 0.0 < self.duration < math.inf:
            raise OutOfValidRange(f"duration of task {self.task_id}", self.duration, "more than zero [s]")
        for name in ("hands", "rest", "release", "spread", "shared_spread"):
            if not 0.0 <= getattr(self, name) < math.inf:
                raise OutOfValidRange(f"{name} of task {self.task_id}", getattr(self, name), "zero or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fix:
    """A task that somebody has set on a place from a start on; nothing moves it but another hand."""

    task_id: str
    place_id: str
    start: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """Things alike of which a shop has so many, carriers of one size or jigs; `name` says them in the singular."""

    kit_id: str
    name: str = ""
    count: int = 1

    def __post_init__(self) -> None:
        if self.count < 1:
            raise OutOfValidRange(f"count of {self.name or self.kit_id}", self.count, "at least 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """So many of a kit are in use from the start of one task to the end of another; from now when `first` is empty."""

    kit_id: str
    first: str
    last: str
    count: int = 1

    def __post_init__(self) -> None:
        if self.count < 1:
            raise OutOfValidRange(f"count of {self.kit_id} in use", self.count, "at least 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """All that a schedule is made from. Without shifts there are always people enough, without kits of all things."""

    places: tuple[Place, ...]
    jobs: tuple[Job, ...]
    tasks: tuple[Task, ...]
    shifts: tuple[Shift, ...] = ()
    changeovers: Changeovers = Changeovers()
    fixes: tuple[Fix, ...] = ()
    kits: tuple[Kit, ...] = ()
    holds: tuple[Hold, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Booking:
    """A task in a schedule: where, from when to when [s]; the place is changed over from `begin` to `start`.

    `why` says what is done before it there, empty for nothing. `leads` is true for one task of each load: the one
    whose person sees to all of it.
    """

    task_id: str
    place_id: str
    begin: float
    start: float
    end: float
    why: str = ""
    leads: bool = True
