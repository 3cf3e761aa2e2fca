"""What is told of the job as a whole: the list of orders, the story of a wafer, and what waits for a hand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from lapwright.model.job import (
    RecordedBond,
    RecordedDocument,
    RecordedFinding,
    RecordedNote,
    RecordedOrder,
    RecordedRoute,
    RecordedRun,
    RecordedSet,
    RecordedStage,
    RecordedVerdict,
    RecordedWafer,
    RecordedZero,
    SetState,
    WaferEvent,
    WaferState,
)
from lapwright.model.order import Limit
from lapwright.model.readings import Conditions, Moment, Signature, Subject
from lapwright.model.surface_record import RecordedSurface
from lapwright.model.verdict import Outcome

#: The page on which a task is done.
Page = Literal[
    "readings",
    "carrier",
    "bond",
    "route",
    "traveller",
    "certificate",
    "gauges",
    "plates",
    "odd",
    "changeover",
    "profiles",
    "surfaces",
]
#: Which orders of a list: every one, those with a wafer still to be worked, or those finished.
OrdersShown = Literal["all", "going", "finished"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """One order in a list: how many wafers stand in each state, and the worst verdict so far."""

    order_id: str
    customer: str
    material: str
    quantity: int
    start_thickness: float
    thickness: Limit | None
    due: date | None
    states: tuple[tuple[WaferState, int], ...]
    worst: Outcome | None
    simulated: bool
    received: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferStory:
    """All that is recorded of one wafer, oldest first."""

    wafer: RecordedWafer
    events: tuple[WaferEvent, ...]
    sets: tuple[RecordedSet, ...]
    bonds: tuple[RecordedBond, ...]
    stages: tuple[RecordedStage, ...]
    zeros: tuple[RecordedZero, ...]
    runs: tuple[RecordedRun, ...]
    findings: tuple[RecordedFinding, ...]
    verdicts: tuple[RecordedVerdict, ...]
    notes: tuple[RecordedNote, ...]
    documents: tuple[RecordedDocument, ...]
    surfaces: tuple[RecordedSurface, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferAtWork:
    """What the next step of a wafer rests on: its standing bond, its stages, zeros and runs, and the sets that count.

    `latest` is the set that says how thick it is now: on the carrier the last of the stack after a stage, else the
    last of the free wafer; None when it was never read. `bond_sets` are those the bond was judged by.
    """

    wafer: RecordedWafer
    bond: RecordedBond | None
    stages: tuple[RecordedStage, ...]
    zeros: tuple[RecordedZero, ...]
    runs: tuple[RecordedRun, ...]
    latest: RecordedSet | None
    bond_sets: tuple[RecordedSet, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetHead:
    """A set of readings as a list of sets shows it: without its readings."""

    set_id: int
    piece: str
    wafer_id: str | None
    moment: Moment
    gauge_id: str
    pattern: str
    repeats: int
    unit: str
    state: SetState
    opened: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class SetBrief:
    """A set of readings in brief: how it was read and how many of its sites count, without the readings."""

    set_id: int
    piece: str
    subject: Subject
    moment: Moment
    gauge_id: str
    pattern: str
    repeats: int
    conditions: Conditions
    state: SetState
    void_reason: str | None
    source: str | None
    n_readings: int
    opened: Signature
    closed: Signature | None
    version: int

    @classmethod
    def of(cls, recorded: RecordedSet) -> SetBrief:
        """The brief of a set with its readings: corrected ones do not count."""
        return cls(
            set_id=recorded.set_id,
            piece=recorded.piece,
            subject=recorded.subject,
            moment=recorded.moment,
            gauge_id=recorded.gauge_id,
            pattern=recorded.pattern.name,
            repeats=recorded.repeats,
            conditions=recorded.conditions,
            state=recorded.state,
            void_reason=recorded.void_reason,
            source=recorded.source,
            n_readings=sum(one.kind == "site" and one.replaced_by is None for one in recorded.readings),
            opened=recorded.opened,
            closed=recorded.closed,
            version=recorded.version,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferBrief:
    """What was done on a wafer, oldest first, without its readings."""

    wafer: RecordedWafer
    sets: tuple[SetBrief, ...]
    bonds: tuple[RecordedBond, ...]
    stages: tuple[RecordedStage, ...]
    runs: tuple[RecordedRun, ...]
    findings: tuple[RecordedFinding, ...]
    verdicts: tuple[RecordedVerdict, ...]
    notes: tuple[RecordedNote, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderBrief:
    """An order with what was done on its wafers, without their readings; `route` is the name of the one chosen."""

    order: RecordedOrder
    wafers: tuple[WaferBrief, ...]
    route: str | None
    notes: tuple[RecordedNote, ...]
    documents: tuple[RecordedDocument, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class VoidSet:
    """A set that was declared unusable, with where its wafer stands, why, and when that was said."""

    set_id: int
    wafer_id: str
    order_id: str
    state: WaferState
    moment: Moment
    reason: str
    since: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderStory:
    """All that is recorded of one order: the routes, the wafers' stories, and what belongs to the order as a whole.

    `carrier_sets` are the sets of carriers that were read for this order.
    """

    order: RecordedOrder
    wafers: tuple[WaferStory, ...]
    carrier_sets: tuple[RecordedSet, ...]
    routes: tuple[RecordedRoute, ...]
    notes: tuple[RecordedNote, ...]
    documents: tuple[RecordedDocument, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferStanding:
    """Where a wafer stands: bonds, stages and verdicts, oldest first; `latest` is the last closed set of it free."""

    wafer: RecordedWafer
    latest: RecordedSet | None
    bonds: tuple[RecordedBond, ...]
    stages: tuple[RecordedStage, ...]
    verdicts: tuple[RecordedVerdict, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderStanding:
    """Where an order stands, without the readings that led there."""

    order: RecordedOrder
    wafers: tuple[WaferStanding, ...]
    routes: tuple[RecordedRoute, ...]
    notes: tuple[RecordedNote, ...]
    documents: tuple[RecordedDocument, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetTimes:
    """When a set was opened, read and closed; `wafer_id` is None for that of a carrier.

    `read` can be empty where a set was over so soon that nothing between hangs on it.
    """

    wafer_id: str | None
    moment: Moment
    stage_id: int | None
    source: str | None
    opened: datetime
    read: tuple[datetime, ...]
    closed: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTimes:
    """When a run began and ended, and with what; `with_run` is that of another piece on the same carrier."""

    wafer_id: str
    stage_id: int
    plate: str | None
    abrasive: str | None
    started: datetime
    ended: datetime | None
    with_run: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderWork:
    """What was done on an order and how long it took: the times of its sets, the earliest first, and its runs."""

    sets: tuple[SetTimes, ...]
    runs: tuple[RunTimes, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DialNumber:
    """The one number to dial in or to look for: what it is, its SI value, and the unit and digits to show it in."""

    label: str
    value: float
    dimension: str
    symbol: str
    digits: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroedTravel:
    """How far a gauge is to travel [m], before what it misses in process is taken off, and where it was zeroed."""

    length: float
    station_id: str
    jig_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing that waits for a hand: the verb in plain words, what it is about, since when, and why.

    `page` is where it is done, `piece` what is read there when that is not the wafer. `warning` is true when waiting or
    going on would cost something. What follows from runs of any order is told when the task is shown: the time of a
    stage `by_clock`, and what a gauge misses of its `travel`.
    """

    verb: str
    order_id: str | None
    wafer_id: str | None
    station_id: str | None
    number: DialNumber | None
    since: datetime
    why: str
    page: Page
    warning: bool = False
    cautions: tuple[str, ...] = ()
    piece: str | None = None
    by_clock: bool = False
    travel: ZeroedTravel | None = None
