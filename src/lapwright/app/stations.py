"""Use cases: how a station stands, which wafers could start on it, and what stands against a start.

What is live comes from the recorder and may be missing; everything else is on record.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Literal

from lapwright.app import live
from lapwright.app.kept_results import kept_unless, kept_until
from lapwright.errors import LapwrightError
from lapwright.model.job import RecordedRun, RecordedWafer
from lapwright.model.live import Feed, LiveAnswer, LiveBatch, RecordedStream
from lapwright.model.plan import Stage
from lapwright.model.recipe import RunSettings
from lapwright.model.shelf import Station

if TYPE_CHECKING:
    from lapwright.app.clock_runs import ClockAdvice
    from lapwright.app.next_stages import NextStage
    from lapwright.process.reconcile import Reconciliation

ALIVE = 2.0  # s; a gauge that is silent for longer does not start a run
ANSWER_WITHIN = 8.0  # s that the recorder gets to answer: it waits for the gauge and for the stop output
LOOK_EVERY = 0.1  # s
#: Tables that say which stream of a station ended last, and how; and those that a look back at a run rests on.
_WAITING = frozenset({"wafer", "stage", "run"})
_STREAMS = frozenset({"streamend", "streamdrop"})
_LOOK_BACK = frozenset({"calibration", "carrier", "gauge", "jig", "streamdrop", "streamend"})
#: Of these the rows of the orders whose pieces ran.
_LOOK_BACK_OF_ORDERS = ("bond", "order", "readingset", "run", "stage", "wafer", "weighing", "zero")

CheckState = Literal["passed", "missing", "warning"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StationNow:
    """A station with what is recorded of it: gauge, the run that is going, and the stream that ended last."""

    station: Station
    feed: Feed | None
    run: RecordedRun | None
    stream: RecordedStream | None
    last: RecordedStream | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StartCheck:
    """One thing looked at before a start; a missing one stands against it, a warning does not."""

    name: str
    state: CheckState
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StartSheet:
    """What a run of a wafer would be, and what stands against starting it. SI.

    `target` is the removal at the gauge at which the stop is asked, less what the stop leaves for certainty; None for a
    run by the clock, which has `clock` instead. `settings` are what is to be set at the machine. `together` are the
    other pieces that run with it, `beside` those that could.
    """

    wafer_id: str
    order_id: str
    jig_id: str | None
    ahead: NextStage
    target: float | None
    clock: ClockAdvice | None
    checks: tuple[StartCheck, ...]
    settings: RunSettings
    together: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()

    @property
    def may_start(self) -> bool:
        """Whether nothing stands against it."""
        return all(check.state != "missing" for check in self.checks)


def show_station(station_id: str) -> StationNow:
    """One station. Raises `NotFound`."""
    from lapwright.records import queries, stream_queries

    recorded = stream_queries.feed(station_id)
    feeds = {} if recorded is None else {station_id: recorded.feed}
    return _now(queries.station(station_id).station, feeds, queries.running_runs())


def list_stations() -> tuple[StationNow, ...]:
    """All stations on which something is lapped or polished, by name."""
    from lapwright.records import queries, stream_queries

    every = (one.station for one in queries.stations())
    feeds = {one.feed.station_id: one.feed for one in stream_queries.feeds()}
    running = queries.running_runs()
    return tuple(_now(station, feeds, running) for station in every if station.kind in ("lap", "polish"))


def station_of_gauge(gauge_id: str) -> str | None:
    """The first station, by name, whose readings come from a gauge on record; None where it is connected nowhere."""
    from lapwright.records import stream_queries

    return next((one.feed.station_id for one in stream_queries.feeds() if one.feed.gauge_id == gauge_id), None)


def wafers_for(station: Station) -> tuple[RecordedWafer, ...]:
    """Wafers on a carrier whose next stage is a run with what is on this station now, the longest waiting first."""
    waiting = kept_until(_WAITING, ("waiting for a run",), _waiting_for_a_run)
    return tuple(wafer for wafer, stage in waiting if _fits(stage, station))


def wafers_in_want_of_others(station: Station, *, most: int = 3) -> tuple[tuple[RecordedWafer, Stage], ...]:
    """Wafers that wait for a run of the station's kind with something else on it: the first for each tool.

    No more than `most`, the longest waiting first.
    """
    found: dict[tuple[str | None, str | None], tuple[RecordedWafer, Stage]] = {}
    for wafer, stage in kept_until(_WAITING, ("waiting for a run",), _waiting_for_a_run):
        if stage.kind == station.kind and not _fits(stage, station):
            found.setdefault((stage.plate, stage.abrasive), (wafer, stage))
    return tuple(found.values())[:most]


def order_of(wafer_id: str) -> str:
    """The order of a wafer. Raises `NotFound`."""
    from lapwright.records import queries

    return queries.wafer(wafer_id).order_id


def start_sheet(
    station_id: str,
    wafer_id: str,
    *,
    jig_id: str | None,
    batch: LiveBatch | None,
    at: datetime,
    together: Sequence[str] = (),
    by: str | None = None,
) -> StartSheet:
    """What a run of a wafer on a station would be, and everything that is looked at before it starts.

    `batch` is what the recorder says of the station; None when it does not answer. `together` are other pieces on the
    carrier, for a run by the clock; `by` is who asks, told what is set otherwise than for their last wafer. Raises
    `NotFound` for an unknown wafer, `Conflict` when its next stage is no run.
    """
    from lapwright.app.next_stages import next_stage
    from lapwright.errors import Conflict
    from lapwright.records import queries

    now = show_station(station_id)
    wafer = queries.wafer(wafer_id)
    ahead = next_stage(wafer_id, jig_id=jig_id, station_id=station_id)
    if ahead is None or ahead.planned.kind not in ("lap", "polish"):
        raise Conflict(f"The next stage of wafer {wafer_id!r} is no run. Do that one first.")
    target = None if ahead.travel is None else ahead.travel + ahead.planned.allowance
    together = () if target is not None else tuple(one for one in dict.fromkeys(together) if one != wafer_id)
    clock, against = (None, "") if target is not None else _by_clock(wafer_id, together, at)
    checks = [_setting_check(now, ahead), _removal_check(ahead), _recorder_check(now.feed, batch)]
    if target is not None:
        checks += [
            _zero_check(ahead),
            _calibration_check(now.feed, at),
            _gauge_check(now.feed, batch, ahead),
            _bias_check(ahead),
        ]
    else:
        checks.append(_clock_check(clock, against, has_pieces=bool(together)))
    settings = _settings(ahead, station_id, wafer_id, jig_id)
    checks += [_stop_check(now.feed), _change_check(settings, station_id, by)]
    return StartSheet(
        wafer_id=wafer_id,
        order_id=wafer.order_id,
        jig_id=jig_id,
        ahead=ahead,
        target=target,
        clock=clock,
        checks=tuple(check for check in checks if check is not None),
        settings=settings,
        together=together,
        beside=() if target is not None else _beside(now.station, wafer_id),
    )


def reconciled(run_id: int) -> Reconciliation | None:
    """What the readings after a run say of it; None while there are none, or where they cannot tell."""
    touched = {table: partial(_is_of_run, run_id, table) for table in _LOOK_BACK_OF_ORDERS}
    return kept_unless(touched, _LOOK_BACK, ("reconciled", run_id), lambda: _reconciled(run_id))


def await_answer(asked: LiveAnswer, *, within: float = ANSWER_WITHIN) -> LiveAnswer:
    """The recorder's answer to a request, waited for; `accepted` is still None when it says nothing in that time."""
    limit = time.monotonic() + within
    answer = asked
    while answer.accepted is None and time.monotonic() < limit:
        time.sleep(LOOK_EVERY)
        answer = live.answer_of(asked.request_id)
    return answer


