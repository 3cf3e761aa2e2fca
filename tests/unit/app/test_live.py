"""Runs under the recorder: started only when all is well, stopped and recorded whatever happens."""

import asyncio
import sqlite3
import threading
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from lapwright.app import gauges, live, runs
from lapwright.app.recorder import followed, station
from lapwright.errors import BadInput, Conflict, NotFound
from lapwright.gauges.drivers.tcp.simulator import Simulator
from lapwright.model.live import CheckReading, RateChange
from lapwright.model.readings import Calibration
from lapwright.sim.runs import PlantedFault
from lapwright.testing.live import (
    ORDER,
    STATION,
    WAFER,
    answered,
    ask,
    ended,
    feed_of,
    now_why,
    ready_lot,
    take_zero,
    with_recorder,
    write_stream,
)

BRIEF = 0.5  # s, for waits of the recorder that the test is not about
LONGEST_HOLD = 18.0  # s; a write waits 20 s for the database


@pytest.fixture
def ready(records):
    """A wafer ready to be lapped on L1."""
    return ready_lot(records)


def wafer_story():
    """All that is recorded of the wafer."""
    from lapwright.records import story_queries

    return story_queries.wafer_story(WAFER)


def replayed(path):
    """The address of a recorded stream, played without waiting."""
    return f"replay:{path}?speed=max"


def run_through(records, order=ORDER):
    """Start a run, wait for its end; the stream."""

    async def play(_):
        answer = await answered(await ask(live.request_start, order, **now_why()))
        assert answer.accepted, answer
        return await ended(answer.run_id)

    return with_recorder(records, play)


async def heard(recorder):
    """Wait until the recorder has taken the station up and hears its gauge."""
    async with asyncio.timeout(15.0):
        while STATION not in recorder.stations:  # noqa: ASYNC110  it tells no event of its own
            await asyncio.sleep(0.02)
        while recorder.stations[STATION].batch(datetime.now(UTC)).reading is None:  # noqa: ASYNC110
            await asyncio.sleep(0.02)


def refused(records, order=ORDER):
    """Ask for a start that is refused; the answer."""

    async def play(_):
        return await answered(await ask(live.request_start, order, **now_why()))

    answer = with_recorder(records, play)
    assert answer.accepted is False
    assert runs.next_stage(WAFER).stage.state == "waiting"
    return answer


def test_a_run_stops_at_its_target_and_every_reading_is_kept(ready, records, tmp_path):
    """Target 10 µm: stopped below it by the margin; the readings come back bit by bit; run and stage are done."""
    truth = write_stream(tmp_path / "run.csv")
    live.set_feed(feed_of(replayed(tmp_path / "run.csv")), **now_why())
    stream = run_through(records)
    assert stream.outcome == "target"
    assert truth.removal_at(stream.ended_after + 1.0) - 0.1e-6 == pytest.approx(10e-6 - stream.ended_margin, abs=0.3e-6)
    times, lengths = live.run_readings(stream.run_id)
    count = len(times)
    assert np.round(truth.time[:count], 6).tolist() == times.tolist()
    assert [float(f"{length * 1e6:.1f}") for length in truth.length[:count]] == pytest.approx((lengths * 1e6).tolist())
    assert times[-1] == pytest.approx(stream.ended_after + 5.0, abs=0.5)
    assert wafer_story().stages[0].state == "done"
    del ready


def test_a_stream_that_ends_before_the_stop_stops_the_run_for_silence(ready, records, tmp_path):
    """gauge.stale: the run is broken off, its stage waits, its zero is void."""
    write_stream(tmp_path / "run.csv", duration=100.0)
    live.set_feed(feed_of(replayed(tmp_path / "run.csv")), **now_why())
    stream = run_through(records)
    assert (stream.outcome, stream.ended_code) == ("fault", "gauge.stale")
    assert stream.ended_after == pytest.approx(105.0, abs=0.5)
    ahead = runs.next_stage(WAFER)
    assert (ahead.stage.state, ahead.zero) == ("waiting", None)
    del ready


