"""The job as recorded: what use cases take and give, one frozen value per kind of record.

`Order`, `Wafer`, `Reading`, `Stage`, `Plan` and `Verdict` are the facts; the classes here add what the records know
beside them: identity, state, version, who wrote it and when. Lengths in m, times as aware datetimes in UTC.
A version counts the writes of one record; give it back with a change and a stale one is refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from lapwright.model.order import Order, Quantity
from lapwright.model.plan import Plan, PresetDatum, Stage
from lapwright.model.readings import Calibration, Conditions, Gauge, Moment, Reading, Signature, Subject
from lapwright.model.verdict import BondVerdict, Verdict
from lapwright.model.wafer import WORKED_FRAME, Frame, Outline, SitePattern, Wafer, Wedge

#: Where a wafer stands. docs/explanation/the-job.md draws the ways between them.
WaferState = Literal[
    "received", "measured_in", "bonded", "stack_read", "rebond", "ready", "in_work", "worked", "read_on_carrier",
    "debonded", "read_free", "judged", "certified", "set_aside", "rejected",
]  # fmt: skip
SetState = Literal["open", "closed", "void"]
#: What a reading is of: a site of the piece, or the gauge's zero before or after the set.
ReadingKind = Literal["site", "zero_before", "zero_after"]
#: What a set waits for.
Expected = Literal["zero_before", "site", "zero_after", "close", "nothing"]
StageState = Literal["waiting", "running", "done", "skipped"]
#: Which part of a stage a run does: all of it, a first one after which it goes on, or the one that finishes it.
RunStep = Literal["whole", "first", "finish"]
BondDecision = Literal["keep", "rebond"]
DocumentKind = Literal[
    "certificate_pdf", "certificate_html", "certificate_csv", "certificate_json", "certificate_qif", "traveller",
    "bond_photo", "import", "photo", "surface", "quotation_pdf", "other",
]  # fmt: skip
NoteKind = Literal["note", "warning"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedOrder:
    """An order as recorded. `simulated` is true when its readings are invented; everything printed says so."""

    order: Order
    wafer_ids: tuple[str, ...]
    simulated: bool
    version: int
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedWafer:
    """A wafer as recorded: where it stands, since when, and on which carrier."""

    wafer: Wafer
    order_id: str
    lot_id: str
    state: WaferState
    since: datetime
    carrier_id: str | None
    bond_id: int | None
    version: int
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferEvent:
    """One step of a wafer from state to state, with who, when and why."""

    wafer_id: str
    before: WaferState
    after: WaferState
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedReading:
    """A reading as recorded; it is never changed.

    `replaced_by` is the reading that corrects it. `question` is what was asked about it before it was deliberately
    kept. The `reading` of a zero has an empty site.
    """

    reading: Reading
    kind: ReadingKind
    sequence: int
    replaced_by: int | None
    question: str | None
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class SetSurroundings:
    """What a set is computed with beside its readings: the piece, the gauge and its calibrations, earliest first."""

    outline: Outline
    edge_exclusion: float
    gauge: Gauge
    calibrations: tuple[Calibration, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedSet:
    """A set of readings as recorded: the piece, the sites wanted, the readings taken, corrected ones included.

    `unit` is what a bare number typed into this set means, `zero_wanted` whether the gauge's zero is
    read before and after. `source` names the file a set was imported from. `gauge_flag` says what spoke against the
    gauge when the set was opened, None when nothing did. A closed set that has not changed is the same object
    whenever it is asked for.
    """

    set_id: int
    subject: Subject
    moment: Moment
    piece: str
    order_id: str | None
    wafer_id: str | None
    stage_id: int | None
    gauge_id: str
    pattern: SitePattern
    repeats: int
    unit: str
    conditions: Conditions
    zero_wanted: bool
    state: SetState
    void_reason: str | None
    source: str | None
    readings: tuple[RecordedReading, ...]
    opened: Signature
    closed: Signature | None
    version: int
    surroundings: SetSurroundings
    gauge_flag: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetProgress:
    """What a set expects next: a zero, a site with its repeat, or to be closed; sites taken of sites wanted."""

    expected: Expected
    site: str | None
    repeat: int | None
    taken: int
    wanted: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingAnswer:
    """The answer to a reading offered: stored, or a question and nothing stored.

    With a question, offer the same text again with ``confirmed=True`` to keep it all the same. `after` is the set as
    it stands now.
    """

    stored: RecordedReading | None
    question: str | None
    progress: SetProgress
    after: RecordedSet


@dataclass(frozen=True, slots=True, kw_only=True)
class BondNumbers:
    """The numbers a bond was judged by; the bond's own, then those of the wafer it would give. Lengths in m.

    A wedge is None when the sites cannot carry one.
    """

    mean: float
    range: float
    wedge: Wedge | None
    suspects: tuple[str, ...]
    predicted_ttv: float
    predicted_ttv_expanded_uncertainty: float | None
    predicted_wedge: Wedge | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedBond:
    """One bonding of one wafer to one carrier: how it was made, the three sets, the verdict, and what was decided.

    The advice comes from the numbers; the decision is a person's and may differ, with its reason in `decided`.
    """

    bond_id: int
    wafer_id: str
    carrier_id: str
    adhesive: str
    adhesive_lot: str
    wafer_frame: Frame
    carrier_frame: Frame = WORKED_FRAME
    wafer_set_id: int | None
    carrier_set_id: int | None
    stack_set_id: int | None
    numbers: BondNumbers | None
    verdict: BondVerdict | None
    decision: BondDecision | None
    made: Signature
    decided: Signature | None
    undone: Signature | None
    undone_by_method: str | None
    version: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedRoute:
    """A route proposed for an order and kept; `chosen` is true for the one the wafers follow."""

    route_id: int
    order_id: str
    plan: Plan
    chosen: bool
    version: int
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedStage:
    """One stage of one wafer: as planned for this wafer from its own map, and how far it is."""

    stage_id: int
    wafer_id: str
    number: int
    stage: Stage
    state: StageState
    set_id: int | None
    started: datetime | None
    ended: datetime | None
    version: int
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedZero:
    """The zero of the jig's gauge, read at least three times: accepted when the readings lie close together.

    `void` says why it no longer holds; None while it does. A zero is bound to wafer, station, plate, abrasive and jig.
    """

    zero_id: int
    wafer_id: str
    station_id: str
    plate: str | None
    abrasive: str | None
    jig_id: str
    texts: tuple[str, ...]
    unit: str
    values: tuple[float, ...]
    spread: float
    limit: float
    accepted: bool
    reason: str
    void: str | None
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedRun:
    """One run of one wafer on one station: what was dialled in, and what the jig's gauge said at the end.

    A run by the clock has a `time` [s], planned and then as it really was, and `expected`: points (time [s], removal
    [m]) of what the rate lets expect. Pieces that run together have a run each; those of the others name the first
    one in `with_run`.
    """

    run_id: int
    stage_id: int
    wafer_id: str
    station_id: str
    plate: str | None
    abrasive: str | None
    jig_id: str | None
    zero_id: int | None
    load: float | None
    pressure: float | None
    plate_speed: float | None
    preset: float | None
    preset_datum: PresetDatum | None
    started: datetime
    ended: datetime | None
    gauge_removal: float | None
    gauge_removal_text: str | None
    stop_reason: str | None
    started_by: Signature
    ended_by: Signature | None
    version: int
    step: RunStep = "whole"
    time: float | None = None
    expected: tuple[tuple[float, float], ...] = ()
    with_run: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedWeighing:
    """A mass as read, dry and clean, and its standard uncertainty [kg]; `pieces` lay on the balance together.

    `void` says why it does not count; None while it does.
    """

    weighing_id: int
    wafer_id: str
    pieces: tuple[str, ...]
    text: str
    mass: float
    uncertainty: float
    balance: str
    void: str | None
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedFinding:
    """A quantity measured otherwise than by a readings set: roughness, flatness, bow. Lengths in m.

    `surface_id` is the measured face it was taken from, when the program took it.
    """

    finding_id: int
    wafer_id: str
    quantity: Quantity
    value: float
    expanded_uncertainty: float | None
    text: str
    unit: str
    gauge_id: str | None
    method: str
    moment: Moment
    signature: Signature
    surface_id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedVerdict:
    """A limit judged, and the set or finding it was judged by."""

    verdict_id: int
    wafer_id: str
    verdict: Verdict
    set_id: int | None
    finding_id: int | None
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedDocument:
    """A file kept in the data folder: where, how long, and its SHA-256."""

    document_id: int
    kind: DocumentKind
    order_id: str
    wafer_id: str | None
    name: str
    path: str
    sha256: str
    size: int
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedNote:
    """Words about an order, a wafer or one of its stages."""

    note_id: int
    kind: NoteKind
    order_id: str
    wafer_id: str | None
    stage_id: int | None
    text: str
    signature: Signature
