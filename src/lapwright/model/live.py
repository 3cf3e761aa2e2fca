"""Live runs: which gauge feeds which station, what is asked of the recorder, what it answers and shows. SI inside."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from lapwright.errors import OutOfValidRange
from lapwright.model.job import RunStep

Direction = Literal["growing", "shrinking"]
RequestKind = Literal["start", "stop", "check", "new_rate"]
#: What a station does, as the recorder sees it; `recorder_away` is said by the listener when nobody answers.
LiveWord = Literal["recorder_away", "no_gauge", "idle", "running", "stopping"]
#: How a run under the recorder ended.
StreamOutcome = Literal["target", "time", "asked", "fault", "interrupted"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """The gauge of a station and the way to tell its machine that it may run.

    Attributes
    ----------
    station_id : the station
    source : address of the gauge
    stop_output : address of the stop output; ``dry-run:`` stops nothing
    gauge_id : the gauge on record whose calibration counts; empty when none is kept
    channel : which gauge of the source, where several share one
    direction : whether the length grows or shrinks with removal
    latency : time from asking for the stop to no more removal [s]
    latency_spread : standard uncertainty of the latency [s]
    noise : standard deviation of one reading before rounding, first guess [m]
    resolution : smallest step of the gauge [m]
    stale : silence after which a run is stopped [s]
    drift_limit : largest drift during a run that cannot be told from removal [m]
    foot_wear : share of the removal by which the gauge reads too little [1]
    foot_wear_uncertainty : standard uncertainty of that share [1]
    """

    station_id: str
    source: str
    stop_output: str = "dry-run:"
    gauge_id: str = ""
    channel: str = ""
    direction: Direction = "growing"
    latency: float = 1.0
    latency_spread: float = 0.1
    noise: float = 0.5e-6
    resolution: float = 1.0e-6
    stale: float = 5.0
    drift_limit: float = 0.0
    foot_wear: float = 0.0
    foot_wear_uncertainty: float = 0.0

    def __post_init__(self) -> None:
        if self.direction not in ("growing", "shrinking"):
            raise OutOfValidRange("direction", float("nan"), "growing or shrinking")
        for name in ("stale", "noise"):
            if not getattr(self, name) > 0.0:
                raise OutOfValidRange(name, getattr(self, name), "more than zero")
        for name in ("latency", "latency_spread", "resolution", "drift_limit", "foot_wear_uncertainty"):
            if not getattr(self, name) >= 0.0:
                raise OutOfValidRange(name, getattr(self, name), "zero or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedFeed:
    """A feed as recorded, with its version."""

    feed: Feed
    version: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StartOrder:
    """A run to be started under the recorder. What is left None is taken from the wafer's next stage.

    `target` [m] is the removal wanted at the gauge; `time` [s] makes it a run by the clock, for polish stages that
    remove too little for the gauge; `step` is the part of the stage it does, and `companions` are the other pieces on
    the carrier; `load` [N], `plate_speed` [rad/s].
    """

    wafer_id: str
    station_id: str
    jig_id: str | None = None
    target: float | None = None
    time: float | None = None
    load: float | None = None
    plate_speed: float | None = None
    step: RunStep = "whole"
    companions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckReading:
    """A removal measured otherwise in mid-run, the plate standing, and its standard uncertainty [m]."""

    removal: float
    uncertainty: float

    def __post_init__(self) -> None:
        if not self.uncertainty > 0.0:
            raise OutOfValidRange("uncertainty", self.uncertainty, "more than zero")


@dataclass(frozen=True, slots=True, kw_only=True)
class RateChange:
    """Load or speed changed on purpose in mid-run: the new rate over the old."""

    factor: float

    def __post_init__(self) -> None:
        if not self.factor > 0.0:
            raise OutOfValidRange("factor", self.factor, "more than zero")


#: What a request to the recorder may hold; a stop holds nothing.
Asked = StartOrder | CheckReading | RateChange | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveAnswer:
    """What the recorder said to a request: nothing yet (`accepted` None), yes, or no with code and sentence."""

    request_id: int
    kind: RequestKind
    station_id: str
    accepted: bool | None
    code: str = ""
    sentence: str = ""
    run_id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveFault:
    """A fault of a run: code, time in the run [s], sentence with what to do."""

    code: str
    time: float
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveBatch:
    """What happened at a station since the last batch, and how it stands. SI; None while it cannot be told.

    Attributes
    ----------
    station_id : the station
    word : what the station does
    at : time of the batch, of day
    sentence : what to know, in a sentence; empty when all is well
    run_id, wafer_id : the run, None when none is going
    elapsed : time since the start of the run [s]
    points : readings since the last batch, at most 40: (time in the run [s], removal shown [m]), thinned to extremes
    removed, removed_uncertainty, rate, rate_uncertainty : the estimate
    target : removal wanted at the gauge [m]
    time_left, time_left_low, time_left_high : until the stop, and its 90 % interval [s]
    chance_over_target : chance that the target is passed already
    margin : what the stop leaves, for certainty [m]
    advice : run, stop_now or stop_fault
    faults : what is wrong
    stop_state, stop_sentence : word and sentence of the stop output
    source_state, source_sentence : word and sentence of the gauge's connection
    reading : latest length shown, on the gauge's own scale [m]
    reading_age : age of the latest reading [s]
    readings : readings of the run so far
    stored : how many of them are committed
    """

    station_id: str
    word: LiveWord
    at: datetime
    sentence: str = ""
    run_id: int | None = None
    wafer_id: str | None = None
    elapsed: float | None = None
    points: tuple[tuple[float, float], ...] = ()
    removed: float | None = None
    removed_uncertainty: float | None = None
    rate: float | None = None
    rate_uncertainty: float | None = None
    target: float | None = None
    time_left: float | None = None
    time_left_low: float | None = None
    time_left_high: float | None = None
    chance_over_target: float | None = None
    margin: float | None = None
    advice: str = ""
    faults: tuple[LiveFault, ...] = ()
    stop_state: str = "closed"
    stop_sentence: str = ""
    source_state: str = "closed"
    source_sentence: str = ""
    reading: float | None = None
    reading_age: float | None = None
    readings: int = 0
    stored: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamEvent:
    """Something that happened in a stream: gap, bad frames, fault, advice, alarm, stop. Time in the run [s]."""

    kind: str
    time: float
    code: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DroppedStream:
    """Raw readings that were let go: by whom, when and why, how many, their SHA-256, and what is left to be drawn.

    `sha256` is that of the blocks one after the other; `picture` holds at most 600 stretches: time [s], least and
    greatest removal shown [m].
    """

    by: str
    at: datetime
    reason: str
    blocks: int
    readings: int
    sha256: str
    picture: tuple[tuple[float, float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedStream:
    """The stream of a run: what the recorder was told, its readings' number, how it ended (None while it goes on).

    Lengths of `ended_*` in m: the estimate when the stop was asked, what the gauge showed when the plate stood, and the
    step of the film between the two.
    """

    stream_id: int
    run_id: int
    station_id: str
    wafer_id: str
    feed: Feed | None
    target: float | None
    time: float | None
    zero: float
    rate: float | None
    started: datetime
    readings: int
    outcome: StreamOutcome | None = None
    ended: datetime | None = None
    ended_after: float | None = None
    ended_code: str = ""
    ended_sentence: str = ""
    ended_removed: float | None = None
    ended_uncertainty: float | None = None
    ended_margin: float | None = None
    ended_shown: float | None = None
    events: tuple[StreamEvent, ...] = ()
    dropped: DroppedStream | None = None
