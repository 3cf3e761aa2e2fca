"""Stations and Countdown without a recorder: what is shown, what is refused, what is recorded."""

import re

import pytest

from lapwright.app import live
from lapwright.testing.live import STATION, WAFER, feed_of, now_why, ready_lot


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
    page = ready.get("/stations/L1").content.decode()  # by keys the stop comes first
    assert page.index('class="button main stop"') < page.index('class="live-facts"')


def test_an_unknown_station_is_a_clear_sentence(ready):
    """404 with the name."""
    answer = ready.get("/stations/L9")
    assert answer.status_code == 404
    assert "L9" in answer.content.decode()


def test_three_readings_make_a_zero(ready):
    """Recorded, and back to the start with the same wafer and jig."""
    sent = {"wafer": WAFER, "jig": "J1", "first": "0.1", "second": "0.2 µm", "third": "0,1"}
    answer = ready.post("/stations/L1/zero", sent)
    assert (answer.status_code, answer["Location"]) == (302, f"/stations/L1?wafer={WAFER}&jig=J1#looked-at")


def test_without_a_gauge_a_lap_is_started_by_hand_on_the_page_of_the_wafer(records, client):
    """The page of the station says what to dial in and leads there; there the start is open, for the zero holds."""
    ready_lot(records)
    station = client.get(f"/stations/L1?wafer={WAFER}").content.decode()
    assert "Preset to dial in, by hand" in station
    address = f"/orders/AP-1/wafers/{WAFER}"
    assert f'href="{address}#id_start-station"' in station
    wafer = client.get(address).content.decode()
    assert re.search(r'<details class="deed acts" id="([\w-]+)" open>', wafer)[1] == "start"
    assert "Run it on L1" in wafer
    assert client.post(f"{address}/do/start", {"start-station": "L1", "start-jig": "J1"}).status_code == 302
    assert "Run it on L1" not in client.get(address).content.decode()
    assert (
        '<option value="P1"'
        not in wafer[wafer.index('id="zero"') : wafer.index("</details>", wafer.index('id="zero"'))]
    )