def test_a_fault_ends_the_run_with_code_and_sentence(ready, records, tmp_path):
    """A jump of 15 µm after 100 s; the removal recorded is the estimate, not what the gauge shows."""
    write_stream(tmp_path / "run.csv", fault=PlantedFault(kind="jump_up", at=100.0, size=15e-6))
    live.set_feed(feed_of(replayed(tmp_path / "run.csv")), **now_why())
    stream = run_through(records)
    assert stream.ended_code == "gauge.jump"
    assert [event.kind for event in stream.events] == ["stop"]
    run = wafer_story().runs[-1]
    assert run.stop_reason.startswith("gauge.jump: ")
    assert 2e-6 < run.gauge_removal < 5e-6
    del ready


def test_gaps_are_kept_as_gaps(ready, records, tmp_path):
    """Three seconds without a reading: an event with its length, and no reading made up."""
    truth = write_stream(tmp_path / "run.csv")
    rows = (tmp_path / "run.csv").read_text().splitlines(keepends=True)
    kept = [row for row in rows[1:] if not 50.0 < float(row.split(",")[0]) < 53.0]
    (tmp_path / "run.csv").write_text(rows[0] + "".join(kept))
    live.set_feed(feed_of(replayed(tmp_path / "run.csv")), **now_why())
    stream = run_through(records)
    gap = next(event for event in stream.events if event.kind == "gap")
    assert gap.time == pytest.approx(50.0, abs=0.3)
    assert stream.outcome == "target"
    times, _ = live.run_readings(stream.run_id)
    assert not ((times > 50.0) & (times < 53.0)).any()
    del ready, truth


def test_the_rest_of_a_broken_run_can_be_started_anew(ready, records, tmp_path):
    """Zero again, start again: a second run of the same stage."""
    write_stream(tmp_path / "run.csv", duration=60.0)
    live.set_feed(feed_of(replayed(tmp_path / "run.csv")), **now_why())
    first = run_through(records)
    take_zero(ready)
    write_stream(tmp_path / "run.csv")
    second = run_through(records, replace(ORDER, target=8e-6))
    assert (first.outcome, second.outcome) == ("fault", "target")
    assert second.run_id > first.run_id


def test_a_start_without_a_zero_is_refused(ready, records, tmp_path):
    """Take it first."""
    write_stream(tmp_path / "run.csv")
    live.set_feed(feed_of(replayed(tmp_path / "run.csv")), **now_why())
    runs.void_zero(runs.next_stage(WAFER).zero.zero_id, **ready.why())
    assert "zero" in refused(records).sentence


def test_a_start_with_a_gauge_that_is_overdue_is_refused(ready, records, tmp_path):
    """Its calibration was due yesterday."""
    write_stream(tmp_path / "run.csv")
    live.set_feed(feed_of(replayed(tmp_path / "run.csv")), **now_why())
    day = datetime.now(UTC).date()
    late = Calibration(
        gauge_id="G1", certificate="K-2", done=day, due=day - timedelta(days=1), deviation=0.0,
        expanded_uncertainty=1e-7,
    )  # fmt: skip
    gauges.record_calibration(late, **ready.why())
    assert "calibration" in refused(records).sentence


def test_a_start_with_a_gauge_off_its_zero_is_refused(ready, records, tmp_path):
    """It shows 60 µm before the plate turns."""
    (tmp_path / "run.csv").write_text("time_s,length_um\n0.2,60.0\n0.4,60.0\n")
    live.set_feed(feed_of(replayed(tmp_path / "run.csv")), **now_why())
    assert "off its zero" in refused(records).sentence
    del ready


def test_a_start_with_a_silent_gauge_is_refused(ready, records, monkeypatch):
    """Nobody listens at that port."""
    monkeypatch.setattr(station, "FIRST", BRIEF)
    live.set_feed(feed_of("tcp:127.0.0.1:9?unit=um"), **now_why())
    assert "says nothing" in refused(records).sentence
    del ready


def test_a_start_without_a_feed_is_refused_at_once(ready):
    """The recorder would have nothing to follow."""
    with pytest.raises(Conflict, match="no gauge"):
        live.request_start(ORDER, **now_why())
    del ready


