"""Use cases: how a run under the recorder begins and ends in the records."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from lapwright.app import gauges, runs
from lapwright.app.next_stages import NextStage, next_stage
from lapwright.errors import Conflict
from lapwright.model.job import RecordedRun, RunStep
from lapwright.model.live import Feed, StartOrder
from lapwright.model.readings import Signature
from lapwright.model.request import RunRequest
from lapwright.process.endpoint import EndpointConfig

LEAST_BAND = 1.3  # factor by which a rate may differ even where its interval is narrower; common practice, no source
UNKNOWN_BAND = 3.0  # the same where the plan gives no interval
OFF_ZERO = 20.0e-6  # m; a gauge that stands further from its zero before the plate turns was moved
USABLE = ("in_date", "due_soon")


@dataclass(frozen=True, slots=True, kw_only=True)
class RunPlan:
    """What the recorder needs to follow a run. SI. `config` is None for a run by the clock, `time` for one by gauge.

    `feed` is the station's, with what earlier runs say that the gauge misses.
    """

    config: EndpointConfig | None
    time: float | None
    zero: float
    step: RunStep = "whole"
    feed: Feed | None = None


def run_plan(order: StartOrder, feed: Feed | None, *, reading: float | None, at: datetime) -> RunPlan:
    """What a run is to be followed by: preset, rate and zero of the wafer's next stage, and what is known of the gauge.

    Raises `Conflict` with what stands against a start: no next stage that runs, no zero that holds, a gauge without a
    calibration in date, or one that stands far off its zero (`reading` is what it shows now [m]).
    """
    ahead = next_stage(order.wafer_id, jig_id=order.jig_id, station_id=order.station_id)
    if ahead is None or ahead.planned.kind not in ("lap", "polish"):
        raise Conflict(f"The next stage of wafer {order.wafer_id!r} is no run. Do that one first.")
    if order.time is not None:
        return RunPlan(config=None, time=order.time, zero=0.0, step=order.step)
    assert feed is not None
    _check_calibration(feed, at)
    target = _target(order, ahead)
    zero = _zero(ahead, order.wafer_id)
    if reading is not None and abs(reading - zero) > OFF_ZERO:
        raise Conflict(
            f"The gauge stands {abs(reading - zero) * 1e6:.1f} µm off its zero (allowed {OFF_ZERO * 1e6:.0f} µm) before"
            " the plate turns. Take the zero again."
        )
    feed = feed_for(feed, ahead)
    return RunPlan(config=_config(ahead, feed, target), time=None, zero=zero, feed=feed)


def feed_for(feed: Feed, ahead: NextStage) -> Feed:
    """The feed of a station with the share that its gauge misses as earlier runs told it, where they are sure."""
    if ahead.bias is None or ahead.bias.learned.finding != "too_little":
        return feed
    learned = ahead.bias.learned
    return replace(feed, foot_wear=learned.share, foot_wear_uncertainty=learned.uncertainty)


def begin_run(order: StartOrder, *, by: str, reason: str, at: datetime) -> RecordedRun:
    """Record the start of a run that the recorder follows. Raises what `runs.start_run` does."""
    request = RunRequest(
        wafer_id=order.wafer_id,
        station_id=order.station_id,
        jig_id=order.jig_id,
        preset=order.target,
        load=order.load,
        plate_speed=order.plate_speed,
        time=order.time,
        step=order.step,
        companions=order.companions,
    )
    return runs.start_run(request, by=by, reason=reason, at=at)


def end_followed_run(
    run_id: int,
    *,
    removal: float | None,
    sentence: str,
    is_done: bool,
    time: float | None = None,
    by: str,
    reason: str,
    at: datetime,
) -> RecordedRun:
    """Record the end of a run: done, or broken off, whereupon its stage waits for another run with a new zero.

    `time` is how long a run by the clock really ran [s]. A run whose end is on record keeps the one it has: the end of
    its stream must not be lost with it.
    """
    from lapwright.records import queries, writer

    run = queries.run(run_id)
    if run.ended is not None:
        return run
    text = None if removal is None else f"{removal * 1e6:.2f} µm"
    if is_done:
        return runs.finish_run(run_id, gauge_removal=text, stop_reason=sentence, time=time, by=by, reason=reason, at=at)
    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        given = None if removal is None or text is None else (removal, text)
        run = writer.end_run(run_id, given, sentence, signature, time=time)
        for one in (run, *runs.end_companions(run, signature, time=time)):
            writer.change_stage(one.stage_id, "waiting", signature)
        if run.zero_id is not None:
            writer.void_zero(run.zero_id, "the run was broken off", signature)
        return run


# ----------------------------------------------------------------------------------------------------------------------


def _check_calibration(feed: Feed, at: datetime) -> None:
    if not feed.gauge_id:
        raise Conflict(
            f"The feed of station {feed.station_id!r} names no gauge on record, so that its calibration is not known."
            " Name the gauge in the feed."
        )
    recorded = gauges.show_gauge(feed.gauge_id, on=at.date())
    if recorded.calibration_state not in USABLE:
        raise Conflict(" ".join(gauges.warnings_of(recorded, on=at.date())))


def _target(order: StartOrder, ahead: NextStage) -> float:
    """Removal at the gauge: the preset and what it leaves for the lag of the stop, which the endpoint leaves itself."""
    if order.target is not None:
        return order.target
    if ahead.travel is None:
        raise Conflict(
            f"Stage {ahead.planned.name!r} of wafer {order.wafer_id!r} has no preset: it is stopped by the clock. Give"
            " its time."
        )
    return ahead.travel + ahead.planned.allowance


def _zero(ahead: NextStage, wafer_id: str) -> float:
    if ahead.zero is None:
        raise Conflict(f"Wafer {wafer_id!r} has no accepted zero that holds. Take it first.")
    return sum(ahead.zero.values) / len(ahead.zero.values)


def _config(ahead: NextStage, feed: Feed, target: float) -> EndpointConfig:
    planned = ahead.planned
    if planned.rate is None:
        raise Conflict(f"The plan has no rate for stage {planned.name!r}, so that nothing can be told from it.")
    band = UNKNOWN_BAND
    if planned.rate_low and planned.rate_high:
        band = max(LEAST_BAND, planned.rate_high / planned.rate, planned.rate / planned.rate_low)
    config = endpoint_config(feed, target=target, rate=planned.rate, rate_band=band)
    spread = 0.0 if ahead.zero is None else ahead.zero.spread / len(ahead.zero.values)
    return replace(config, zero_uncertainty=spread)


def endpoint_config(feed: Feed, *, target: float, rate: float, rate_band: float) -> EndpointConfig:
    """What the endpoint must know, of a feed and a plan."""
    return EndpointConfig(
        target=target,
        rate=rate,
        rate_band=rate_band,
        latency=feed.latency,
        latency_spread=feed.latency_spread,
        noise=feed.noise,
        resolution=feed.resolution,
        drift_limit=feed.drift_limit,
        foot_wear=feed.foot_wear,
        foot_wear_uncertainty=feed.foot_wear_uncertainty,
        stale=feed.stale,
    )
