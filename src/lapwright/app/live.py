"""Live runs as pages and commands see them: what may be asked of the recorder, and what it shows.

The recorder is a process of its own; asking is a row in the records, listening is a socket on this machine whose
address lies in the data folder, or on PostgreSQL, which serves several machines, what the database passes on. A
listener that is slow loses batches; the record never does.

A stop advice is advice: the machine's own interlocks stay in charge.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncGenerator
from contextlib import aclosing
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from lapwright.app.kept_results import kept_until
from lapwright.errors import Conflict
from lapwright.model.live import (
    CheckReading,
    Feed,
    LiveAnswer,
    LiveBatch,
    RateChange,
    RecordedFeed,
    RecordedStream,
    StartOrder,
)
from lapwright.model.readings import Signature

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from lapwright.process.slow_down import SlowDown

CAUTION = "Stop advice is advice; the machine's own interlocks stay in charge."
RETRY = 1.0  # s between attempts to reach the recorder


def set_feed(feed: Feed, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedFeed:
    """Record which gauge feeds a station and how its machine is stopped. Raises `BadInput` for an address that is none.

    A recorder that runs takes it up within a second, unless a run is going.
    """
    from lapwright.gauges import open_source, open_stop
    from lapwright.records import stream_queries, writer

    open_source(feed.source)
    open_stop(feed.stop_output)
    writer.put_feed(feed, Signature(by=by, at=at, reason=reason), version=version)
    recorded = stream_queries.feed(feed.station_id)
    assert recorded is not None
    return recorded


def list_feeds() -> tuple[RecordedFeed, ...]:
    """All feeds by station."""
    from lapwright.records import stream_queries

    return stream_queries.feeds()


def request_start(order: StartOrder, *, by: str, reason: str, at: datetime) -> LiveAnswer:
    """Ask the recorder to start a run; `answer_of` tells what came of it, within a second or two.

    The recorder refuses without an accepted zero that holds, with a gauge that is silent, far off its zero, or without
    a calibration in date. Raises `NotFound` for an unknown wafer or station, `Conflict` for a station that has no feed.
    """
    from lapwright.records import queries, stream_queries, writer

    queries.wafer(order.wafer_id)
    if order.time is None and stream_queries.feed(order.station_id) is None:
        raise Conflict(
            f"The station {order.station_id!r} has no gauge the recorder could follow. Record its feed first, or start"
            " the run by hand."
        )
    return writer.add_request(order.station_id, "start", order, Signature(by=by, at=at, reason=reason))


def request_stop(station_id: str, *, by: str, reason: str, at: datetime) -> LiveAnswer:
    """Ask the recorder to stop the run of a station. Raises `NotFound` for an unknown station."""
    from lapwright.records import writer

    return writer.add_request(station_id, "stop", None, Signature(by=by, at=at, reason=reason))


def request_check(station_id: str, reading: CheckReading, *, by: str, reason: str, at: datetime) -> LiveAnswer:
    """Hand the recorder a removal measured otherwise in mid-run; the answer's sentence says how the gauge compares.

    A bias that is certain stops the run: `gauge.foot_wear` or `gauge.drift`.
    """
    from lapwright.records import writer

    return writer.add_request(station_id, "check", reading, Signature(by=by, at=at, reason=reason))


def request_new_rate(station_id: str, change: RateChange, *, by: str, reason: str, at: datetime) -> LiveAnswer:
    """Tell the recorder that load or speed were changed on purpose, so that the new rate is no fault."""
    from lapwright.records import writer

    return writer.add_request(station_id, "new_rate", change, Signature(by=by, at=at, reason=reason))


def slow_down_advice(stream: RecordedStream, rate: float, *, share: float = 0.25) -> SlowDown | None:
    """Where to lower the load near the target, from the rate now [m/s], and what it brings; None for a timed run."""
    from lapwright.app.run_ends import endpoint_config
    from lapwright.process.slow_down import slow_down_plan

    if stream.feed is None or stream.target is None or rate <= 0.0:
        return None
    config = endpoint_config(stream.feed, target=stream.target, rate=rate, rate_band=2.0)
    return slow_down_plan(config, rate, share=share)


def answer_of(request_id: int) -> LiveAnswer:
    """What the recorder said to a request; `accepted` is None while it has not answered. Raises `NotFound`."""
    from lapwright.records import stream_queries

    return stream_queries.answer_of(request_id)


def has_work() -> bool:
    """Whether there is anything for a recorder to do: a feed, or a request that nobody has answered."""
    from lapwright.records import stream_queries

    return bool(stream_queries.feeds() or stream_queries.open_requests())


def is_following() -> bool:
    """Whether a run is going on under the recorder."""
    from lapwright.records import stream_queries

    return bool(stream_queries.open_streams())


async def subscribe(station_id: str | None = None) -> AsyncGenerator[LiveBatch, None]:
    """Batches of one station, or of all stations, ten a second each, for as long as the caller listens.

    While the recorder does not answer, a batch with the word ``recorder_away`` comes every second; the subscription
    mends itself. A caller that is slow misses batches (their points are then missing from the picture; `run_picture`
    has them all).
    """
    from lapwright.app.recorder.broadcast import AWAY, batches_from
    from lapwright.app.recorder.relay import batches_heard
    from lapwright.records.notices import are_passed_on

    while True:
        with contextlib.suppress(OSError, ValueError, EOFError):
            batches = batches_heard(station_id) if are_passed_on() else batches_from(_folder(), station_id)
            async with aclosing(batches):
                async for batch in batches:
                    yield batch
        yield LiveBatch(station_id=station_id or "", word="recorder_away", at=datetime.now(UTC), sentence=AWAY)
        await asyncio.sleep(RETRY)


def stream_of_run(run_id: int) -> RecordedStream | None:
    """What the recorder was told of a run and how it ended; None for a run that it did not follow."""
    from lapwright.records import stream_queries

    return stream_queries.stream_of_run(run_id)


def run_readings(run_id: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Times in the run [s] and lengths on the gauge's scale [m], as committed; empty without a stream."""
    from lapwright.records import stream_queries

    stream = stream_queries.stream_of_run(run_id)
    return stream_queries.stream_readings(-1 if stream is None else stream.stream_id)


def run_picture(run_id: int, *, width: int = 600) -> tuple[tuple[float, float, float], ...]:
    """The removal shown by the gauge over a run, thinned to `width` stretches: time [s], least, greatest [m]."""
    from lapwright.records import stream_queries

    stream = stream_queries.stream_of_run(run_id)
    if stream is None:
        return ()
    if stream.dropped is not None:
        return stream.dropped.picture
    if stream.outcome is None:
        return _picture(stream, width)
    return kept_until(frozenset({"streamdrop"}), ("picture", run_id, width), lambda: _picture(stream, width))


# ----------------------------------------------------------------------------------------------------------------------


def _picture(stream: RecordedStream, width: int) -> tuple[tuple[float, float, float], ...]:
    from lapwright.app.recorder.following import removal_shown
    from lapwright.records import stream_queries

    times, lengths = stream_queries.stream_readings(stream.stream_id)
    direction = "growing" if stream.feed is None else stream.feed.direction
    shown = removal_shown(lengths, zero=stream.zero, direction=direction)
    step = max(1, -(-len(times) // width))
    edges = range(0, len(times), step)
    return tuple(
        (float(times[first]), float(shown[first : first + step].min()), float(shown[first : first + step].max()))
        for first in edges
    )


def _folder() -> Path:
    from lapwright.app import wiring

    return wiring.current_settings().data
