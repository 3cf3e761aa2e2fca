"""The recorder's memory and its listeners: nothing committed is lost, nobody can hold it up."""

import asyncio
import time
import tracemalloc
from datetime import UTC, datetime

import numpy as np
import pytest

from lapwright.app import runs
from lapwright.app.recorder.broadcast import KEPT, Broadcast, batches_from, from_line, to_line
from lapwright.app.recorder.followed import MOST_POINTS, FollowedRun
from lapwright.app.recorder.loop import claimed, mark_interrupted
from lapwright.app.recorder.relay import fitting_line
from lapwright.app.recorder.store import Store
from lapwright.app.run_ends import RunPlan
from lapwright.errors import Conflict, RecordError
from lapwright.gauges.clock import SYSTEM_CLOCK
from lapwright.model.live import LiveBatch, LiveFault, StreamEvent
from lapwright.process.endpoint import EndpointConfig
from lapwright.testing.live import open_streams, ready_lot

RATE = 2e-6 / 60.0


def batch(**options):
    """A batch of L1."""
    return LiveBatch(**{"station_id": "L1", "word": "running", "at": datetime(2026, 11, 25, tzinfo=UTC), **options})


class Book:
    """A database that can be shut."""

    def __init__(self):
        self.rows, self.is_shut, self.delay = {}, False, 0.0

    def commit(self, portions):
        """Write, unless shut."""
        time.sleep(self.delay)
        if self.is_shut:
            raise RecordError("The disk is full; nothing of this was recorded. Make room and try again.")
        for portion in portions:
            self.rows.setdefault(portion.stream_id, []).extend(portion.times.tolist())


def stored(book, play, **options):
    """Run a store on a book while `play` uses it."""

    async def main():
        async with Store(book.commit, clock=SYSTEM_CLOCK, **options) as store:
            return await play(store)

    return asyncio.run(main())


def test_a_reading_is_committed_within_two_tenths_of_a_second():
    """Taken now, there 0.2 s later."""
    book = Book()

    async def play(store):
        store.add(1, 0.2, 1e-6)
        await asyncio.sleep(0.2)
        return list(book.rows[1]), store.stored[1], store.waiting

    assert stored(book, play) == ([0.2], 1, 0)


def test_what_waits_at_the_end_is_committed():
    """Nothing is left in memory."""
    book = Book()

    async def play(store):
        store.add(1, 0.2, 1e-6)

    stored(book, play)
    assert book.rows == {1: [0.2]}


def test_a_full_disk_is_trouble_at_once_and_nothing_is_lost():
    """Shut for half a second: trouble says why; opened again, everything is there in order."""
    book = Book()

    async def play(store):
        book.is_shut = True
        for step in range(10):
            store.add(1, step * 0.1, 0.0)
            await asyncio.sleep(0.05)
        trouble = store.trouble
        acknowledged = store.stored.get(1, 0)
        book.is_shut = False
        await asyncio.sleep(0.8)
        return trouble, acknowledged, store.trouble

    trouble, acknowledged, after = stored(book, play)
    assert "disk is full" in trouble
    assert (acknowledged, after) == (0, None)
    assert book.rows[1] == [step * 0.1 for step in range(10)]


def test_a_database_that_answers_too_slowly_is_trouble():
    """Busy for three seconds: after two the runs must stop."""
    book = Book()
    book.delay = 2.6

    async def play(store):
        store.add(1, 0.0, 0.0)
        await asyncio.sleep(0.5)
        early = store.trouble
        await asyncio.sleep(1.8)
        return early, store.trouble

    early, late = stored(book, play)
    assert early is None
    assert "wait more than 2 s" in late


def test_memory_is_bounded_while_the_database_is_shut():
    """A thousand allowed, five thousand taken: four thousand lost, counted and told; the first thousand kept."""
    book = Book()
    book.is_shut = True

    async def play(store):
        for step in range(5000):
            store.add(1, float(step), 0.0)
        lost = store.lost
        book.is_shut = False
        return lost

    assert stored(book, play, limit=1000) == 4000
    assert book.rows[1] == [float(step) for step in range(1000)]


