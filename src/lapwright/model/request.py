"""What a person asks to have recorded, where it takes more than a few words. SI inside."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.errors import OutOfValidRange
from lapwright.model.job import RunStep
from lapwright.model.order import Quantity
from lapwright.model.readings import UNKNOWN_CONDITIONS, Conditions, Moment, Subject
from lapwright.model.wafer import WORKED_FRAME, Frame


@dataclass(frozen=True, slots=True, kw_only=True)
class SetRequest:
    """A set of readings to be taken: of which piece, when in the job, with which gauge, on which sites.

    `piece` is a wafer id (also for a stack: the wafer on it) or a carrier id. `pattern` is the name of a site pattern;
    `unit` is what a bare number means. With `zero`, the gauge's zero is read before and after. For a carrier,
    `order_id` is the order whose wafers it will bear: its sites are then theirs, so that the maps of a bond share them.
    """

    piece: str
    subject: Subject
    moment: Moment
    gauge_id: str
    pattern: str = "nine"
    repeats: int = 1
    unit: str = "µm"
    conditions: Conditions = UNKNOWN_CONDITIONS
    zero: bool = True
    order_id: str | None = None

    def __post_init__(self) -> None:
        if self.repeats < 1:
            raise OutOfValidRange("repeats", self.repeats, "at least 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportRequest:
    """What a file of readings cannot say of itself: of which kind of piece, when in the job, with which gauge."""

    subject: Subject
    moment: Moment
    gauge_id: str
    order_id: str | None = None
    conditions: Conditions = UNKNOWN_CONDITIONS


@dataclass(frozen=True, slots=True, kw_only=True)
class BondRequest:
    """A bond as made: which wafer on which carrier, with what, seen from where and turned how."""

    wafer_id: str
    carrier_id: str
    adhesive: str
    adhesive_lot: str = ""
    wafer_frame: Frame = WORKED_FRAME
    carrier_frame: Frame = WORKED_FRAME


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroRequest:
    """The zero of the jig's gauge, read three times or more, as entered; `unit` is what a bare number means."""

    wafer_id: str
    station_id: str
    jig_id: str
    texts: tuple[str, ...]
    unit: str = "µm"


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRequest:
    """A run to be started on a wafer's next stage. What is left None is taken from the stage as planned.

    `preset` [m] is what was really dialled in, `load` [N], `plate_speed` [rad/s]; `step` is the part of the stage that
    the run does. A run by the clock has a `time` [s] and in `companions` the other pieces on the carrier.
    """

    wafer_id: str
    station_id: str
    jig_id: str | None = None
    preset: float | None = None
    load: float | None = None
    plate_speed: float | None = None
    time: float | None = None
    step: RunStep = "whole"
    companions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighingRequest:
    """A mass as read, dry and clean: '12.3456 g' and its standard uncertainty, '0.1 mg'; `pieces` lay on together."""

    pieces: tuple[str, ...]
    text: str
    uncertainty: str
    balance: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingRequest:
    """A quantity measured otherwise than by a readings set, as entered: '0.8 nm', with its expanded uncertainty [m]."""

    wafer_id: str
    quantity: Quantity
    text: str
    method: str
    expanded_uncertainty: float | None = None
    gauge_id: str | None = None
    moment: Moment = "final"
    surface_id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenWafer:
    """A wafer as the customer's list names it, with its thickness [m] and whether it is a spare where that is told."""

    name: str
    thickness: float | None = None
    spare: bool | None = None
