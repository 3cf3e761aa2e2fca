"""Order, duplicates, gaps and stamps, on a clock moved by hand."""

from datetime import UTC, datetime

import pytest

from lapwright.gauges.clock import Clock
from lapwright.gauges.clock_offset import ClockOffset
from lapwright.gauges.frames import Frame, Rubbish
from lapwright.gauges.ordering import MOST_CHANNELS, Ordering
from lapwright.gauges.readings import BadFrames, Gap, GaugeReading

BORN = datetime(2026, 1, 1, tzinfo=UTC)


class Hand:
    """A clock that stands until it is moved."""

    def __init__(self):
        self.now = 100.0

    def clock(self):
        """The clock as the program wants it."""
        return Clock(monotonic=lambda: self.now, utc=lambda: BORN)


@pytest.fixture
def hand():
    """A clock moved by hand."""
    return Hand()


@pytest.fixture
def order(hand):
    """An ordering with a gap limit of one second, opened at 100 s."""
    ordering = Ordering(gap=1.0, clock=hand.clock())
    ordering.open()
    return ordering


def frame(length, **more):
    """A frame in µm."""
    return Frame(length=length * 1e-6, text=str(length), unit="µm", **more)


def kinds(events):
    """The kinds of events."""
    return [type(event) for event in events]


def test_frames_that_arrive_together_keep_their_order(order):
    """A microsecond apart at least, so that no reader drops one as a repetition."""
    first, second, third = order.take([frame(1), frame(1), frame(1)])
    assert (first.time, second.time, third.time) == pytest.approx((100.0 + 1e-6, 100.0 + 2e-6, 100.0 + 3e-6), abs=1e-9)
    assert first.utc == BORN


def test_a_count_that_was_there_is_a_duplicate(order):
    """Counted, not handed on; also after others."""
    assert len(order.take([frame(n, sequence=n) for n in (1, 2, 2, 3, 1)])) == 3
    assert (order.counts.readings, order.counts.duplicates) == (3, 2)


def test_an_overtaken_frame_is_handed_on_and_marked(order):
    """Kept for the record; the latest stays the latest."""
    events = order.take([frame(n, device_time=float(n)) for n in (1, 3, 2, 4)])
    assert [event.late for event in events] == [False, False, True, False]
    assert order.last.length == pytest.approx(4e-6)
    assert order.counts.late == 1


def test_a_leap_of_the_count_tells_how_many_are_lost(order):
    """5 to 9: three are missing."""
    _, gap, reading = order.take([frame(1, sequence=5), frame(2, sequence=9)])
    assert (gap.lost, gap.ended is not None) == (3, True)
    assert isinstance(reading, GaugeReading)


def test_a_sender_that_starts_anew_is_believed(order):
    """A count that falls from 5000 to 0 is no late frame."""
    _, gap, reading = order.take([frame(1, sequence=5000), frame(2, sequence=0)])
    assert gap.reason == "The sender started anew."
    assert not reading.late


def test_a_clock_set_back_is_believed_at_the_third_frame(order):
    """Two climbing late stamps may be late frames; three are a new clock."""
    events = order.take([frame(n, device_time=t) for n, t in enumerate([500.0, 10.0, 10.2, 10.4, 10.6])])
    assert [event.late for event in events if isinstance(event, GaugeReading)] == [False, True, True, False, False]


def test_equal_stamps_of_different_readings_are_both_taken(order):
    """A sender that stamps whole seconds, five times a second."""
    assert len(order.take([frame(1, device_time=7.0), frame(2, device_time=7.0)])) == 2
    assert order.counts.late == 0


def test_without_count_and_time_equal_frames_are_readings(order):
    """A coarse gauge repeats itself."""
    assert len(order.take([frame(1)] * 5)) == 5


def test_silence_opens_a_gap_once_and_a_reading_closes_it(order, hand):
    """From the last reading to the next one."""
    (first,) = order.take([frame(1)])
    hand.now = 101.5
    (opened,) = order.silence()
    assert order.silence() == []
    hand.now = 104.0
    closed, second = order.take([frame(2)])

    assert (opened.started, opened.ended) == (first.time, None)
    assert (closed.started, closed.ended) == (first.time, second.time)
    assert order.counts.gaps == 1