async def latest_batches(station_ids: frozenset[str], *, within: float = 0.5) -> dict[str, LiveBatch]:
    """The next batch of each of these stations; those of which nothing is heard in that time are missing."""
    import asyncio
    import contextlib
    from contextlib import aclosing

    heard: dict[str, LiveBatch] = {}
    if not station_ids:
        return heard
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(within), aclosing(live.subscribe()) as batches:
            async for batch in batches:
                if batch.word == "recorder_away":
                    break
                if batch.station_id in station_ids:
                    heard[batch.station_id] = batch
                if len(heard) == len(station_ids):
                    break
    return heard


# ----------------------------------------------------------------------------------------------------------------------


def _waiting_for_a_run() -> tuple[tuple[RecordedWafer, Stage], ...]:
    """Wafers on a carrier that are not in a run, each with its next stage, the longest waiting first."""
    from lapwright.records import queries, story_queries

    running = {one.wafer_id for one in queries.running_runs()}
    wafers = {one.wafer.wafer_id: one for one in queries.wafers_in_states(("ready", "in_work"))}
    ahead = story_queries.stages_ahead(wafers.keys() - running)
    found = ((wafers[wafer_id], recorded.stage) for wafer_id, recorded in ahead.items())
    return tuple(sorted(found, key=lambda one: one[0].since))


