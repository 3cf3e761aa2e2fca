"""What stands on the shelf and in the room: people, stations, jigs, carriers, gauges. SI inside."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from lapwright.errors import OutOfValidRange
from lapwright.model.readings import Calibration, Gauge, Signature
from lapwright.model.wafer import Carrier

StationKind = Literal["lap", "polish", "bond", "clean", "measure"]
#: May the gauge be trusted today, by its calibration alone?
CalibrationState = Literal["in_date", "due_soon", "overdue", "failed", "never_calibrated"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonCard:
    """Somebody who does the work and signs for it: the short name every write carries, and the full one."""

    name: str
    full_name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A place where work is done, with what is on it now: plate (or pad) and abrasive (or slurry).

    `plate_diameter` in m, None when it does not matter. `plate_piece` names the very plate or pad, `abrasive_lot` the
    lot; rates are learned for each of them where they are named. `charged_at` is when the slurry on it was put on,
    `dressed_at` when the plate or pad was last dressed; None where nobody has said.
    """

    station_id: str
    name: str
    kind: StationKind
    plate: str | None = None
    abrasive: str | None = None
    plate_diameter: float | None = None
    plate_piece: str | None = None
    abrasive_lot: str | None = None
    charged_at: datetime | None = None
    dressed_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Jig:
    """A lapping jig: where its adjusters stand and what one division of them moves.

    Adjuster azimuths [rad] are in the wafer frame with the jig turned face up, for a wafer mounted at angle zero.
    `advance_per_division` [m] is how far one division moves the jig at that adjuster, `division_step` the smallest part
    of a division that can be set, `spring_force` [N] what the spring takes off the load, `ring_share` the part of the
    load that foot or ring carries, `mass` [kg] what rests on the wafer without added weights.
    `clockwise_brings_near`: whether a clockwise turn, seen by the person who turns, brings the wafer nearer the plate
    there; None until a test turn has shown it. `learned_advances` [m] is what a division of each adjuster moves by the
    jig's own moves, as somebody has accepted it; None while the nominal value is taken for all.
    """

    jig_id: str
    name: str
    adjuster_radius: float
    adjuster_azimuths: tuple[float, ...]
    advance_per_division: float
    division_step: float = 0.25
    spring_force: float = 0.0
    ring_share: float = 0.0
    mass: float = 0.0
    clockwise_brings_near: bool | None = None
    learned_advances: tuple[float, ...] | None = None

    def __post_init__(self) -> None:
        if len(self.adjuster_azimuths) < 3:
            raise OutOfValidRange("number of adjusters", len(self.adjuster_azimuths), "at least 3")
        for name in ("adjuster_radius", "advance_per_division", "division_step"):
            if not getattr(self, name) > 0.0:
                raise OutOfValidRange(name, getattr(self, name), "more than zero")
        for one in self.learned_advances or ():
            if not 0.0 < one < math.inf:
                raise OutOfValidRange("learned_advances", one, "more than zero")
        if self.learned_advances is not None and len(self.learned_advances) != len(self.adjuster_azimuths):
            raise OutOfValidRange("learned_advances", len(self.learned_advances), "one for each adjuster")
        if not 0.0 <= self.ring_share < 1.0:
            raise OutOfValidRange("ring_share", self.ring_share, "from 0 to less than 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedStation:
    """A station as recorded, with its version."""

    station: Station
    version: int
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedJig:
    """A jig as recorded."""

    jig: Jig
    version: int
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedCarrier:
    """A carrier as recorded: what it is, which wafer is on it now, and its latest readings set."""

    carrier: Carrier
    wafer_id: str | None
    set_id: int | None
    version: int
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedGauge:
    """A gauge as recorded, its latest calibration, and whether that holds on the day asked for."""

    gauge: Gauge
    calibration: Calibration | None
    calibration_state: CalibrationState
    version: int
    signature: Signature