def test_an_old_request_to_start_is_not_obeyed(ready, records, tmp_path):
    """Asked a minute ago, when no recorder listened: nobody expects a start now."""
    write_stream(tmp_path / "run.csv")
    live.set_feed(feed_of(replayed(tmp_path / "run.csv")), **now_why())
    old = {"by": "local", "reason": "", "at": datetime.now(UTC) - timedelta(seconds=60)}
    request = live.request_start(ORDER, **old)

    async def play(_):
        return await answered(request)

    answer = with_recorder(records, play)
    assert answer.accepted is False
    assert "no recorder listened" in answer.sentence
    del ready


def test_a_feed_with_an_address_that_is_none_is_refused(ready):
    """Named before it is kept."""
    with pytest.raises(BadInput, match="carrier-pigeon"):
        live.set_feed(feed_of("carrier-pigeon:7"), **now_why())
    assert live.list_feeds() == ()
    del ready


def test_a_stop_of_a_station_that_is_not_known_is_refused(ready):
    """By its name."""
    with pytest.raises(NotFound, match="L9"):
        live.request_stop("L9", **now_why())
    del ready


def test_a_live_gauge_is_followed_and_a_person_can_stop_it(ready, records):
    """Over a socket at 50 readings a second; the stop output latches; the stage waits again."""

    async def play(recorder):
        async with Simulator() as gauge:
            await ask(live.set_feed, feed_of(gauge.address), **now_why())
            cutting = asyncio.create_task(_cut(gauge))
            await heard(recorder)
            answer = await answered(await ask(live.request_start, ORDER, **now_why()))
            assert answer.accepted, answer
            seen = []
            async for batch in live.subscribe(STATION):
                seen.append(batch)
                if batch.readings > 40:
                    break
            stop = await answered(await ask(live.request_stop, STATION, **now_why("coffee")))
            stream = await ended(answer.run_id)
            cutting.cancel()
            return stop, stream, seen

    stop, stream, seen = with_recorder(records, play)
    assert stop.accepted
    assert (stream.outcome, stream.ended_sentence) == ("asked", "Stopped by local: coffee.")
    assert stream.readings >= 150  # 50 a second, until the plate has come to rest five seconds later
    running = [batch for batch in seen if batch.word == "running"]
    assert {batch.stop_state for batch in running[2:]} == {"may_run"}
    assert running[-1].stored <= running[-1].readings
    assert running[-1].stored > 0
    assert runs.next_stage(WAFER).stage.state == "waiting"
    del ready


async def _cut(gauge):
    """A gauge that shows 0.1 µm and then 2 µm/min."""
    begun = time.monotonic()
    while True:
        await gauge.send(0.1e-6 + 2e-6 / 60.0 * (time.monotonic() - begun))
        await asyncio.sleep(0.02)


def test_a_check_reading_and_a_change_of_rate_reach_the_run(ready, records, monkeypatch):
    """A check far off names foot wear and stops the run; a change of rate before it is noted; both stand in the stream."""
    monkeypatch.setattr(followed, "RUN_OUT", BRIEF)

    async def play(recorder):
        async with Simulator() as gauge:
            await ask(live.set_feed, feed_of(gauge.address), **now_why())
            cutting = asyncio.create_task(_cut(gauge))
            await heard(recorder)
            answer = await answered(await ask(live.request_start, ORDER, **now_why()))
            await asyncio.sleep(0.5)
            change = await answered(await ask(live.request_new_rate, STATION, RateChange(factor=0.5), **now_why()))
            reading = CheckReading(removal=8e-6, uncertainty=0.2e-6)
            check = await answered(await ask(live.request_check, STATION, reading, **now_why()))
            stream = await ended(answer.run_id)
            cutting.cancel()
            return change, check, stream

    change, check, stream = with_recorder(records, play)
    assert (change.accepted, check.accepted) == (True, True)
    assert "more than their uncertainty explains" in check.sentence
    assert stream.ended_code == "gauge.foot_wear"
    assert [event.kind for event in stream.events] == ["new_rate", "check", "stop"]
    advice = live.slow_down_advice(stream, 10e-6 / 60.0)
    assert advice.spread < advice.spread_without
    del ready


def test_a_check_without_a_run_is_refused(ready, records):
    """There is nothing to hold it against."""
    live.set_feed(feed_of("tcp:127.0.0.1:9?unit=um"), **now_why())

    async def play(_):
        reading = CheckReading(removal=8e-6, uncertainty=0.2e-6)
        return await answered(await ask(live.request_check, STATION, reading, **now_why()))

    answer = with_recorder(records, play)
    assert (answer.accepted, answer.code) == (False, "record.conflict")
    del ready


