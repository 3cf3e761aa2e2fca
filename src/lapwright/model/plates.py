"""Lapping plates as recorded: what they are, how their ring stands, and every check, move and dressing. SI inside."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from lapwright.errors import BadInput, Fault, OutOfValidRange
from lapwright.model.readings import Signature

#: How a plate is looked at: bar with a dial along it, heights anywhere on it, bridge with a dial in the middle, test
#: block, lapped wafer.
CheckMethod = Literal["straightedge", "map", "bridge", "block", "wafer"]
#: What is recorded of a plate: a check, the ring set to a place, the plate dressed or faced.
EntryKind = Literal["check", "ring", "dressed"]

#: No plate is larger [m]; what is was typed in another unit.
MOST_RADIUS = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """A lapping plate with its ring.

    Land from `inner_radius` to `outer_radius`, ring likewise (`ring_inner_radius` 0 for one filled with work), the
    places that it can be set to, and where it stood when the plate was recorded. `dome_limit` [m] is the largest dome
    allowed, `check_every` [s of running] the longest time between checks, `reading_uncertainty` [m] that of one dial
    reading with its bar.
    """

    plate_id: str
    name: str
    station_id: str | None = None
    inner_radius: float
    outer_radius: float
    ring_outer_radius: float
    ring_inner_radius: float = 0.0
    least_offset: float
    most_offset: float
    offset: float
    speed_ratio: float = 1.0
    dome_limit: float = 10e-6
    check_every: float = 8.0 * 3600.0
    reading_uncertainty: float = 0.5e-6

    def __post_init__(self) -> None:
        faults = [
            Fault(sentence=sentence, field=field)
            for field, good, sentence in (
                ("inner_radius", 0.0 <= self.inner_radius < self.outer_radius,
                 "The inner radius of the land must be zero or more and less than the outer one."),
                ("outer_radius", self.outer_radius <= MOST_RADIUS,
                 f"The outer radius of the land must be at most {MOST_RADIUS:g} m. Look at its unit."),
                ("most_offset", self.most_offset <= MOST_RADIUS,
                 f"The farthest place of the ring must be at most {MOST_RADIUS:g} m. Look at its unit."),
                ("ring_outer_radius", 0.0 <= self.ring_inner_radius < self.ring_outer_radius,
                 "The inner radius of the ring must be zero or more and less than the outer one."),
                ("most_offset", 0.0 <= self.least_offset < self.most_offset,
                 "The farthest place of the ring must lie beyond the nearest."),
                ("offset", self.least_offset <= self.offset <= self.most_offset,
                 "The ring must stand between its nearest and its farthest place."),
                ("dome_limit", self.dome_limit > 0.0, "The limit of the dome must be more than zero."),
                ("check_every", self.check_every > 0.0, "The time between checks must be more than zero."),
                ("reading_uncertainty", self.reading_uncertainty > 0.0,
                 "The uncertainty of a dial reading must be more than zero."),
            )
            if not good
        ]  # fmt: skip
        if faults:
            raise BadInput(faults, subject="The plate")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateReading:
    """A dial reading as entered: place along the bar from the plate's axis [m], the laying, text, unit, value [m].

    Of a map the place is across the plate and `across` at right angles to it. For bridge, block and wafer the place
    is 0 and the value a sagitta, domed positive.
    """

    place: float
    laying: int
    text: str
    unit: str
    value: float
    across: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateEntry:
    """One line of a plate's history. `ran` [s] is how long it ran since the line before.

    A check has a method, its readings, and for all but the straight edge a `size` [m]: span or diameter. A ring line
    has the place [m] and speed ratio from then on. `corrects` points at a check typed wrong.
    """

    kind: EntryKind
    ran: float
    method: CheckMethod | None = None
    size: float | None = None
    readings: tuple[PlateReading, ...] = ()
    offset: float | None = None
    speed_ratio: float | None = None
    corrects: int | None = None

    def __post_init__(self) -> None:
        if not 0.0 <= self.ran < 1e9:
            raise OutOfValidRange("ran", self.ran, "zero or more, below 1e9 [s]")


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryHead:
    """A line of a plate's history without its readings: what is needed to know which of its checks count."""

    entry_id: int
    kind: EntryKind
    ran: float
    offset: float | None
    speed_ratio: float | None
    replaced_by: int | None
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedPlate:
    """A plate as recorded."""

    plate: Plate
    version: int
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedEntry:
    """A line of a plate's history as recorded; `replaced_by` is the check that corrects it."""

    entry_id: int
    entry: PlateEntry
    replaced_by: int | None
    signature: Signature
