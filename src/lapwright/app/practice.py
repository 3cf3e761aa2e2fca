"""Use cases: practice on a simulated run. It is followed by the code that follows a real one; nothing is recorded.

The stop output is not connected: the estimate goes on after its advice, and the person stops. Time in the run is ten
times as fast as a clock. The run itself, with what was planted in it, is given by the caller.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.live import LiveBatch, LiveFault
from lapwright.model.practice import FaultName, PracticeRound, PracticeScore, PracticeTask, PracticeView

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from lapwright.process.endpoint_state import EndpointDecision, EndpointState

SPEED = 10.0  # seconds of the run in one of the clock
STATION = "practice"
FAULTS: tuple[FaultName, ...] = ("none", "silent", "frozen", "jumped", "backwards", "dry", "surged", "noisy")
AGAIN = 900.0  # s for mounting, zero and readings of a second run (common practice, no source)
COMPARED = (1, 5)  # rounds that are held against each other
MOST_POINTS = 200  # readings handed to a page at once
MOST_FOLLOWED = 32  # rounds kept at hand; another is followed anew from its beginning


class Run(Protocol):
    """A run as it is shown and as it really is."""

    @property
    def time(self) -> NDArray[np.float64]:
        """Times of the readings [s]."""

    @property
    def length(self) -> NDArray[np.float64]:
        """Removal that the gauge shows [m]."""

    def removal_at(self, time: float) -> float:
        """True removal at a time [m]."""


@dataclass(slots=True)
class _Followed:
    """A round that is followed: the estimate, how many readings it has taken, and the first advice to stop."""

    state: EndpointState
    taken: int = 0
    until: float = 0.0
    stop: EndpointDecision | None = None
    lock: threading.Lock = field(default_factory=threading.Lock)


_FOLLOWED: OrderedDict[tuple[str, int, int], _Followed] = OrderedDict()
_GATE = threading.Lock()


def begin_round(person: str, view: str, *, seed: int, at: datetime) -> PracticeRound:
    """A new round of a person. Raises `BadInput` for a view that is none."""
    from lapwright.records import practice_rounds

    if view not in ("countdown", "gauge"):
        sentence = f"Found {view!r}, expected what is to be seen: countdown or gauge."
        raise BadInput([Fault(sentence=sentence, field="view")])
    shown: PracticeView = "gauge" if view == "gauge" else "countdown"
    return practice_rounds.add_round(_folder(), person, shown, seed, at)


def show_round(round_id: int) -> PracticeRound:
    """One round. Raises `NotFound`."""
    from lapwright.records import practice_rounds

    return practice_rounds.round_of(_folder(), round_id)


def rounds_of(person: str | None = None) -> tuple[PracticeRound, ...]:
    """The rounds of a person or of everybody, the latest first."""
    from lapwright.records import practice_rounds

    return practice_rounds.rounds(_folder(), person=person)


def compared(rounds: tuple[PracticeRound, ...], view: PracticeView) -> tuple[PracticeRound | None, ...]:
    """The first and the fifth scored round shown one way; None for one that is not played yet."""
    known = {one.number: one for one in rounds if one.view == view and one.score is not None}
    return tuple(known.get(number) for number in COMPARED)


def elapsed(practised: PracticeRound, *, at: datetime) -> float:
    """Time in the run [s]; a clock that was set back does not make it negative."""
    return max(0.0, (at - practised.began).total_seconds()) * SPEED


def live_batch(
    practised: PracticeRound, task: PracticeTask, run: Run, *, at: datetime, since: float = 0.0
) -> LiveBatch:
    """How the run stands, as the recorder would say it; points are the readings after `since` [s].

    A stop that was advised stays advised, while the estimate goes on.
    """
    followed = _followed(practised, task)
    with followed.lock:
        now = min(max(elapsed(practised, at=at), followed.until), task.duration)
        decision = _advance(followed, run, now)
        stop, taken = followed.stop, followed.taken
    first = int(run.time[:taken].searchsorted(since, side="right"))
    step = max(1, (taken - first) // MOST_POINTS)
    times, lengths = run.time[first:taken:step].tolist(), run.length[first:taken:step].tolist()
    last = None if taken == 0 else (float(run.time[taken - 1]), float(run.length[taken - 1]))
    common = LiveBatch(
        station_id=STATION,
        word="running" if stop is None or stop.advice == "stop_fault" else "stopping",
        at=at,
        run_id=practised.round_id,
        wafer_id="",
        elapsed=now,
        points=tuple(zip(times, lengths, strict=True)),
        target=task.target,
        reading=None if last is None else last[1],
        reading_age=None if last is None else now - last[0],
        readings=taken,
        stop_state="unreachable",
    )
    return common if practised.view == "gauge" else _with_estimate(common, decision, stop)


def is_over(practised: PracticeRound, task: PracticeTask, *, at: datetime) -> bool:
    """Whether a round has run to its end with nobody stopping it."""
    return practised.stopped_after is None and elapsed(practised, at=at) >= task.duration


def stop_round(practised: PracticeRound, task: PracticeTask, *, person: str, at: datetime) -> PracticeRound:
    """Stop a round now; one that has ended by itself is noted so. Raises `Conflict` for somebody else's round."""
    from lapwright.records import practice_rounds

    _need_own(practised, person)
    if is_over(practised, task, at=at):
        return end_by_itself(practised, task)
    return practice_rounds.stop_round(_folder(), practised.round_id, elapsed(practised, at=at))


