"""One station under the recorder: its gauge, its run, its stop output, and what is shown of them."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from contextlib import AsyncExitStack
from dataclasses import dataclass
from datetime import datetime

from lapwright.app import run_ends
from lapwright.app.recorder.broadcast import Broadcast
from lapwright.app.recorder.followed import FollowedRun
from lapwright.app.recorder.store import Store
from lapwright.errors import Conflict, LapwrightError
from lapwright.gauges import BadFrames, Gap, GaugeEvent, GaugeReading, LengthGauge, StopGuard, open_source, open_stop
from lapwright.gauges.clock import Clock
from lapwright.gauges.roles import StopOutput
from lapwright.model.live import (
    CheckReading,
    Feed,
    LiveBatch,
    LiveWord,
    RateChange,
    StartOrder,
    StreamEvent,
    StreamOutcome,
)
from lapwright.model.readings import Signature

ALIVE = 2.0  # s; a gauge silent for longer does not start a run
FIRST = 3.0  # s that a gauge opened for a start gets for its first reading
REACHED = 1.0  # s that a stop output gets to be reached
AGAIN = 1.0  # s before a gauge that failed is opened again
CLOSING = 10.0  # s that the end of a run gets to be written when the recorder ends
END_AGAIN = 1.0  # s before the end of a run is written again


@dataclass(frozen=True, slots=True, kw_only=True)
class Tools:
    """What a station works with; tests put their own in."""

    store: Store
    broadcast: Broadcast
    clock: Clock
    source: Callable[..., LengthGauge] = open_source
    output: Callable[[str], StopOutput] = open_stop


class Station:
    """A station with its gauge. `tick` is called ten times a second."""

    def __init__(self, station_id: str, feed: Feed | None, tools: Tools) -> None:
        self.station_id, self.feed = station_id, feed
        self.run: FollowedRun | None = None
        self._tools = tools
        self._source: LengthGauge | None = None
        self._sentence = ""
        self._last: GaugeReading | None = None
        self._arrived = 0.0
        self._origin = 0.0  # of the run's time, on the clock of the readings
        self._guard: StopGuard | None = None
        self._left = AsyncExitStack()
        self._owner: asyncio.Task[None] | None = None
        self._starting = False
        self._go = asyncio.Event()  # a recorded file waits for it after its first reading
        self._ending: asyncio.Task[None] | None = None

    def open(self) -> None:
        """Begin to listen. A recorded file is played when a run starts, not before."""
        if self.feed is not None and not self._is_replay and self._owner is None:
            self._owner = asyncio.create_task(self._listen(), name=f"station {self.station_id}")

    async def close(self) -> None:
        """Stop a run that goes on, and listen no more."""
        if self.run is not None:
            now = self._now()
            self.run.break_off(now, outcome="fault", code="recorder.ended", sentence="The recorder was ended.")
            self._tell_stop(self.run)
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(CLOSING):
                    await self._end(self.run)
        if self._owner is not None:
            self._owner.cancel()
            await asyncio.wait([self._owner])
            self._owner = None

    @property
    def is_busy(self) -> bool:
        """Whether a run is going or starting."""
        return self.run is not None or self._starting

    async def start(self, order: StartOrder, signature: Signature) -> int:
        """Start a run; its number. Raises an error of ours that says what stands against it."""
        if self.is_busy:
            raise Conflict(f"The station {self.station_id!r} is running already. Stop that run first.")
        self._starting = True
        try:
            return await self._start(order, signature)
        except BaseException:
            await self._let_go("the run did not start")
            raise
        finally:
            self._starting = False

    def stop(self, signature: Signature) -> None:
        """Stop the run because a person asks. Raises `Conflict` when none is going."""
        if self.run is None:
            raise Conflict(f"No run of the recorder is going on station {self.station_id!r}.")
        said = signature.reason or "no reason given"
        self.run.break_off(self._now(), outcome="asked", code="", sentence=f"Stopped by {signature.by}: {said}.")
        self._tell_stop(self.run)

    def check(self, reading: CheckReading) -> str:
        """Move the estimate by a removal measured otherwise; what came of it. Raises `Conflict` without a run."""
        run = self._followed()
        said = run.check(self._now(), reading)
        event = StreamEvent(kind="check", time=self._now(), code="run.checked", sentence=said)
        self._tools.store.tell(run.stream_id, event)
        return said

    def change_rate(self, change: RateChange) -> None:
        """Expect another rate: load or speed were changed on purpose. Raises `Conflict` when no run is followed."""
        run = self._followed()
        run.change_rate(self._now(), change)
        sentence = f"Load or speed were changed on purpose: {change.factor:g} times the rate is expected."
        event = StreamEvent(kind="new_rate", time=self._now(), code="run.new_rate", sentence=sentence)
        self._tools.store.tell(run.stream_id, event)

    def fail(self, error: Exception) -> None:
        """Stop the run because of a fault of our own."""
        if self.run is not None and self.run.stopped is None:
            sentence = f"The recorder failed on a fault of its own: {error!r}. Please report it."
            self.run.break_off(self._now(), outcome="fault", code="recorder.failed", sentence=sentence)
            self._tell_stop(self.run)

    def tick(self, at: datetime) -> None:
        """Judge the run, permit or stop the machine, show how things stand."""
        run = self.run
        if run is not None:
            self._judge(run)
            rests = run.is_over(self._now()) or (run.stopped is not None and self._is_played)
            if rests and self._ending is None:
                self._ending = asyncio.create_task(self._end(run), name=f"end of run {run.run_id}")
        self._tools.broadcast.tell(self.batch(at))

    # ------------------------------------------------------------------------------------------------------------------

    def _followed(self) -> FollowedRun:
        if self.run is None or self.run.stopped is not None or self.run.state is None:
            raise Conflict(f"No run is followed by its gauge on station {self.station_id!r}.")
        return self.run

    @property
    def _is_replay(self) -> bool:
        return self.feed is not None and self.feed.source.startswith("replay:")

    @property
    def _is_played(self) -> bool:
        """Whether a recorded file is at its end."""
        return self._is_replay and self._owner is not None and self._owner.done()

    def _now(self) -> float:
        """Time in the run: of the clock, or for a recorded file that of its latest reading and the silence since.

        The end of a file is a silence as long as it takes for a stop.
        """
        now = self._tools.clock.monotonic()
        if self._is_played and self._last is not None and self.feed is not None:
            return self._last.time - self._origin + self.feed.stale
        if self._is_replay and self._last is not None:
            return self._last.time - self._origin + (now - self._arrived)
        return now - self._origin

    async def _listen(self) -> None:
        assert self.feed is not None
        while True:
            try:
                async with self._tools.source(self.feed.source) as source:
                    self._source, self._sentence = source, ""
                    async for event in source:
                        if self._is_replay and not self._go.is_set():
                            self._look(event)
                            await self._go.wait()
                        self._take(event)
                    if self._is_replay:
                        return
            except LapwrightError as error:
                self._sentence = error.sentence
            finally:
                self._source = None
            await asyncio.sleep(AGAIN)

    def _take(self, event: GaugeEvent) -> None:
        """Everything a gauge says: the estimate first, then the store."""
        assert self.feed is not None
        if event.channel != self.feed.channel:
            return
        run = self.run
        self._look(event)
        if isinstance(event, GaugeReading):
            if run is not None:
                self._follow(run, event)
        elif run is not None:
            self._tools.store.tell(run.stream_id, _told(event, self._origin))

    def _look(self, event: GaugeEvent) -> None:
        if isinstance(event, GaugeReading) and not event.late:
            self._last, self._arrived = event, self._tools.clock.monotonic()

    def _follow(self, run: FollowedRun, reading: GaugeReading) -> None:
        time = round(reading.time - self._origin, 6)
        if time < 0.0 or run.is_over(time):
            return
        if not reading.late:
            run.take(time, reading.length)
            if self._is_replay and run.stopped is None and run.is_due(time):
                self._tell_stop(run)
        self._tools.store.add(run.stream_id, time, reading.length)

    async def _start(self, order: StartOrder, signature: Signature) -> int:
        store, by = self._tools.store, signature.by
        reading = await self._alive() if order.time is None else None
        length = None if reading is None else reading.length
        plan = await store.call(lambda: run_ends.run_plan(order, self.feed, reading=length, at=signature.at))
        guard = StopGuard(self._tools.output("dry-run:" if self.feed is None else self.feed.stop_output))
        self._guard = await self._left.enter_async_context(guard)
        await self._reached(guard)
        recorded, stream_id = await store.call(lambda: _begin(order, self.feed, plan, signature))
        self._origin = 0.0 if self._is_replay else self._tools.clock.monotonic()
        direction = "growing" if self.feed is None else self.feed.direction
        self.run = FollowedRun(
            run_id=recorded, wafer_id=order.wafer_id, stream_id=stream_id, by=by, plan=plan, direction=direction
        )
        guard.allow()
        self._go.set()
        return recorded

    async def _alive(self) -> GaugeReading:
        """The latest reading, young enough. Raises `Conflict` when the gauge says nothing."""
        if self._is_replay:
            self._last = None
            self._go.clear()
            self._owner = asyncio.create_task(self._listen(), name=f"station {self.station_id}")
        limit = self._tools.clock.monotonic() + FIRST
        while self._tools.clock.monotonic() < limit:
            if self._last is not None and self._tools.clock.monotonic() - self._arrived < ALIVE:
                return self._last
            await asyncio.sleep(0.02)
        said = self._sentence or ("" if self._source is None else self._source.status.sentence)
        raise Conflict(f"The gauge of station {self.station_id!r} says nothing. {said} Start when it does.")

    async def _reached(self, guard: StopGuard) -> None:
        await asyncio.sleep(0.0)
        limit = self._tools.clock.monotonic() + REACHED
        while guard.state.word == "unreachable":
            if self._tools.clock.monotonic() > limit:
                raise Conflict(f"The stop output cannot be reached: {guard.state.sentence} Nothing was started.")
            await asyncio.sleep(0.05)

    def _judge(self, run: FollowedRun) -> None:
        assert self._guard is not None
        if run.stopped is not None:
            return
        trouble = self._tools.store.trouble
        if trouble is not None:
            run.break_off(self._now(), outcome="fault", code="record.unavailable", sentence=trouble)
        elif self._guard.state.word in ("stopped", "unreachable"):
            sentence = f"The stop output gave up: {self._guard.state.sentence} The machine has stopped by itself."
            run.break_off(self._now(), outcome="fault", code="stop.unreachable", sentence=sentence)
        elif not run.is_due(self._now()):
            self._guard.allow()
            return
        self._tell_stop(run)

    def _tell_stop(self, run: FollowedRun) -> None:
        assert self._guard is not None
        self._guard.stop(run.sentence)
        assert run.stopped is not None
        event = StreamEvent(kind="stop", time=run.stopped, code=run.code or run.outcome, sentence=run.sentence)
        self._tools.store.tell(run.stream_id, event)

    async def _end(self, run: FollowedRun) -> None:
        """Write the end of a run, as often as it takes."""
        while True:
            try:
                await self._tools.store.flush()
                await self._tools.store.call(lambda: _finish(run, self._tools.clock.utc()))
                break
            except LapwrightError as error:
                self._sentence = f"The end of the run is not recorded yet: {error.sentence}"
                await asyncio.sleep(END_AGAIN)
        self.run, self._ending, self._sentence = None, None, ""
        await self._let_go(run.sentence)

    async def _let_go(self, reason: str) -> None:
        """Leave the stop output, and close a recorded file."""
        if self._guard is not None:
            self._guard.stop(reason)
        guard, self._guard = self._left.pop_all(), None
        with contextlib.suppress(LapwrightError):
            await guard.aclose()
        if self._is_replay and self._owner is not None:
            self._owner.cancel()
            self._owner = None

    def batch(self, at: datetime) -> LiveBatch:
        """How the station stands."""
        status = None if self._source is None else self._source.status
        guard = None if self._guard is None else self._guard.state
        age = None if self._last is None else self._tools.clock.monotonic() - self._arrived
        common = {
            "station_id": self.station_id,
            "at": at,
            "stop_state": "closed" if guard is None else guard.word,
            "stop_sentence": "" if guard is None else guard.sentence,
            "source_state": "closed" if status is None else status.state,
            "source_sentence": self._sentence if status is None else status.sentence,
            "reading": None if self._last is None else self._last.length,
            "reading_age": age,
        }
        run = self.run
        if run is None:
            word: LiveWord = "idle" if age is not None and age < ALIVE else "no_gauge"
            return LiveBatch(**common, word=word, sentence=self._sentence)  # type: ignore[arg-type]
        return LiveBatch(**common, **self._shown(run))  # type: ignore[arg-type]

    def _shown(self, run: FollowedRun) -> dict[str, object]:
        decision, config = run.decision, run.plan.config
        shown: dict[str, object] = {
            "word": "running" if run.stopped is None else "stopping",
            "sentence": run.sentence or self._sentence,
            "run_id": run.run_id,
            "wafer_id": run.wafer_id,
            "elapsed": self._now(),
            "points": run.thinned(),
            "faults": run.faults,
            "readings": run.readings,
            "stored": self._tools.store.stored.get(run.stream_id, 0),
            "target": None if config is None else config.target,
            "advice": "run" if run.stopped is None else "stop_fault" if run.outcome == "fault" else "stop_now",
        }
        if config is None:
            assert run.plan.time is not None
            shown["time_left"] = max(0.0, run.plan.time - self._now())
        elif decision is not None:
            names = (
                "removed", "removed_uncertainty", "rate", "rate_uncertainty", "time_left", "time_left_low",
                "time_left_high", "chance_over_target", "margin",
            )  # fmt: skip
            shown |= {name: getattr(decision, name) for name in names}
        return shown


def _told(event: Gap | BadFrames, origin: float) -> StreamEvent:
    if isinstance(event, BadFrames):
        sentence = f"{event.count} frames could not be read: {event.reason} ({event.text[:60]!r})."
        return StreamEvent(kind="bad_frames", time=event.time - origin, code="gauge.bad_frames", sentence=sentence)
    over = "" if event.ended is None else f" It lasted {event.ended - event.started:.1f} s."
    return StreamEvent(kind="gap", time=event.started - origin, code="gauge.gap", sentence=event.reason + over)


def _begin(order: StartOrder, feed: Feed | None, plan: run_ends.RunPlan, signature: Signature) -> tuple[int, int]:
    """Run and stream in the records, together."""
    from lapwright.records import writer
    from lapwright.records.writer.streams import NewStream

    with writer.transaction():
        run = run_ends.begin_run(order, by=signature.by, reason=signature.reason, at=signature.at)
        new = NewStream(
            run_id=run.run_id,
            feed=plan.feed or feed,
            target=None if plan.config is None else plan.config.target,
            time=plan.time,
            zero=plan.zero,
            rate=None if plan.config is None else plan.config.rate,
        )
        return run.run_id, writer.begin_stream(new, signature)


def _finish(run: FollowedRun, at: datetime) -> None:
    """End of stream and run in the records, together."""
    from lapwright.records import writer
    from lapwright.records.writer.streams import NewEnd

    decision = run.decision
    outcome: StreamOutcome = run.outcome  # type: ignore[assignment]
    end = NewEnd(
        outcome=outcome,
        after=run.stopped,
        code=run.code,
        sentence=run.sentence,
        removed=None if decision is None else decision.removed,
        uncertainty=None if decision is None else decision.removed_uncertainty,
        margin=None if decision is None else decision.margin,
        shown=run.shown,
    )
    signed = {"by": run.by, "reason": "stopped under the recorder", "at": at}
    with writer.transaction():
        writer.end_stream(run.stream_id, end, Signature(by=run.by, reason="stopped under the recorder", at=at))
        said = f"{run.code}: {run.sentence}" if run.code else run.sentence
        run_ends.end_followed_run(
            run.run_id,
            removal=run.removal,
            sentence=said,
            is_done=outcome in ("target", "time"),
            time=run.stopped if run.plan.config is None else None,
            **signed,  # type: ignore[arg-type]
        )
