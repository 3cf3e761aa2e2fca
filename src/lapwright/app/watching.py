"""Use case: a gauge followed to the stop, without records: for a run by hand, or a recorded stream.

A stop advice is advice: the machine's own interlocks stay in charge.
"""

from __future__ import annotations

import asyncio
import math
import statistics
import time as clock
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from lapwright.app.recorder.following import removal_shown
from lapwright.errors import FileFormatError
from lapwright.gauges import Gap, GaugeEvent, GaugeReading, open_source
from lapwright.model.live import Direction
from lapwright.process.endpoint import EndpointConfig, EndpointDecision, EndpointState, is_due, judge, start, update

JUDGED_EVERY = 0.2  # s
SHOWN_EVERY = 1.0  # s of the run between two looks at the figures
NEAR_ZERO = 5.0e-6  # m; a shrinking length that begins within this is taken as zeroed
FIRST_SECOND = 1.0  # s whose middle reading is the zero of a length that was not zeroed
Progress = Callable[[EndpointDecision], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """How a run that was watched ended. `zero` is the length taken as no removal [m].

    `silent_because` says what the gauge's connection said when not one reading came.
    """

    decision: EndpointDecision
    readings: int
    gaps: int
    zero: float
    warnings: tuple[str, ...]
    silent_because: str = ""


@dataclass(slots=True)
class _Watch:
    """What is followed: the estimate, and readings kept back until the zero is known."""

    config: EndpointConfig
    direction: Direction
    zero: float | None
    state: EndpointState | None = None
    kept: list[GaugeReading] = field(default_factory=list)
    readings: int = 0
    gaps: int = 0
    warnings: list[str] = field(default_factory=list)
    shown_at: float = -1.0
    last_reason: str = ""


async def watch(
    address: str,
    config: EndpointConfig,
    *,
    direction: Direction = "growing",
    zero: float | None = None,
    progress: Progress = lambda _: None,
) -> Watched:
    """Follow the gauge at an address until a stop is due.

    A growing length is removal as it stands, unless a `zero` [m] is given. A shrinking one that begins further than
    5 µm from nothing is taken from the middle of its first second, with a warning. A recorded file is followed by its
    own time; where it ends before a stop, the silence after it becomes one. Raises what `open_source` does, and
    `FileFormatError` for a source without a single reading.
    """
    watched = _Watch(config=config, direction=direction, zero=0.0 if zero is None and direction == "growing" else zero)
    is_replay = address.startswith("replay:")
    async with open_source(address) as source:
        events = aiter(source)
        begun = None if is_replay else clock.monotonic()
        pending: asyncio.Task[GaugeEvent] | None = None
        while True:
            pending = pending or asyncio.ensure_future(_next(events))
            done, _ = await asyncio.wait({pending}, timeout=None if begun is None else JUDGED_EVERY)
            if begun is not None and watched.state is None and watched.zero is not None:
                watched.state = start(watched.config, 0.0)
            if done:
                try:
                    event = pending.result()
                except StopAsyncIteration:
                    return _at_the_end(watched, address)
                pending = None
                decision = _taken(watched, event, begun or 0.0)
            else:
                decision = _judged(watched, clock.monotonic() - (begun or 0.0))
            if decision is not None and decision.advice != "run":
                if pending is not None:
                    pending.cancel()
                return _result(watched, decision)
            if decision is not None and decision.at >= watched.shown_at + SHOWN_EVERY:
                watched.shown_at = decision.at
                progress(decision)


# ----------------------------------------------------------------------------------------------------------------------


async def _next(events: object) -> GaugeEvent:
    return await anext(events)  # type: ignore[call-overload,no-any-return]


def _taken(watched: _Watch, event: GaugeEvent, begun: float) -> EndpointDecision | None:
    """The decision after an event: first what the silence before it calls for, then what it says itself."""
    if isinstance(event, Gap):
        watched.last_reason = event.reason
        watched.gaps += event.ended is not None or event.started >= begun
        return None
    if not isinstance(event, GaugeReading) or event.late:
        return None
    watched.readings += 1
    if watched.zero is None:
        return _kept_back(watched, event, begun)
    time = event.time - begun
    if watched.state is None:
        watched.state = start(watched.config, min(0.0, time))
    silent = _due_in_silence(watched.state, time)
    if silent is not None:
        watched.readings -= 1
        return silent
    update(watched.state, time, removal_shown(event.length, zero=watched.zero, direction=watched.direction))
    if is_due(watched.state, time) or time >= watched.shown_at + SHOWN_EVERY:
        return judge(watched.state, time)
    return None


def _kept_back(watched: _Watch, event: GaugeReading, begun: float) -> EndpointDecision | None:
    """Keep the readings of the first second; then set the zero and take them all."""
    watched.kept.append(event)
    if abs(watched.kept[0].length) > NEAR_ZERO and event.time - watched.kept[0].time < FIRST_SECOND:
        return None
    _set_zero(watched)
    kept, watched.kept, watched.readings = watched.kept, [], 0
    decision = None
    for one in kept:
        decision = _taken(watched, one, begun)
        if decision is not None and decision.advice != "run":
            return decision
    return decision


def _set_zero(watched: _Watch) -> None:
    if abs(watched.kept[0].length) <= NEAR_ZERO:
        watched.zero = 0.0
        return
    watched.zero = statistics.median(one.length for one in watched.kept)
    config = watched.config
    spread = math.sqrt((config.noise**2 + config.resolution**2 / 12.0) / len(watched.kept))
    watched.config = replace(config, zero_uncertainty=math.hypot(config.zero_uncertainty, spread))
    watched.warnings.append(
        f"The length began at {watched.zero * 1e6:.1f} µm; the middle of the first second is taken as the zero. Give"
        " --zero-um to set another."
    )


def _due_in_silence(state: EndpointState, until: float) -> EndpointDecision | None:
    """The stop that falls due before `until` while nothing is heard."""
    if until - state.time <= 1.5 * JUDGED_EVERY:
        return None
    count = int((until - state.time) / JUDGED_EVERY - 1e-9)
    moments = (state.time + JUDGED_EVERY * step for step in range(1, count + 1))
    return next((judge(state, moment) for moment in moments if is_due(state, moment)), None)


def _judged(watched: _Watch, now: float) -> EndpointDecision | None:
    return None if watched.state is None else judge(watched.state, max(now, watched.state.time))


def _at_the_end(watched: _Watch, address: str) -> Watched:
    """The stop after the last reading of a source that has ended: at its target still, or for the silence."""
    if watched.kept:
        decision = _kept_to_the_end(watched)
        if decision is not None and decision.advice != "run":
            return _result(watched, decision)
    state = watched.state
    if state is None:
        raise FileFormatError(f"{address} held no reading that could be followed. Look at the file and its unit.")
    decision = _due_in_silence(state, state.time + watched.config.stale + JUDGED_EVERY)
    return _result(watched, decision or judge(state, state.time + watched.config.stale))


def _kept_to_the_end(watched: _Watch) -> EndpointDecision | None:
    _set_zero(watched)
    kept, watched.kept, watched.readings = watched.kept, [], 0
    decision = None
    for one in kept:
        decision = _taken(watched, one, 0.0)
        if decision is not None and decision.advice != "run":
            break
    return decision


def _result(watched: _Watch, decision: EndpointDecision) -> Watched:
    return Watched(
        decision=decision,
        readings=watched.readings,
        gaps=watched.gaps,
        zero=watched.zero or 0.0,
        warnings=tuple(watched.warnings),
        silent_because="" if watched.readings else watched.last_reason,
    )