def end_by_itself(practised: PracticeRound, task: PracticeTask) -> PracticeRound:
    """Note that nobody stopped a round."""
    from lapwright.records import practice_rounds

    return practice_rounds.stop_round(_folder(), practised.round_id, task.duration, by_itself=True)


def answer_round(practised: PracticeRound, task: PracticeTask, run: Run, said: str, *, person: str) -> PracticeRound:
    """Take what the person says went wrong, and score the round.

    Raises `Conflict` for a round that still runs or is somebody else's, `BadInput` for an answer that is none.
    """
    from lapwright.records import practice_rounds

    _need_own(practised, person)
    if said not in FAULTS:
        sentence = f"Found {said!r}, expected one of {', '.join(FAULTS)}."
        raise BadInput([Fault(sentence=sentence, field="said")])
    if practised.stopped_after is None:
        raise Conflict("The round still runs; stop it first.")
    name: FaultName = next(one for one in FAULTS if one == said)
    score = scored(task, run, practised.stopped_after, name)
    return practice_rounds.score_round(_folder(), practised.round_id, name, score)


def scored(task: PracticeTask, run: Run, stopped_after: float, said: FaultName) -> PracticeScore:
    """The score: how far the wafer is over once the plate stands, the time that costs, wafers lost, fault found.

    What is left on beyond the tolerance takes a second run: its own time and the mounting, zero and readings before it.
    A planted fault that had not begun yet is not asked for.
    """
    over = run.removal_at(stopped_after + task.latency) - task.target
    left = max(0.0, -over - task.tolerance)
    shown_up = task.planted_at is not None and stopped_after > task.planted_at
    truth = task.fault if shown_up else "none"
    return PracticeScore(
        over=over,
        time=stopped_after + (AGAIN + (-over) / task.rate if left else 0.0),
        lost=int(over > task.tolerance),
        is_found=said == truth,
        shown_up=shown_up,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _folder() -> Path:
    from lapwright.app.wiring import current_settings

    return current_settings().data


def _need_own(practised: PracticeRound, person: str) -> None:
    if practised.person != person:
        raise Conflict(f"This round is one of {practised.person}. Begin your own.")


def _followed(practised: PracticeRound, task: PracticeTask) -> _Followed:
    from lapwright.process.endpoint import EndpointConfig, start

    key = (str(_folder()), practised.round_id, practised.seed)  # numbers begin anew when the file is deleted
    with _GATE:
        known = _FOLLOWED.get(key)
        if known is None:
            config = EndpointConfig(
                target=task.target, rate=task.rate, rate_band=1.6, latency=task.latency, noise=0.4e-6
            )
            known = _FOLLOWED[key] = _Followed(state=start(config, 0.0))
            while len(_FOLLOWED) > MOST_FOLLOWED:
                _FOLLOWED.popitem(last=False)
        _FOLLOWED.move_to_end(key)
        return known


def _advance(followed: _Followed, run: Run, now: float) -> EndpointDecision:
    """Take the readings up to now one by one, and judge as the recorder would: after each, and in silence."""
    from lapwright.process.endpoint import is_due, judge, update

    state = followed.state
    while followed.taken < run.time.size and run.time[followed.taken] <= now:
        moment, length = float(run.time[followed.taken]), float(run.length[followed.taken])
        if followed.stop is None and moment - state.time > state.config.stale:
            followed.stop = judge(state, state.time + state.config.stale)
        update(state, moment, length)
        followed.taken += 1
        if followed.stop is None and is_due(state, moment):
            followed.stop = judge(state, moment)
    followed.until = now
    decision = judge(state, max(now, state.time))
    if followed.stop is None and decision.advice != "run":
        followed.stop = decision
    return decision


def _with_estimate(batch: LiveBatch, decision: EndpointDecision, stop: EndpointDecision | None) -> LiveBatch:
    faults = () if stop is None else stop.faults
    return replace(
        batch,
        removed=decision.removed,
        removed_uncertainty=decision.removed_uncertainty,
        rate=decision.rate,
        rate_uncertainty=decision.rate_uncertainty,
        time_left=decision.time_left,
        time_left_low=decision.time_left_low,
        time_left_high=decision.time_left_high,
        chance_over_target=decision.chance_over_target,
        margin=decision.margin,
        advice="run" if stop is None else stop.advice,
        faults=tuple(LiveFault(code=one.code, time=one.time, sentence=one.sentence) for one in faults),
    )