def test_a_run_by_the_clock_needs_no_gauge(ready, records):
    """One second: stopped by the time, the run done without a reading."""
    stream = run_through(records, replace(ORDER, target=None, time=1.0))
    assert (stream.outcome, stream.readings) == ("time", 0)
    assert 0.9 < stream.ended_after < 3.0  # late by what the machine is late, never early
    del ready


def test_a_locked_database_stops_the_run_and_loses_nothing(ready, records, monkeypatch):
    """Somebody holds the database: the run stops all the same, every reading is committed once it is let go."""
    monkeypatch.setattr(followed, "RUN_OUT", BRIEF)
    if not records.database_url.startswith("sqlite"):
        pytest.skip("a lock on the whole database is a matter of SQLite")

    async def play(recorder):
        async with Simulator() as gauge:
            await ask(live.set_feed, feed_of(gauge.address), **now_why())
            cutting = asyncio.create_task(_cut(gauge))
            await heard(recorder)
            answer = await answered(await ask(live.request_start, ORDER, **now_why()))
            await asyncio.sleep(0.5)
            let_go = threading.Event()
            holding = asyncio.create_task(asyncio.to_thread(_hold, records.data / "lapwright.sqlite3", let_go))
            run = recorder.stations[STATION].run
            try:
                async with asyncio.timeout(LONGEST_HOLD):
                    while run.stopped is None:  # noqa: ASYNC110  a run tells no event of its own
                        await asyncio.sleep(0.05)
            finally:
                let_go.set()
                await holding
            stream = await ended(answer.run_id)
            cutting.cancel()
            return stream, run.readings

    stream, taken = with_recorder(records, play)
    assert (stream.outcome, stream.ended_code) == ("fault", "record.unavailable")
    assert stream.readings == taken
    del ready


def _hold(path, let_go):
    """Hold a SQLite database against all writers until it is let go."""
    connection = sqlite3.connect(path)
    connection.execute("BEGIN EXCLUSIVE")
    let_go.wait(LONGEST_HOLD)
    connection.rollback()
    connection.close()


def test_a_recorder_that_ends_stops_its_runs(ready, records):
    """Told to end in mid-run: the run is stopped and recorded as such."""

    async def play(recorder):
        async with Simulator() as gauge:
            await ask(live.set_feed, feed_of(gauge.address), **now_why())
            cutting = asyncio.create_task(_cut(gauge))
            await heard(recorder)
            answer = await answered(await ask(live.request_start, ORDER, **now_why()))
            await asyncio.sleep(0.5)
            cutting.cancel()
            return answer.run_id

    stream = live.stream_of_run(with_recorder(records, play))
    assert (stream.outcome, stream.ended_code) == ("fault", "recorder.ended")
    del ready


def test_a_fault_of_our_own_stops_that_run(ready, records):
    """The estimate cannot be read: code and sentence, the run broken off, the recorder at work."""

    async def play(recorder):
        async with Simulator() as gauge:
            await ask(live.set_feed, feed_of(gauge.address), **now_why())
            cutting = asyncio.create_task(_cut(gauge))
            await heard(recorder)
            answer = await answered(await ask(live.request_start, ORDER, **now_why()))
            recorder.stations[STATION].batch = None
            await asyncio.sleep(1.0)
            cutting.cancel()
            return answer.run_id

    assert live.stream_of_run(with_recorder(records, play)).ended_code == "recorder.failed"
    del ready


def test_nobody_at_home_is_said(records):
    """Without a recorder the subscription says so, at once."""

    async def first():
        return await anext(live.subscribe("L1"))

    assert asyncio.run(first()).word == "recorder_away"
    del records


def test_a_second_recorder_of_one_folder_is_refused(ready, records):
    """One is enough."""
    from lapwright.app.recorder.loop import Recorder
    from lapwright.errors import SettingError

    async def play(_):
        with pytest.raises(SettingError, match="already"):
            await Recorder(records).run(asyncio.Event())

    with_recorder(records, play)
    del ready
