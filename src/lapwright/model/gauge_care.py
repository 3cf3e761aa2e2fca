"""Care of gauges as recorded: reference pieces, checks, studies, and what a gauge has touched. Lengths in m."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from lapwright.errors import OutOfValidRange
from lapwright.model.readings import Signature

StudyState = Literal["planned", "filed", "void"]
#: May a gauge be used now: nothing against it; with its sets flagged; not at all.
MayUse = Literal["yes", "flagged", "no"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckStandard:
    """A piece that stays in the house and is read again and again; its value [m] and expanded uncertainty if known."""

    standard_id: str
    name: str
    value: float | None = None
    expanded_uncertainty: float | None = None

    def __post_init__(self) -> None:
        if self.expanded_uncertainty is not None and self.expanded_uncertainty < 0.0:
            raise OutOfValidRange("expanded uncertainty of a standard", self.expanded_uncertainty, "zero or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeCheck:
    """One reading of a check standard, or of the zero (`standard_id` None), as entered and in m."""

    check_id: int
    gauge_id: str
    standard_id: str | None
    text: str
    unit: str
    value: float
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroRead:
    """The zeros of one set: mean before, mean after [m]; None where not read."""

    set_id: int
    order_id: str | None
    piece: str
    at: datetime
    by: str
    before: float | None
    after: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyLine:
    """One line of the sheet of a study: who reads which part, for the how-manieth time."""

    order: int
    repeat: int
    operator: str
    part: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyRequest:
    """A study to be planned; the sheet follows from the seed. `tolerance` [m] is the full width, None for none."""

    study_id: str
    gauge_id: str
    parts: tuple[str, ...]
    operators: tuple[str, ...]
    repeats: int
    seed: int
    unit: str = "µm"
    tolerance: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyPlan:
    """A study as planned: the gauge, parts, operators, repeats, the seed of the random order, and the sheet itself.

    `tolerance` [m] is the width the gauge is judged against, None when none was named; `unit` is what a bare number
    means.
    """

    study_id: str
    gauge_id: str
    parts: tuple[str, ...]
    operators: tuple[str, ...]
    repeats: int
    seed: int
    unit: str
    tolerance: float | None
    sheet: tuple[StudyLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyReading:
    """One reading of a study as entered; a correction points at the one it replaces."""

    reading_id: int
    order: int
    text: str
    unit: str
    value: float
    corrects: int | None
    replaced_by: int | None
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyFigures:
    """What a study was filed with. Standard deviations in m, shares from 0 to 1; None without a tolerance."""

    method: str
    repeatability: float
    reproducibility: float
    gauge: float
    part: float
    share_of_total: float
    distinct_categories: float | None
    tolerance: float | None
    share_of_tolerance: float | None
    levels_in_tolerance: float | None
    notes: tuple[str, ...]
    software_version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedStudy:
    """A study as recorded: its plan, the readings so far (corrected ones too), and its figures once filed."""

    plan: StudyPlan
    state: StudyState
    readings: tuple[StudyReading, ...]
    figures: StudyFigures | None
    planned: Signature
    filed: Signature | None
    version: int

    @property
    def standing(self) -> dict[int, StudyReading]:
        """The readings that have not been corrected, by the line of the sheet."""
        return {one.order: one for one in self.readings if one.replaced_by is None}

    @property
    def next_line(self) -> StudyLine | None:
        """The first line of the sheet without a reading; None when all are read or the study is not open."""
        taken = self.standing
        return next((line for line in self.plan.sheet if line.order not in taken), None) if self.is_open else None

    @property
    def is_open(self) -> bool:
        """Whether readings may still be entered."""
        return self.state == "planned"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitness:
    """Whether a gauge may be used on a day, and every sentence that speaks against it; `notices` do not forbid it."""

    may_use: MayUse
    reasons: tuple[str, ...]
    notices: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchedSet:
    """A set taken with a gauge, in the list of what it touched."""

    set_id: int
    piece: str
    order_id: str | None
    moment: str
    at: datetime
    state: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchedVerdict:
    """A verdict that rests on what a gauge measured."""

    verdict_id: int
    wafer_id: str
    order_id: str
    quantity: str
    outcome: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchedDocument:
    """A document issued for an order or a wafer after a gauge touched it."""

    document_id: int
    order_id: str
    wafer_id: str | None
    kind: str
    name: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Touched:
    """All that rests on a gauge since a moment: sets, faces measured, findings, wafers, verdicts, certificates.

    `since` is None when the gauge was never shown to be good: then everything counts. `until` is when it was shown
    to be good again, None up to now. `why` says which check was the last good one.
    """

    gauge_id: str
    since: datetime | None
    until: datetime | None
    why: str
    sets: tuple[TouchedSet, ...]
    surface_ids: tuple[int, ...]
    finding_ids: tuple[int, ...]
    wafers: tuple[tuple[str, str], ...]
    verdicts: tuple[TouchedVerdict, ...]
    certificates: tuple[TouchedDocument, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugePair:
    """Two closed sets of one piece in one state of it, read with two gauges; the one of the gauge asked about first."""

    piece: str
    moment: str
    order_id: str | None
    set_ids: tuple[int, int]
    gauge_ids: tuple[str, str]
    at: tuple[datetime, datetime]