def _is_of_run(run_id: int, table: str, keys: frozenset[int]) -> bool:
    """Whether a row of a table is of an order whose piece was in a run, or a set of a carrier, which any may lie on."""
    from lapwright.records import order_queries, run_queries

    if table == "readingset" and order_queries.are_of_carriers(keys):
        return True
    return not run_queries.orders_of_run(run_id).isdisjoint(order_queries.orders_of_rows(table, keys))


def _reconciled(run_id: int) -> Reconciliation | None:
    from lapwright.app.after_run import look_back

    try:
        looked = look_back(run_id)
    except LapwrightError:
        return None
    return None if looked is None else looked.reconciled


def _now(station: Station, feeds: Mapping[str, Feed], running: Sequence[RecordedRun]) -> StationNow:
    from lapwright.records import stream_queries

    run = next((one for one in running if one.station_id == station.station_id and one.with_run is None), None)
    return StationNow(
        station=station,
        feed=feeds.get(station.station_id),
        run=run,
        stream=None if run is None else stream_queries.stream_of_run(run.run_id),
        last=kept_until(
            _STREAMS, ("last stream", station.station_id), lambda: stream_queries.last_ended_stream(station.station_id)
        ),
    )


def _fits(stage: Stage, station: Station) -> bool:
    return stage.kind in ("lap", "polish") and not _unfitting(station, stage.plate, stage.abrasive)


def _unfitting(station: Station, plate: str | None, abrasive: str | None) -> list[str]:
    return [
        f"{_named(found) if found else 'none'} (wanted {_named(wanted)})"
        for found, wanted in ((station.plate, plate), (station.abrasive, abrasive))
        if wanted is not None and found != wanted
    ]


def _named(tool: str) -> str:
    """A plate or an abrasive by its name in the library, by its id where it holds none."""
    from lapwright.library import load

    return load().tool_names().get(tool, tool)


def _by_clock(wafer_id: str, together: tuple[str, ...], at: datetime) -> tuple[ClockAdvice | None, str]:
    """The advice for a run by the clock, or what stands against it."""
    from lapwright.app.clock_runs import clock_advice

    try:
        return clock_advice(wafer_id, together=together, at=at), ""
    except LapwrightError as error:
        return None, error.sentence


def _beside(station: Station, wafer_id: str) -> tuple[str, ...]:
    """Other wafers that wait for a run by the clock with what is on the station."""
    from lapwright.records import queries

    def waits_for_clock(other: str) -> bool:
        stage = next((one.stage for one in queries.stages(other) if one.state == "waiting"), None)
        return stage is not None and stage.kind == "polish"

    every = (one.wafer.wafer_id for one in wafers_for(station))
    return tuple(one for one in every if one != wafer_id and waits_for_clock(one))


def _clock_check(clock: ClockAdvice | None, against: str, *, has_pieces: bool) -> StartCheck:
    if clock is None:
        return StartCheck(name="clock", state="missing" if has_pieces else "warning", sentence=against)
    if clock.missing:
        return StartCheck(name="clock", state="missing", sentence=clock.missing)
    low, _, high = (rate * 60e6 for rate in clock.rates)
    return StartCheck(
        name="clock", state="passed", sentence=f"The rate is {low:.4g} to {high:.4g} µm/min, {clock.origin}."
    )


def _setting_check(now: StationNow, ahead: NextStage) -> StartCheck:
    wrong = _unfitting(now.station, ahead.planned.plate, ahead.planned.abrasive)
    if wrong:
        sentence = f"On the station there is {' and '.join(wrong)}. Set it up, or take another station."
        return StartCheck(name="station", state="missing", sentence=sentence)
    on_it = " and ".join(_named(one) for one in (now.station.plate, now.station.abrasive) if one)
    return StartCheck(name="station", state="passed", sentence=f"The stage wants {on_it}, and that is on it.")


def _removal_check(ahead: NextStage) -> StartCheck | None:
    if ahead.removal > 0.0:
        return None
    sentence = f"The wafer is {ahead.thickness_now * 1e6:.1f} µm thick and past this stage already. Leave it out."
    return StartCheck(name="removal", state="missing", sentence=sentence)


def _settings(ahead: NextStage, station_id: str, wafer_id: str, jig_id: str | None) -> RunSettings:
    from lapwright.app import runs
    from lapwright.model.request import RunRequest

    return runs.settings_of(ahead, RunRequest(wafer_id=wafer_id, station_id=station_id, jig_id=jig_id))


