"""Readings, the sets they come in, and the gauge that took them."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.model.wafer import freeze

HoldState = Literal["free", "clamped"]
Subject = Literal["wafer", "carrier", "stack"]
#: What happens to a new set with a gauge that is past due or failed: it is flagged, or refused.
UnfitPolicy = Literal["flag", "block"]
#: When in the job a set was taken.
Moment = Literal["incoming", "carrier", "stack", "after_stage", "on_carrier", "final"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One value as it was entered, and what it means in SI. A correction points at the reading it replaces."""

    site: str
    x: float
    y: float
    thickness: float
    text: str
    unit: str
    repeat: int = 1
    corrects: int | None = None
    reading_id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """How a set was taken: held how, how warm [K], soaked since a hot step or not, zero readings [m]."""

    hold: HoldState | None = None
    temperature: float | None = None
    soaked: bool | None = None
    zero_before: float | None = None
    zero_after: float | None = None


UNKNOWN_CONDITIONS = Conditions()


@dataclass(frozen=True, slots=True, kw_only=True)
class ThicknessSet:
    """All readings of one piece in one go, as arrays with one entry per reading, in the order taken.

    `site` holds the index into `labels`, `x` and `y` (one entry per site); `thickness` is in m, NaN where a reading
    is missing.
    """

    piece: str
    labels: tuple[str, ...]
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    site: NDArray[np.intp]
    thickness: NDArray[np.float64]
    conditions: Conditions = UNKNOWN_CONDITIONS
    gauge: str | None = None
    operator: str | None = None

    def __post_init__(self) -> None:
        if not len(self.labels) == len(self.x) == len(self.y):
            raise ShapeMismatch(labels=(len(self.labels),), x=self.x.shape, y=self.y.shape)
        if self.site.shape != self.thickness.shape:
            raise ShapeMismatch(site=self.site.shape, thickness=self.thickness.shape)
        freeze(self.x, self.y, self.thickness)
        self.site.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """A thickness or length gauge and what is known of it. Lengths in m.

    `limit` is the half-width within which the maker or the calibration says every reading lies; it is common to all
    readings of a set. `local` is the half-width of the error that differs from site to site. Unknown is None.
    `when_unfit` says what happens to new sets while the gauge is past due or failed.
    """

    gauge_id: str
    name: str
    limit: float
    resolution: float = 0.0
    local: float | None = None
    repeatability: float | None = None
    contact: bool = True
    when_unfit: UnfitPolicy = "flag"

    def __post_init__(self) -> None:
        if self.limit < 0.0 or self.resolution < 0.0:
            raise OutOfValidRange("gauge limit or resolution", min(self.limit, self.resolution), "zero or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """A point of a correction curve [m]: at this reading, this much is added; known to this expanded uncertainty."""

    value: float
    correction: float
    expanded_uncertainty: float

    def __post_init__(self) -> None:
        if not self.expanded_uncertainty >= 0.0:
            raise OutOfValidRange("expanded uncertainty of a correction", self.expanded_uncertainty, "zero or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """One calibration of a gauge: certificate, day, next day due, deviation left and its expanded uncertainty [m].

    `as_found` is the largest deviation before anything was adjusted, None when it was not told; `deviation` is what
    was left. `curve` holds the corrections of the certificate, in rising order of the reading.
    """

    gauge_id: str
    certificate: str
    done: date
    due: date
    deviation: float
    expanded_uncertainty: float
    passed: bool = True
    interval_days: int | None = None
    as_found: float | None = None
    curve: tuple[CurvePoint, ...] = ()

    def __post_init__(self) -> None:
        values = [point.value for point in self.curve]
        if any(after <= before for before, after in itertools.pairwise(values)):
            raise OutOfValidRange("order of the points of a correction curve", len(values), "rising, each reading once")


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """Who did a thing, when, and why; every write carries one."""

    by: str
    at: datetime
    reason: str