def test_four_stations_at_a_hundred_a_second_lose_nothing(records):
    """A minute of four stations, fast: 24 000 readings into the database and back, memory within 20 MB."""
    from lapwright.records import stream_queries, writer

    streams = open_streams(ready_lot(records), 4)
    rng = np.random.default_rng(1)
    count = 6_000
    times = np.round(np.arange(count) / 100.0 + 0.002 * rng.uniform(-1, 1, count) + 1.0, 6)
    lengths = np.round(1e7 * (RATE * times + 0.5e-6 * rng.standard_normal((4, count)))) / 1e7

    async def main():
        async with Store(writer.add_portions, clock=SYSTEM_CLOCK, leave=stream_queries.close_connection) as store:
            for step in range(count):
                for number, stream_id in enumerate(streams):
                    store.add(stream_id, float(times[step]), float(lengths[number, step]))
                if step % 200 == 199:
                    await store.flush()
            return store.lost

    tracemalloc.start()
    lost = asyncio.run(main())
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert lost == 0
    assert peak < 20e6
    for number, stream_id in enumerate(streams):
        back_times, back_lengths = stream_queries.stream_readings(stream_id)
        assert times.tolist() == back_times.tolist()
        assert lengths[number].tolist() == back_lengths.tolist()


def test_a_long_stream_that_comes_at_once_is_cut_into_blocks(records):
    """Ten hours at one reading in five seconds, and a second station's day with gaps, in one commit each."""
    from lapwright.records import stream_queries, writer
    from lapwright.records.stream_blocks import Portion

    first, second = open_streams(ready_lot(records), 2)
    slow = np.arange(0.0, 36_000.0, 5.0)
    gappy = np.concatenate([np.arange(0.0, 10.0, 0.01).round(6), [20_000.0, 20_000.01, 80_000.0]])
    for stream_id, times in ((first, slow), (second, gappy)):
        writer.add_portions([Portion(stream_id=stream_id, times=times, lengths=times / 1e9)])
        back, lengths = stream_queries.stream_readings(stream_id)
        assert times.tolist() == back.tolist()
        assert (times / 1e9).tolist() == lengths.tolist()


def test_a_run_that_was_ended_by_hand_does_not_hold_its_stream_open(records):
    """The next recorder ends the stream, and leaves the end of the run as it was recorded."""
    from lapwright.records import queries, stream_queries

    lot = ready_lot(records)
    (stream_id,) = open_streams(lot, 1)
    assert mark_interrupted(lot.why()["at"]) == 1
    stream = stream_queries.stream(stream_id)
    assert (stream.outcome, stream_queries.open_streams()) == ("interrupted", ())
    assert queries.run(stream.run_id).stop_reason == "only its stream is wanted"


def test_the_end_of_a_followed_run_is_not_recorded_by_hand(records):
    """While the recorder follows it: its machine would run on, and nobody would stop it."""
    from lapwright.records import stream_queries

    lot = ready_lot(records)
    (stream_id,) = open_streams(lot, 1)
    run_id = stream_queries.stream(stream_id).run_id
    with pytest.raises(Conflict, match="Press 'Stop now' on the Countdown of S1"):
        runs.finish_run(run_id, gauge_removal="1 µm", **lot.why())


def test_a_batch_comes_through_a_line_unchanged():
    """Faults, points and absent values as they were."""
    sent = batch(points=((0.1, 1e-6),), faults=(LiveFault(code="gauge.stale", time=1.0, sentence="Look."),), rate=1e-8)
    assert sent == from_line(to_line(sent))


async def heard_by(broadcast, count):
    """Wait until so many listen."""
    for _ in range(500):
        if broadcast.listeners >= count:
            return
        await asyncio.sleep(0.01)


def test_a_number_that_is_none_is_not_known():
    """A rate of nearly nothing gives an endless time left; listeners read that it is not known."""
    assert from_line(to_line(batch(time_left=float("inf"), rate=float("nan")))) == batch()


def test_a_listener_that_takes_nothing_holds_nobody_up(tmp_path):
    """Ten thousand large batches told in a moment; the queue of a deaf listener stays short; another hears the last."""
    points = tuple((float(step), 1e-6) for step in range(MOST_POINTS))

    async def main():
        async with Broadcast(tmp_path) as broadcast:
            deaf = batches_from(tmp_path, None)
            listening = asyncio.create_task(anext(deaf))
            await heard_by(broadcast, 1)
            broadcast.tell(batch(readings=0))
            await listening
            begun = time.perf_counter()
            for number in range(10_000):
                broadcast.tell(batch(readings=number, points=points))
            took = time.perf_counter() - begun
            queued = [len(listener.queue) for listener in broadcast._listeners]
            hearing = batches_from(tmp_path, "L1")
            heard = asyncio.create_task(anext(hearing))
            await heard_by(broadcast, 2)
            broadcast.tell(batch(readings=77))
            latest = await heard
            return took, queued, latest.readings

    took, queued, latest = asyncio.run(main())
    assert took < 5.0
    assert max(queued) <= KEPT
    assert latest == 77


