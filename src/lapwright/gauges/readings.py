"""What a live source hands on: readings, bad frames, gaps; and how the source stands. SI, times in seconds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

SourceState = Literal["closed", "connecting", "connected", "lost", "ended", "failed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeReading:
    """One length as it arrived.

    Attributes
    ----------
    time : when it arrived, on the monotonic clock; for a replayed file the time in the file; never the same twice in
        one channel unless `late` [s]
    utc : the same moment as a date; None for a replayed file
    length : what the gauge shows, by its own sign and zero [m]
    text : the frame as sent
    unit : the unit it was sent in
    channel : which gauge spoke, where several share a source; else empty
    sequence : the sender's count, if it sends one
    device_time : the sender's own time, if it sends one, on the sender's clock [s]
    lag : how much longer this frame was under way than the quickest of the last minute, if the sender sends a time [s]
    late : overtaken by a later one; keep it, but do not steer by it
    """

    time: float
    utc: datetime | None
    length: float
    text: str
    unit: str
    channel: str = ""
    sequence: int | None = None
    device_time: float | None = None
    lag: float | None = None
    late: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BadFrames:
    """Frames that were no reading: how many since the last such report, and the first of them with the reason."""

    time: float
    utc: datetime | None
    count: int
    reason: str
    text: str
    channel: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch without readings: reported when it opens (`ended` None) and again when it closes.

    Attributes
    ----------
    started : time of the last reading before it, or of the opening of the source [s]
    ended : time of the first reading after it, None while it lasts [s]
    reason : why, as a sentence
    lost : readings known to be missing, None when it cannot be told
    """

    started: float
    ended: float | None
    reason: str
    lost: int | None = None
    channel: str = ""


GaugeEvent = GaugeReading | BadFrames | Gap


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceStatus:
    """How a source stands.

    Attributes
    ----------
    address : where it listens, without secrets
    state : closed, connecting, connected, lost, ended or failed
    sentence : what to know about the state, in a sentence
    last : latest reading, None before the first
    clock_offset : our monotonic clock less the sender's clock, by its quickest frame, if it sends a time [s]
    """

    address: str
    state: SourceState
    sentence: str
    readings: int = 0
    bad_frames: int = 0
    duplicates: int = 0
    late: int = 0
    gaps: int = 0
    dropped: int = 0
    last: GaugeReading | None = None
    clock_offset: float | None = None

    def age(self, now: float) -> float | None:
        """Time since the latest reading [s]; None before the first."""
        return None if self.last is None else now - self.last.time