def _change_check(settings: RunSettings, station_id: str, by: str | None) -> StartCheck | None:
    from lapwright.app import recipes

    try:
        recipes.need_kept(settings)
    except LapwrightError as error:
        return StartCheck(name="settings", state="missing", sentence=error.sentence)
    changed = recipes.changed_since_last(station_id, settings, by=by)
    followed, otherwise = recipes.held_to(settings)
    told = " ".join(filter(None, (otherwise, changed)))
    if told:
        return StartCheck(name="settings", state="warning", sentence=told)
    return StartCheck(name="settings", state="passed", sentence=followed) if followed else None


def _recorder_check(feed: Feed | None, batch: LiveBatch | None) -> StartCheck:
    if batch is None and feed is None:
        sentence = "No gauge is connected to this station; whether the recorder answers is seen at the start."
        return StartCheck(name="recorder", state="warning", sentence=sentence)
    if batch is None:
        sentence = "It does not answer. Start 'lapwright record' on this machine."
        return StartCheck(name="recorder", state="missing", sentence=sentence)
    return StartCheck(name="recorder", state="passed", sentence="It answers.")


def _zero_check(ahead: NextStage) -> StartCheck:
    if ahead.zero is None:
        sentence = "None holds. Put the wafer on the resting plate, read it three times, lift it between."
        return StartCheck(name="zero", state="missing", sentence=sentence)
    shown = f"{sum(ahead.zero.values) / len(ahead.zero.values) * 1e6:.1f} µm"
    sentence = f"It stands at {shown}, {len(ahead.zero.values)} readings within {ahead.zero.spread * 1e6:.1f} µm."
    return StartCheck(name="zero", state="passed", sentence=sentence)


def _calibration_check(feed: Feed | None, at: datetime) -> StartCheck:
    from lapwright.app import gauges
    from lapwright.app.run_ends import USABLE

    if feed is None or not feed.gauge_id:
        sentence = "It is not known which gauge on record sits on this station. Name it under 'Its gauge'."
        return StartCheck(name="calibration", state="missing", sentence=sentence)
    try:
        recorded = gauges.show_gauge(feed.gauge_id, on=at.date())
    except LapwrightError as error:
        return StartCheck(name="calibration", state="missing", sentence=error.sentence)
    said = " ".join(gauges.warnings_of(recorded, on=at.date()))
    if recorded.calibration_state not in USABLE:
        return StartCheck(name="calibration", state="missing", sentence=said)
    due = (
        "" if recorded.calibration is None else f"Gauge {feed.gauge_id} is calibrated until {recorded.calibration.due}."
    )
    return StartCheck(name="calibration", state="warning" if said else "passed", sentence=said or due)


def _gauge_check(feed: Feed | None, batch: LiveBatch | None, ahead: NextStage) -> StartCheck:
    from lapwright.app.run_ends import OFF_ZERO

    if feed is None:
        sentence = "No gauge is connected to this station. Record its feed first, or start the run by hand."
        return StartCheck(name="gauge", state="missing", sentence=sentence)
    if feed.source.startswith("replay:"):
        return StartCheck(name="gauge", state="warning", sentence="A recorded file is played when the run starts.")
    if batch is None or batch.reading is None or batch.reading_age is None or batch.reading_age > ALIVE:
        said = "" if batch is None else batch.source_sentence
        return StartCheck(name="gauge", state="missing", sentence=f"It says nothing. {said} Check cable and power.")
    shown = f"It shows {batch.reading * 1e6:.1f} µm, {batch.reading_age:.1f} s ago"
    if ahead.zero is not None:
        off = abs(batch.reading - sum(ahead.zero.values) / len(ahead.zero.values))
        if off > OFF_ZERO:
            sentence = f"{shown}: {off * 1e6:.1f} µm off its zero (allowed {OFF_ZERO * 1e6:.0f}). Zero it again."
            return StartCheck(name="gauge", state="missing", sentence=sentence)
    return StartCheck(name="gauge", state="passed", sentence=f"{shown}.")


def _bias_check(ahead: NextStage) -> StartCheck | None:
    if ahead.bias is None:
        return None
    state: CheckState = "warning" if ahead.bias.learned.finding == "too_much" else "passed"
    return StartCheck(name="bias", state=state, sentence=ahead.bias.sentence)


def _stop_check(feed: Feed | None) -> StartCheck:
    if feed is None or feed.stop_output.startswith("dry-run"):
        sentence = "It is a dry run: nothing is sent to the machine. Stop it yourself when the page says so."
        return StartCheck(name="stop", state="warning", sentence=sentence)
    return StartCheck(name="stop", state="passed", sentence="It is connected to the machine and tried at the start.")
