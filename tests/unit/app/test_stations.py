"""What stands against a start, and which wafers could run on a station."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from lapwright.app import live, runs, stations
from lapwright.errors import Conflict, NotFound
from lapwright.model.live import LiveBatch
from lapwright.testing.live import STATION, WAFER, feed_of, ready_lot

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
ALIVE = LiveBatch(station_id=STATION, word="idle", at=NOW, reading=0.2e-6, reading_age=0.1)


@pytest.fixture
def ready(records):
    """A wafer zeroed at 0.1 µm on L1, whose gauge is on record."""
    lot = ready_lot(records)
    live.set_feed(feed_of("tcp:127.0.0.1:9?unit=um"), **lot.why())
    return lot


def sheet(batch=ALIVE, at=NOW):
    """The start sheet of the wafer."""
    return stations.start_sheet(STATION, WAFER, jig_id="J1", batch=batch, at=at)


def missing(found):
    """The names of what stands against the start."""
    return [check.name for check in found.checks if check.state == "missing"]


def test_nothing_stands_against_a_start_when_all_is_well(ready):  # noqa: ARG001
    """Zero, calibration, gauge, station and recorder pass; a dry run is a warning, not an obstacle."""
    found = sheet()
    assert found.may_start
    assert {check.name: check.state for check in found.checks} == {
        "station": "passed", "recorder": "passed", "zero": "passed", "calibration": "passed", "gauge": "passed",
        "stop": "warning",
    }  # fmt: skip


def test_the_removal_comes_from_the_route(ready):  # noqa: ARG001
    """The preset of the next stage, with the allowance that the stop itself leaves."""
    ahead = runs.next_stage(WAFER, jig_id="J1", station_id=STATION)
    assert sheet().target == pytest.approx(ahead.preset + ahead.planned.allowance)


@pytest.mark.parametrize(
    ("batch", "name"),
    [
        (None, "recorder"),
        (replace(ALIVE, reading_age=2.5), "gauge"),
        (replace(ALIVE, reading=None, reading_age=None), "gauge"),
        (replace(ALIVE, reading=30.2e-6), "gauge"),
    ],
    ids=["no recorder", "silent", "never heard", "30 µm off its zero"],
)
def test_a_gauge_that_is_not_alive_stands_against_a_start(ready, batch, name):  # noqa: ARG001
    """Silent for more than 2 s, never heard, or more than 20 µm off its zero."""
    assert name in missing(sheet(batch))


def test_a_calibration_past_its_day_stands_against_a_start(ready):  # noqa: ARG001
    """The calibration of the test gauge lasts a year."""
    assert missing(sheet(at=NOW + timedelta(days=400))) == ["calibration"]


def test_a_voided_zero_stands_against_a_start(ready):
    """A zero that no longer holds is as good as none."""
    zero = runs.next_stage(WAFER, jig_id="J1", station_id=STATION).zero
    runs.void_zero(zero.zero_id, **ready.why("the foot was changed"))
    assert missing(sheet()) == ["zero"]


def test_another_plate_stands_against_a_start(ready):  # noqa: ARG001
    """L2 has glass; the coarse lap wants cast iron."""
    found = stations.start_sheet("L2", WAFER, jig_id="J1", batch=replace(ALIVE, station_id="L2"), at=NOW)
    assert "station" in missing(found)


def test_only_wafers_that_fit_are_offered(ready):  # noqa: ARG001
    """The wafer waits for L1 alone."""
    offered = {one.station.station_id: stations.wafers_for(one.station) for one in stations.list_stations()}
    assert {name: [wafer.wafer.wafer_id for wafer in wafers] for name, wafers in offered.items()} == {
        "L1": [WAFER], "L2": [], "P1": [],
    }  # fmt: skip


def test_a_wafer_that_needs_no_run_is_refused(lot):
    """Received and not bonded: there is no stage to run."""
    with pytest.raises(Conflict):
        stations.start_sheet(STATION, "AP-1-01", jig_id=None, batch=ALIVE, at=NOW)
    with pytest.raises(NotFound):
        stations.show_station("L9")
    assert lot.now > NOW - timedelta(days=1)


def test_a_polish_is_offered_by_the_clock(ready):
    """The rate's interval gives the time; the first of two steps leaves something; no zero of the gauge is asked for."""
    lot = ready
    while (ahead := runs.next_stage(WAFER, jig_id="J1")).planned.kind != "polish":
        runs.skip_stage(ahead.stage.stage_id, **lot.why("left out for the test"))
    found = stations.start_sheet("P1", WAFER, jig_id="J1", batch=None, at=NOW)
    assert found.target is None
    assert found.clock.one_step.time < found.clock.one_step.high
    assert 0.0 < found.clock.two_steps.left < found.ahead.removal
    assert "zero" not in [check.name for check in found.checks]


def test_an_answer_that_never_comes_is_no_answer(ready):
    """Without a recorder the request stays open; the page is told so in time."""
    asked = live.request_stop(STATION, **ready.why())
    assert stations.await_answer(asked, within=0.2).accepted is None
