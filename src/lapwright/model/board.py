"""What the Board keeps: places and hours of the shop, how long things take, and the schedule in force.

Times are seconds since 1970 in UTC, so that a schedule kept means the same wherever it is read; times of day are
seconds since midnight by the laboratory's clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from lapwright.errors import OutOfValidRange
from lapwright.model.queue import Changeovers, Closure, PlaceKind
from lapwright.model.readings import Signature

DAY = 86400.0
USUAL = Changeovers()


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardPlace:
    """A station or bench as the Board knows it: pieces at once, plates that can be put on it, when it is closed.

    `place_id` is that of a station on record, or a name of its own for a bench. No `plates`: only what lies on it.
    """

    place_id: str
    name: str = ""
    kind: PlaceKind = "lap"
    positions: int = 1
    plates: tuple[str, ...] = ()
    closed: tuple[Closure, ...] = ()

    def __post_init__(self) -> None:
        if not 1 <= self.positions <= 100:
            raise OutOfValidRange("positions", self.positions, "from 1 to 100")


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekShift:
    """Hours of one day of the week, 0 for Monday, and how many people are there."""

    weekday: int
    start: float
    end: float
    people: int = 1

    def __post_init__(self) -> None:
        if not 0 <= self.weekday <= 6:
            raise OutOfValidRange("weekday", self.weekday, "from 0 (Monday) to 6")
        if not 0.0 <= self.start < self.end <= DAY:
            raise OutOfValidRange("end of the hours", self.end, "later than their start and within the day [s]")
        if not 1 <= self.people <= 100:
            raise OutOfValidRange("people", self.people, "from 1 to 100")


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraShift:
    """Hours beside those of the week, once."""

    start: float
    end: float
    people: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopHours:
    """When people are there: the hours of the week, extra ones, and days off."""

    week: tuple[WeekShift, ...]
    extra: tuple[ExtraShift, ...] = ()
    off: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopTimes:
    """How long things take that no route says [s]: changeovers, loading, the bonding cycle, reading, taking off.

    `loading` binds a person at the start of a run; `bonding` and then `cooling` are together the usual three quarters
    of an hour. All common practice, no source; every lab enters its own.
    """

    changeovers: Changeovers = USUAL
    loading: float = 600.0
    bonding: float = 1500.0
    cooling: float = 1200.0
    reading: float = 1200.0
    taking_off: float = 1800.0

    def __post_init__(self) -> None:
        for name in ("loading", "bonding", "reading", "taking_off"):
            if not 0.0 < getattr(self, name) <= DAY:
                raise OutOfValidRange(name, getattr(self, name), "more than zero and at most a day [s]")
        if not 0.0 <= self.cooling <= DAY:
            raise OutOfValidRange("cooling", self.cooling, "from zero to a day [s]")


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRank:
    """How much an hour of lateness of an order weighs beside another's."""

    order_id: str
    priority: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRanks:
    """The orders that weigh more than others."""

    ranks: tuple[OrderRank, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTask:
    """A task in a schedule kept: what, of which order, on which place, from when to when; `begin` of its changeover."""

    task_id: str
    order_id: str
    name: str
    place_id: str
    begin: float
    start: float
    end: float
    why: str = ""
    leads: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldTask:
    """A task set by hand to a place from a time on."""

    task_id: str
    place_id: str
    start: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPromise:
    """When an order will be done: planned, with 50, 80 and 90 % chance, and the chance of its date (None without)."""

    order_id: str
    planned: float
    even: float
    sure_80: float
    sure_90: float
    chance: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardPlan:
    """A schedule that somebody accepted: its tasks, what was set by hand, and what it lets be promised."""

    made_at: float
    tasks: tuple[PlannedTask, ...]
    held: tuple[HeldTask, ...] = ()
    promises: tuple[OrderPromise, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedPlan:
    """A schedule as recorded: who accepted it, and when."""

    plan_id: int
    plan: BoardPlan
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardFacts:
    """All settings of the Board as recorded; None or missing where nobody has entered them. `since` is the latest."""

    places: tuple[BoardPlace, ...] = ()
    hours: ShopHours | None = None
    times: ShopTimes | None = None
    ranks: OrderRanks = OrderRanks()
    since: datetime | None = None
