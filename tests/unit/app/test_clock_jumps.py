"""The computer's clock is set back and forth in mid-work: order, chain and runs hold all the same."""

import asyncio
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from lapwright.app import live, readings
from lapwright.app.verification import verify_records
from lapwright.gauges.clock import Clock
from lapwright.gauges.drivers.tcp.simulator import Simulator
from lapwright.testing.live import ORDER, answered, ask, ended, feed_of, now_why, ready_lot, with_recorder

JUMPS = (timedelta(days=-400), timedelta(hours=3), timedelta(seconds=-90), timedelta(days=2000))


def test_readings_keep_the_order_in_which_they_were_taken(lot):
    """Between readings the clock jumps by years, back and forth: each says its own time, the chain holds."""
    opened = readings.open_set(replace(lot.request("AP-1-01", "wafer", "incoming", repeats=1), zero=False), **lot.why())
    texts, stamps = [], []
    for number in range(9):
        lot.now += JUMPS[number % len(JUMPS)]
        why = lot.why()
        texts.append(f"{500 + number / 100:.2f}")
        stamps.append(why["at"])
        readings.record_reading(opened.set_id, texts[-1], **why)
    lot.now += timedelta(days=-4000)
    closed = readings.close_set(opened.set_id, **lot.why())
    assert [one.reading.text for one in closed.readings] == texts
    assert [one.signature.at for one in closed.readings] == stamps
    assert verify_records().faults == ()


@pytest.mark.slow
def test_a_run_goes_on_through_jumps_and_an_old_request_is_not_obeyed(records):
    """Ages and silences go by the steady clock: no fault, every reading in its place. A start asked long ago is refused."""
    ready_lot(records)
    ahead = [timedelta()]
    clock = Clock(utc=lambda: datetime.now(UTC) + ahead[0])

    async def play(recorder):
        async with Simulator() as gauge:
            await ask(live.set_feed, feed_of(gauge.address), **now_why())

            async def cut():
                begun = clock.monotonic()
                while True:
                    await gauge.send(0.1e-6 + 2e-6 / 60.0 * (clock.monotonic() - begun))
                    await asyncio.sleep(0.02)

            cutting = asyncio.create_task(cut())
            await asyncio.sleep(1.5)
            ahead[0] = timedelta(hours=1)
            late = await answered(await ask(live.request_start, ORDER, **now_why()))
            ahead[0] = timedelta()
            answer = await answered(await ask(live.request_start, ORDER, **now_why()))
            for jump in JUMPS:
                ahead[0] += jump
                await asyncio.sleep(0.3)
            run = next(iter(recorder.stations.values())).run
            faults, taken = run.faults, run.readings
            await ask(live.request_stop, ORDER.station_id, **now_why())
            stream = await ended(answer.run_id)
            cutting.cancel()
            return late, faults, taken, stream

    late, faults, taken, stream = with_recorder(records, play, clock=clock)
    assert late.accepted is False
    assert re.match(r"The start was asked 36\d\d s ago", late.sentence)
    assert faults == ()
    assert (stream.outcome, stream.readings >= taken > 20) == ("asked", True)
    from lapwright.records import stream_queries

    times, _ = stream_queries.stream_readings(stream.stream_id)
    assert np.all(np.diff(times) > 0.0)
    assert times[-1] < 60.0
    assert verify_records().faults == ()
