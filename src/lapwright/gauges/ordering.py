"""From decoded frames to stamped events in order: duplicates out, late ones marked, gaps told. No I/O.

Per channel:

- the same count, or the same count-less device time and text, as one of the last frames is a duplicate: counted, not
  handed on;
- a count or a device time below the latest is late: handed on, marked;
- a count that leaps tells how many readings are lost; a count that falls far back, or goes on climbing from a lower
  value, means that the sender started anew, and so does a device time that keeps climbing from a lower value;
- readings that arrive together keep their order: each is stamped at least a microsecond after the one before.

Without a count or a time from the sender nothing is known about its order, and every frame counts as new.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from lapwright.gauges.clock import Clock
from lapwright.gauges.clock_offset import ClockOffset
from lapwright.gauges.frames import Frame, FrameResult, Rubbish
from lapwright.gauges.readings import BadFrames, Gap, GaugeEvent, GaugeReading

STEP = 1e-6  # s, least distance of two stamps
REMEMBERED = 64  # frames among which duplicates and late ones are looked for
RESTART = 3  # climbing late frames after which the sender is taken to have started anew
REPORT_EVERY = 1.0  # s, bad frames of one channel are told together at most this often
MOST_CHANNELS = 64


@dataclass(slots=True)
class Counts:
    """What came through so far."""

    readings: int = 0
    bad_frames: int = 0
    duplicates: int = 0
    late: int = 0
    gaps: int = 0


@dataclass(slots=True)
class _Channel:
    """What is remembered of one channel."""

    last: float
    spoke: bool = False
    gap: Gap | None = None
    mark: float | None = None  # latest count or device time
    seen: deque[tuple[float, str]] = field(default_factory=lambda: deque(maxlen=REMEMBERED))
    climbing: list[float] = field(default_factory=list)
    bad: BadFrames | None = None
    told: float = -float("inf")


class Ordering:
    """The order of one source.

    Parameters
    ----------
    gap : silence after which a gap is told [s]
    clock : where stamps come from
    has_own_time : frames carry the time to go by (a replayed file)
    """

    def __init__(self, *, gap: float, clock: Clock, has_own_time: bool = False) -> None:
        self.gap, self.counts = gap, Counts()
        self.last: GaugeReading | None = None
        self._clock, self._own_time = clock, has_own_time
        self._offset = ClockOffset()
        self._opened: float | None = None
        self._channels: dict[str, _Channel] = {}
        self._nobody = _Channel(last=0.0)  # bad frames that name no channel known

    @property
    def clock_offset(self) -> float | None:
        """Our clock less the sender's [s], by the quickest frame of the last minute."""
        return self._offset.value

    def open(self) -> None:
        """Begin to listen now: silence counts from here."""
        if not self._own_time:
            self._opened = self._clock.monotonic()

    def take(self, frames: Sequence[FrameResult], at: float | None = None) -> list[GaugeEvent]:
        """Events for frames that arrived at a time (now, unless told)."""
        now = self._clock.monotonic()
        arrived = now if at is None else at
        utc = None if self._own_time else self._clock.utc()
        events: list[GaugeEvent] = []
        for frame in frames:
            time = self._time_of(frame, arrived)
            if isinstance(frame, Rubbish):
                events += self._rubbish(self._channels.get(frame.channel, self._nobody), frame, time, utc)
                continue
            channel = self._channel(frame.channel, time)
            if channel is None:
                crowd = Rubbish(reason=f"More than {MOST_CHANNELS} channels.", text=frame.channel)
                events += self._rubbish(self._nobody, crowd, time, utc)
            else:
                events += self._reading(channel, frame, time, utc)
        return events

    def silence(self) -> list[GaugeEvent]:
        """Gaps that open by now, and bad frames not told yet."""
        now = self._clock.monotonic()
        if not self._channels and self._opened is not None and now - self._opened > self.gap:
            self._channel("", self._opened)
        events: list[GaugeEvent] = []
        for name, channel in self._channels.items():
            if channel.gap is None and now - channel.last > self.gap:
                events.append(self._open_gap(name, channel, f"Nothing received for {self.gap:g} s."))
        return events + self._bad_frames(until=now - REPORT_EVERY)

    def interrupt(self, reason: str) -> list[GaugeEvent]:
        """The connection is gone: a gap opens in every channel that has none."""
        if not self._channels:
            self._channel("", self._opened or 0.0)
        events: list[GaugeEvent] = []
        for name, channel in self._channels.items():
            if channel.gap is None:
                events.append(self._open_gap(name, channel, reason))
        return self._bad_frames() + events

    def finish(self) -> list[GaugeEvent]:
        """The source is at its end: what was not told yet."""
        return self._bad_frames()

    # ------------------------------------------------------------------------------------------------------------------

    def _time_of(self, frame: FrameResult, arrived: float) -> float:
        """The stamp: the frame's own time where that is the clock, else the arrival."""
        if not self._own_time:
            return arrived
        return frame.device_time if frame.device_time is not None else (self.last.time if self.last else 0.0)

    def _channel(self, name: str, time: float) -> _Channel | None:
        """The memory of a channel; None when there are too many."""
        if name not in self._channels:
            if len(self._channels) >= MOST_CHANNELS:
                return None
            unnamed = self._channels.get("")
            if unnamed is not None and not unnamed.spoke:  # it only held the place until somebody spoke
                self._channels[name] = self._channels.pop("")
            else:
                opened = self._opened
                self._channels[name] = _Channel(last=time if opened is None else opened)
        return self._channels[name]

    def _reading(self, channel: _Channel, frame: Frame, time: float, utc: datetime | None) -> list[GaugeEvent]:
        counted = frame.sequence is not None and not self._own_time
        mark = frame.sequence if counted else frame.device_time
        if mark is not None and (mark, frame.text) in channel.seen:
            self.counts.duplicates += 1
            return []
        events, late = self._place(channel, frame.channel, mark, counted=counted)
        if self._own_time and not late and channel.spoke and time <= channel.last:
            late = True
        lag = None
        if frame.device_time is not None and not self._own_time:
            lag = self._offset.add(time, frame.device_time)
        if not late and not self._own_time:
            time = max(time, channel.last + STEP)
        events += [] if late else self._close_gap(channel, frame.channel, time)
        reading = GaugeReading(
            time=time,
            utc=utc,
            length=frame.length,
            text=frame.text,
            unit=frame.unit,
            channel=frame.channel,
            sequence=frame.sequence,
            device_time=frame.device_time,
            lag=lag,
            late=late,
        )
        self.counts.readings += 1
        self.counts.late += late
        if not late:
            channel.last, channel.spoke = time, True
            self.last = reading
        if mark is not None:
            channel.seen.append((mark, frame.text))
        return [*events, reading]

    def _place(
        self, channel: _Channel, name: str, mark: float | None, *, counted: bool
    ) -> tuple[list[GaugeEvent], bool]:
        """Whether a frame is late, and the gap that its count or a new start tells."""
        if mark is None or channel.mark is None:
            channel.mark = mark
            return [], False
        latest = channel.mark
        if mark > latest or (mark == latest and not counted):  # stamps may be coarser than readings are apart
            channel.mark, channel.climbing = mark, []
            leap = int(mark - latest) - 1 if counted else 0
            return ([self._lost(channel, name, leap)] if leap > 0 else []), False
        channel.climbing = [*channel.climbing, mark] if not channel.climbing or mark > channel.climbing[-1] else [mark]
        far = counted and latest - mark > REMEMBERED
        if not self._own_time and (far or len(channel.climbing) >= RESTART):
            channel.mark, channel.climbing = mark, []
            channel.seen.clear()
            self._offset = ClockOffset()
            return [self._instant(channel, name, "The sender started anew.", None)], False
        return [], True

    def _lost(self, channel: _Channel, name: str, lost: int) -> Gap:
        return self._instant(channel, name, f"The sender's count leapt: {lost} readings are missing.", lost)

    def _instant(self, channel: _Channel, name: str, reason: str, lost: int | None) -> Gap:
        """A gap that is over as soon as it is known."""
        self.counts.gaps += 1
        ended = channel.last if self._own_time else self._clock.monotonic()
        return Gap(started=channel.last, ended=ended, reason=reason, lost=lost, channel=name)

    def _open_gap(self, name: str, channel: _Channel, reason: str) -> Gap:
        self.counts.gaps += 1
        channel.gap = Gap(started=channel.last, ended=None, reason=reason, channel=name)
        return channel.gap

    def _close_gap(self, channel: _Channel, name: str, time: float) -> list[GaugeEvent]:
        """The end of an open gap, or the whole of one that nobody saw opening."""
        if channel.gap is not None:
            closed = replace(channel.gap, ended=time, channel=name)
            channel.gap = None
            return [closed]
        if channel.spoke and time - channel.last > self.gap:
            self.counts.gaps += 1
            return [
                Gap(started=channel.last, ended=time, reason=f"Silent for {time - channel.last:.3g} s.", channel=name)
            ]
        return []

    def _rubbish(self, channel: _Channel, frame: Rubbish, time: float, utc: datetime | None) -> list[GaugeEvent]:
        self.counts.bad_frames += 1
        if channel.bad is None:
            channel.bad = BadFrames(
                time=time, utc=utc, count=1, reason=frame.reason, text=frame.text, channel=frame.channel
            )
        else:
            channel.bad = replace(channel.bad, count=channel.bad.count + 1)
        return self._tell_bad(channel, time) if time >= channel.told + REPORT_EVERY else []

    def _bad_frames(self, *, until: float = float("inf")) -> list[GaugeEvent]:
        """Bad frames of all channels whose last report is old enough."""
        events: list[GaugeEvent] = []
        for channel in (self._nobody, *self._channels.values()):
            if channel.bad is not None and channel.told <= until:
                events += self._tell_bad(channel, max(channel.bad.time, channel.told + REPORT_EVERY))
        return events

    def _tell_bad(self, channel: _Channel, time: float) -> list[GaugeEvent]:
        bad, channel.bad, channel.told = channel.bad, None, time
        return [] if bad is None else [bad]