def test_a_run_that_the_recorder_follows_is_not_ended_on_the_page_of_the_wafer(ready):
    """The page leads to its Countdown; a form that was open before is refused with what to do instead."""
    from lapwright.app import runs
    from lapwright.model.readings import Signature
    from lapwright.model.request import RunRequest
    from lapwright.records import writer
    from lapwright.records.writer.streams import NewStream

    why = now_why()
    started = runs.start_run(RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1"), **why)
    address = f"/orders/AP-1/wafers/{WAFER}"
    assert 'id="finish"' in ready.get(address).content.decode()  # timed by hand
    new = NewStream(run_id=started.run_id, feed=None, target=None, time=None, zero=0.0, rate=None)
    writer.begin_stream(new, Signature(**why))
    page = ready.get(address).content.decode()
    assert 'id="finish"' not in page
    assert 'href="/stations/L1">It runs on L1: to its Countdown</a>' in page
    answer = ready.post(f"{address}/do/finish", {"finish-stop_reason": "preset reached"})
    assert answer.status_code == 409


def test_a_station_says_what_wafers_wait_for_that_is_not_on_it(ready):
    """With the way to put it on; once it is, the wafer can be chosen."""
    from lapwright.app import shelf
    from lapwright.model.shelf import Station

    wanted = shelf.show_station("L1").station
    other = Station(station_id="L1", name="L1", kind="lap", plate=wanted.plate, abrasive="al2o3-1")
    shelf.set_up_station(other, **now_why())
    page = ready.get("/stations/L1").content.decode()
    assert f"{WAFER} waits for" in page
    assert f"abrasive={wanted.abrasive}&amp;wafer={WAFER}#station-form" in page
    shelf.set_up_station(wanted, **now_why())
    assert "waits for" not in ready.get("/stations/L1").content.decode()


def test_what_is_missing_leads_to_where_it_is_put_right(ready):
    """A gauge that is not named: to the form of the station's gauge, and back to the same wafer afterwards."""
    live.set_feed(feed_of("tcp:127.0.0.1:9?unit=um", gauge_id=""), **now_why())
    page = ready.get(f"/stations/L1?wafer={WAFER}").content.decode()
    there = f"/stations/L1/gauge?wafer={WAFER}"
    assert f'href="{there}"' in page
    sent = {
        "version": live.list_feeds()[0].version, "source": "tcp:127.0.0.1:9?unit=um", "stop_output": "dry-run:",
        "gauge_id": "G1", "direction": "growing", "resolution": "0.5 µm", "noise": "0.4 µm", "latency_s": "1",
        "latency_spread_s": "0.1", "stale_s": "5", "drift_limit": "0 µm",
    }  # fmt: skip
    assert ready.post(there, sent)["Location"] == f"/stations/L1?wafer={WAFER}#looked-at"


def test_what_is_put_on_without_a_wafer_leads_to_the_station_alone(ready):
    """No question mark that asks for nothing."""
    version = re.search(r'name="version" value="(\d+)"', ready.get("/stations/L1").content.decode())[1]
    answer = ready.post("/stations/L1/on-it", {"version": version})
    assert (answer.status_code, answer["Location"]) == (302, "/stations/L1")


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


@pytest.mark.parametrize(("preset", "status"), [("", 422), ("3 µm", 409)])
def test_a_stage_goes_on_only_after_a_part_of_it(ready, preset, status):
    """Without a length of its own the run is the whole; what was ticked stays on the page that asks."""
    sent = {"wafer": WAFER, "jig": "J1", "preset": preset, "goes_on": "on"}
    answer = ready.post(f"/stations/{STATION}/start", sent)
    page = answer.content.decode()
    assert answer.status_code == status
    assert ("Say how much this run takes off" in page) == (status == 422)
    assert re.search(r'name="goes_on"[^>]* checked', page)


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


def test_a_station_without_runs_has_no_readings_to_save(ready):
    """404 with the reason, and no link to it."""
    answer = ready.get("/stations/L1/readings.csv")
    assert answer.status_code == 404
    assert "no run that a gauge followed" in answer.content.decode()
    assert "readings.csv" not in ready.get("/stations/L1").content.decode()


@pytest.fixture
def polish(ready):
    """The client, and a wafer that waits for its polish on P1."""
    from lapwright.app import runs, shelf
    from lapwright.model.shelf import Station
    from lapwright.testing.live import now_why

    while (ahead := runs.next_stage(WAFER)).planned.kind != "polish":
        runs.skip_stage(ahead.stage.stage_id, **now_why("left out for the test"))
    planned = ahead.planned
    known = {one.station.station_id: one.version for one in shelf.list_stations()}
    station = Station(station_id="P1", name="P1", kind="polish", plate=planned.plate, abrasive=planned.abrasive)
    shelf.set_up_station(station, version=known.get("P1"), **now_why())
    return ready


def test_a_polish_is_guided_in_two_steps(polish):
    """First step run, page asks to be measured and keeps the start shut; weighed, it offers the finish."""
    from lapwright.app import clock_runs, runs
    from lapwright.model.request import RunRequest
    from lapwright.testing.live import now_why

    mass = {"wafer": WAFER, "uncertainty": "0.1 mg", "balance": "B1"}
    assert polish.post("/stations/P1/weigh", mass | {"text": "20.1 g"}).status_code == 302
    time = clock_runs.clock_advice(WAFER).two_steps.first.time
    started = runs.start_run(RunRequest(wafer_id=WAFER, station_id="P1", step="first", time=time), **now_why())
    runs.finish_run(started.run_id, time=time, **now_why())
    page = polish.get(f"/stations/P1?wafer={WAFER}").content.decode()
    assert "is not measured" in page
    assert "disabled" in page.split('class="begin"')[1]
    assert 'value="0.1 mg"' in page
    polish.post("/stations/P1/weigh", mass | {"text": "20.0 g"})
    page = polish.get(f"/stations/P1?wafer={WAFER}").content.decode()
    assert "by weighing" in page
    assert "Finish in" in page


def test_a_mass_that_is_none_is_refused_beside_the_form(polish):
    """422, the sentence, and what was typed."""
    answer = polish.post("/stations/P1/weigh", {"wafer": WAFER, "text": "much", "uncertainty": "0.1 mg"})
    assert answer.status_code == 422
    assert 'value="much"' in answer.content.decode()