def test_a_stranger_without_the_key_hears_nothing(tmp_path):
    """The address alone is not enough."""

    async def main():
        async with Broadcast(tmp_path):
            import json

            address = json.loads((tmp_path / "recorder.json").read_text())
            reader, writer = await asyncio.open_connection("127.0.0.1", address["port"])
            writer.write(b'{"key": "guess", "station": null}\n')
            heard = await reader.read()
            writer.close()
            return heard, (tmp_path / "recorder.json").stat().st_mode & 0o777

    assert asyncio.run(main()) == (b"", 0o600)


def test_many_points_are_thinned_to_their_extremes():
    """A thousand readings of which one stands out: at most forty points, and it is among them."""
    plan = RunPlan(config=EndpointConfig(target=20e-6, rate=RATE), time=None, zero=0.0)
    run = FollowedRun(run_id=1, wafer_id="W", stream_id=1, by="local", plan=plan, direction="growing")
    for step in range(1000):
        run.take(0.01 * (step + 1), 5e-6 if step == 500 else 0.0)
    points = run.thinned()
    assert len(points) <= MOST_POINTS
    assert max(removal for _, removal in points) == 5e-6
    assert run.thinned() == ()


@pytest.mark.parametrize("direction", ["growing", "shrinking"])
def test_a_run_follows_both_directions(direction):
    """From a zero of 500 µm, 2 µm/min either way: the same removal."""
    plan = RunPlan(config=EndpointConfig(target=3e-6, rate=RATE), time=None, zero=500e-6)
    run = FollowedRun(run_id=1, wafer_id="W", stream_id=1, by="local", plan=plan, direction=direction)
    sign = 1.0 if direction == "growing" else -1.0
    rng = np.random.default_rng(1)
    moment = 0.0
    while not run.is_due(moment):
        moment += 0.2
        run.take(moment, 500e-6 + sign * RATE * moment + 0.3e-6 * rng.standard_normal())
    assert (run.outcome, run.code) == ("target", "")
    assert 3e-6 - run.decision.margin == pytest.approx(RATE * (moment + 1.0), abs=0.3e-6)


def test_an_alarm_from_outside_counts_as_a_fault():
    """The database is gone: code and sentence stand among the faults."""
    plan = RunPlan(config=EndpointConfig(target=3e-6, rate=RATE), time=None, zero=0.0)
    run = FollowedRun(run_id=1, wafer_id="W", stream_id=1, by="local", plan=plan, direction="growing")
    run.break_off(4.0, outcome="fault", code="record.unavailable", sentence="The disk is full. Make room.")
    assert [fault.code for fault in run.faults] == ["record.unavailable"]
    assert run.stopped == 4.0


def test_an_event_is_committed_with_the_readings():
    """One transaction for both."""
    told = []

    async def play(store):
        store.tell(1, StreamEvent(kind="gap", time=1.0, code="gauge.gap", sentence="Silent."))
        await asyncio.sleep(0.2)

    async def main():
        async with Store(told.extend, clock=SYSTEM_CLOCK) as store:
            await play(store)

    asyncio.run(main())
    assert [event.code for event in told[0].events] == ["gauge.gap"]


def test_a_recorder_takes_the_stations_it_names_and_on_sqlite_every_other(records):
    """None named means all; of those named only those that there are to take."""
    if not records.database_url.startswith("sqlite"):
        pytest.skip("on PostgreSQL two recorders share the stations, which test_several_processes.py plays")
    assert claimed({"L1", "L2"}, frozenset()) == {"L1", "L2"}
    assert claimed({"L1", "L2"}, frozenset({"L2", "P1"})) == {"L2"}


def test_a_batch_too_long_for_the_database_loses_its_oldest_points():
    """PostgreSQL passes on less than 8000 bytes (its manual, NOTIFY); the numbers all stay, and the newest point."""
    points = tuple((float(time), 1e-6 / 3.0) for time in range(1000))
    line = fitting_line(batch(points=points, removed=12e-6, sentence="µ" * 500))
    told = from_line(line.encode())
    assert len(line.encode()) < 8000
    assert 1 < len(told.points) < 1000
    assert (told.points[-1], told.removed) == (points[-1], 12e-6)
    short = batch(points=points[:3])
    assert from_line(fitting_line(short).encode()) == short
