"""Stations and Countdown without a recorder: what is shown, what is refused, what is recorded."""

import pytest

from lapwright.app import live
from lapwright.testing.live import STATION, WAFER, feed_of, ready_lot


@pytest.fixture
def ready(records, client):
    """A wafer zeroed on L1, whose gauge nobody follows; the client of the pages."""
    lot = ready_lot(records)
    live.set_feed(feed_of("tcp:127.0.0.1:9?unit=um"), **lot.why())
    return client


def test_the_caution_is_on_every_page_of_stations(ready):
    """Always in sight: the interlocks stay in charge."""
    for address in ("/stations", "/stations/L1", "/stations/P1", f"/stations/L1?wafer={WAFER}"):
        assert live.CAUTION in ready.get(address).content.decode().replace("&#x27;", "'")


def test_an_unknown_station_is_a_clear_sentence(ready):
    """404 with the name."""
    answer = ready.get("/stations/L9")
    assert answer.status_code == 404
    assert "L9" in answer.content.decode()


def test_three_readings_make_a_zero(ready):
    """Recorded, and back to the start with the same wafer and jig."""
    sent = {"wafer": WAFER, "jig": "J1", "first": "0.1", "second": "0.2 µm", "third": "0,1"}
    answer = ready.post("/stations/L1/zero", sent)
    assert (answer.status_code, answer["Location"]) == (302, f"/stations/L1?wafer={WAFER}&jig=J1")


@pytest.mark.parametrize("third", ["9.0", "", "much"])
def test_readings_that_make_no_zero_are_refused_beside_the_form(ready, third):
    """Too far apart, one missing, no length: nothing typed is lost."""
    sent = {"wafer": WAFER, "jig": "J1", "first": "0.1", "second": "0.2", "third": third}
    answer = ready.post("/stations/L1/zero", sent)
    assert answer.status_code == 422
    assert 'value="0.2"' in answer.content.decode()


def test_a_start_is_refused_when_the_recorder_is_away(ready):
    """409, the sentence beside the form, and no request is left that somebody might obey later."""
    from lapwright.records import stream_queries

    answer = ready.post(f"/stations/{STATION}/start", {"wafer": WAFER, "jig": "J1", "preset": ""})
    assert answer.status_code == 409
    assert "lapwright record" in answer.content.decode()
    assert stream_queries.open_requests() == ()


def test_a_stop_that_nobody_answers_says_so(ready, monkeypatch):
    """The request is recorded, and the page says that the machine must be stopped by hand."""
    from lapwright.records import stream_queries
    from lapwright.web.pages import stations

    monkeypatch.setattr(stations, "STOP_WITHIN", 0.1)
    answer = ready.post(f"/stations/{STATION}/stop", follow=True)
    assert "Stop the machine yourself" in answer.content.decode()
    assert [kind for _, station, kind, *_ in stream_queries.open_requests()] == ["stop"]


def test_the_past_of_a_station_without_runs_is_empty(ready):
    """No run, no points; nothing is invented."""
    assert ready.get("/stations/L1/past").json() == {
        "run": None, "target_um": None, "margin_um": None, "points_s_um_um": [],
    }  # fmt: skip