def test_silence_from_the_start_is_a_gap_from_the_opening(order, hand):
    """A gauge that never speaks."""
    hand.now = 101.5
    (gap,) = order.silence()
    assert gap.started == 100.0


def test_a_gap_that_nobody_saw_opening_is_told_whole(order, hand):
    """The first reading after it tells it."""
    order.take([frame(1)])
    hand.now = 103.0
    gap, _ = order.take([frame(2)])
    assert gap.ended - gap.started == pytest.approx(3.0, abs=1e-3)


def test_an_interruption_is_a_gap_at_once(order):
    """Before the limit of silence; every channel has one."""
    order.take([frame(1, channel="a"), frame(1, channel="b")])
    assert [gap.channel for gap in order.interrupt("The cable is cut.")] == ["a", "b"]
    assert order.interrupt("Again.") == []


def test_channels_are_silent_each_for_itself(order, hand):
    """One gauge of four may fail."""
    order.take([frame(1, channel="a"), frame(1, channel="b")])
    hand.now = 100.8
    order.take([frame(2, channel="b")])
    hand.now = 101.3
    assert [gap.channel for gap in order.silence()] == ["a"]


def test_bad_frames_are_told_together(order, hand):
    """At most once a second a channel, with the count and the first of them."""
    rubbish = Rubbish(reason="no number", text="x")
    (first,) = order.take([rubbish])
    assert order.take([rubbish] * 1000) == []
    hand.now = 101.5
    later = [event for event in order.silence() if isinstance(event, BadFrames)]
    assert (first.count, [one.count for one in later]) == (1, [1000])
    assert order.counts.bad_frames == 1001


def test_bad_frames_do_not_end_the_silence(order, hand):
    """Only a reading shows that the gauge is alive."""
    order.take([frame(1)])
    hand.now = 101.2
    order.take([Rubbish(reason="no number", text="x")])
    assert Gap in kinds(order.silence())


def test_channels_are_bounded(order):
    """A sender that invents channels fills no memory."""
    order.take([frame(1, channel=str(n)) for n in range(10 * MOST_CHANNELS)])
    assert len(order._channels) == MOST_CHANNELS
    assert order.counts.bad_frames == 9 * MOST_CHANNELS


def test_the_time_of_a_file_is_its_own():
    """No date; late rows marked; silence by the file's time."""
    order = Ordering(gap=1.0, clock=Hand().clock(), has_own_time=True)
    order.open()
    events = order.take([frame(n, device_time=t) for n, t in enumerate([0.0, 0.2, 0.1, 5.0])])

    assert kinds(events) == [GaugeReading, GaugeReading, GaugeReading, Gap, GaugeReading]
    assert [event.time for event in events if isinstance(event, GaugeReading)] == [0.0, 0.2, 0.1, 5.0]
    assert events[2].late
    assert (events[3].started, events[3].ended) == (0.2, 5.0)
    assert events[0].utc is None


def test_the_offset_of_a_clock_is_that_of_the_quickest_frame():
    """Travel times 30, 10, 50 ms: lags 0, 0, 40 ms."""
    offset = ClockOffset()
    assert [
        offset.add(t + 1000.0 + travel, t) for t, travel in ((0.0, 0.03), (1.0, 0.01), (2.0, 0.05))
    ] == pytest.approx([0.0, 0.0, 0.04])
    assert offset.value == pytest.approx(1000.01)


def test_an_old_quickest_frame_is_forgotten():
    """After a minute, so that drift of the clocks does not add up."""
    offset = ClockOffset()
    offset.add(100.0, 0.0)
    assert offset.add(161.5, 61.0) == pytest.approx(0.0)
    assert offset.value == pytest.approx(100.5)


def test_lag_stands_beside_the_reading(order, hand):
    """A frame held back for 0.4 s says so."""
    order.take([frame(1, device_time=0.0)])
    hand.now = 100.6
    (reading,) = order.take([frame(2, device_time=0.2)])
    assert reading.lag == pytest.approx(0.4)
    assert order.clock_offset == pytest.approx(100.0)
