"""What a batch of the recorder looks like on a page: units, words, shapes; nothing old, nothing invented."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from lapwright.model.live import Feed, LiveBatch, LiveFault

pytestmark = pytest.mark.usefixtures("django")
RUNNING = LiveBatch(
    station_id="L1", word="running", at=datetime(2026, 11, 25, 8, 0, tzinfo=UTC), run_id=7, wafer_id="AP-1-01",
    elapsed=60.0, points=((59.9, 9.9e-6), (60.0, 10.0e-6)), removed=10.0e-6, removed_uncertainty=0.1e-6,
    rate=10e-6 / 60.0, target=20e-6, time_left=58.0, time_left_low=50.0, time_left_high=70.0, margin=0.4e-6,
    advice="run", stop_state="may_run", reading=10.1e-6, reading_age=0.05, readings=600, stored=599,
)  # fmt: skip


def fields(**changes):
    """The fields of the running batch, changed."""
    from lapwright.web.live_fields import live_fields

    return live_fields(replace(RUNNING, **changes))


def test_lengths_are_told_in_micrometres():
    """20 µm wanted less 10 µm removed leaves 10 µm; 10 µm in 60 s is 10 µm/min; k = 2 doubles 0.1 µm."""
    told = fields()
    assert (told["left_um"], told["rate_um_per_min"], told["margin_um"]) == (10.0, 10.0, 0.4)
    assert told["removed_expanded_uncertainty_um"] == 0.2
    assert told["points"] == [(59.9, 9.9), (60.0, 10.0)]


def test_the_end_is_a_band_of_the_day():
    """50 to 70 s after 08:00:00 UTC, in the time zone of the settings (UTC in tests)."""
    assert fields()["finish"] == "08:00:50 … 08:01:10"
    assert fields(word="stopping")["finish"] == ""


def test_what_cannot_be_told_is_null():
    """A run by the clock has no removal; nothing is filled in."""
    told = fields(target=None, removed=None, rate=None, margin=None)
    assert [told[name] for name in ("left_um", "rate_um_per_min", "margin_um", "target_um")] == [None] * 4


@pytest.mark.parametrize(
    ("changes", "shape"),
    [
        ({}, "calm"),
        ({"sentence": "The end of the run is not recorded yet."}, "doubt"),
        ({"word": "stopping", "advice": "stop_now"}, "ending"),
        ({"word": "stopping", "advice": "stop_fault"}, "wrong"),
        ({"word": "recorder_away"}, "wrong"),
        ({"word": "idle", "advice": ""}, "calm"),
    ],
)
def test_the_shape_follows_what_happens(changes, shape):
    """Calm while all is well; another shape, not another colour, when it is not."""
    assert fields(**changes)["shape"] == shape


def test_a_fault_brings_its_sentence():
    """Without a sentence of the run, the first fault's stands there."""
    fault = LiveFault(code="gauge.stale", time=65.0, sentence="Silent for 5.0 s (allowed 5 s). Check the cable.")
    told = fields(advice="stop_fault", word="stopping", faults=(fault,))
    assert (told["fault"], told["sentence"]) == ("gauge.stale", fault.sentence)


def test_messages_that_wait_are_merged_without_losing_points():
    """Two batches of one run become one message with the points of both; another run begins anew."""
    from lapwright.web.live_fields import MOST_POINTS, merged

    first, second = fields(points=((1.0, 1e-6),)), fields(points=((2.0, 2e-6),))
    assert merged(first, second)["points"] == [(1.0, 1.0), (2.0, 2.0)]
    assert merged(first, second | {"run": 8})["points"] == [(2.0, 2.0)]
    many = second | {"points": [(float(index), 0.0) for index in range(MOST_POINTS)]}
    assert len(merged(first, many)["points"]) == MOST_POINTS


def test_a_number_goes_before_the_silence_that_stops():
    """0.8 of the feed's limit: 4 s of 5 s, when a gap is recorded and the run goes on; 1.6 s of 2 s."""
    from lapwright.web.live_fields import age_limit

    assert age_limit(Feed(station_id="L1", source="keyboard:")) == pytest.approx(4.0)
    assert age_limit(Feed(station_id="L1", source="keyboard:", stale=2.0)) == pytest.approx(1.6)
