"""One run as the recorder follows it: estimate, decision, what to show. No I/O, no clock of its own."""

from __future__ import annotations

from dataclasses import dataclass, field

from lapwright.app.recorder.following import removal_shown
from lapwright.app.run_ends import RunPlan
from lapwright.model.live import CheckReading, Direction, LiveFault, RateChange
from lapwright.process.endpoint import EndpointDecision, EndpointState, judge, note_new_rate, start, update
from lapwright.process.endpoint_check import checked_estimate

RUN_OUT = 4.0  # s beyond the latency, in which the plate comes to rest and the gauge is still read
SHOWN_OVER = 2.0  # s at the end of the run-out over which the resting gauge is averaged
MOST_POINTS = 40


@dataclass(slots=True)
class FollowedRun:
    """A run going on. Times count from its start [s]."""

    run_id: int
    wafer_id: str
    stream_id: int
    by: str
    plan: RunPlan
    direction: Direction
    state: EndpointState | None = None
    decision: EndpointDecision | None = None
    readings: int = 0
    points: list[tuple[float, float]] = field(default_factory=list)
    tail: list[tuple[float, float]] = field(default_factory=list)
    faults: tuple[LiveFault, ...] = ()
    outcome: str = ""
    code: str = ""
    sentence: str = ""
    stopped: float | None = None

    def __post_init__(self) -> None:
        if self.plan.config is not None:
            self.state = start(self.plan.config, 0.0)

    def take(self, time: float, length: float) -> None:
        """A reading: the estimate sees it until the stop is asked; afterwards it only tells where the plate rests."""
        shown = removal_shown(length, zero=self.plan.zero, direction=self.direction)
        self.readings += 1
        self.points.append((time, shown))
        if self.stopped is None and self.state is not None:
            update(self.state, time, shown)
        elif self.stopped is not None:
            self.tail.append((time, shown))

    def is_due(self, now: float) -> bool:
        """Judge; true when a stop must be asked now. The reason is then in `outcome`, `code` and `sentence`."""
        if self.stopped is not None:
            return False
        if self.state is None:
            assert self.plan.time is not None
            if now < self.plan.time:
                return False
            self._stop(now, "time", "", _time_over(self.plan.time, is_first=self.plan.step == "first"))
            return True
        self.decision = decision = judge(self.state, max(now, self.state.time))
        self.faults = tuple(
            LiveFault(code=fault.code, time=fault.time, sentence=fault.sentence) for fault in decision.faults
        )
        if decision.advice == "stop_fault":
            self._stop(now, "fault", self.faults[0].code, self.faults[0].sentence)
        elif decision.advice == "stop_now":
            self._stop(now, "target", "", f"the target less a margin of {decision.margin * 1e6:.2f} µm is reached")
        return self.stopped is not None

    def check(self, now: float, reading: CheckReading) -> str:
        """Hold a removal measured otherwise against the estimate; what came of it, in a sentence."""
        assert self.state is not None
        checked = checked_estimate(
            self.state, max(now, self.state.time), removal=reading.removal, uncertainty=reading.uncertainty
        )
        difference, doubt = checked.difference * 1e6, checked.difference_uncertainty * 1e6
        verdict = "more than their uncertainty explains" if checked.is_biased else "within their uncertainty"
        return f"Check less gauge: {difference:+.2f} µm (± {2.0 * doubt:.2f} µm), {verdict}."

    def change_rate(self, now: float, change: RateChange) -> None:
        """Expect another rate from now on."""
        assert self.state is not None
        note_new_rate(self.state, max(now, self.state.time), factor=change.factor)

    def break_off(self, now: float, *, outcome: str, code: str, sentence: str) -> None:
        """Ask for the stop for a reason that the readings do not tell."""
        if self.stopped is None:
            if self.state is not None:
                self.decision = judge(self.state, max(now, self.state.time))
            if outcome == "fault":
                self.faults = (*self.faults, LiveFault(code=code, time=now, sentence=sentence))
            self._stop(now, outcome, code, sentence)

    def is_over(self, now: float) -> bool:
        """Whether the plate has come to rest, as far as there is a gauge to tell."""
        if self.stopped is None:
            return False
        if self.plan.config is None:
            return True
        return now >= self.stopped + self.plan.config.latency + RUN_OUT

    @property
    def shown(self) -> float | None:
        """Removal that the resting gauge shows; None when it said nothing [m]."""
        if not self.tail:
            return None
        resting = [shown for time, shown in self.tail if time >= self.tail[-1][0] - SHOWN_OVER]
        return sum(resting) / len(resting)

    @property
    def removal(self) -> float | None:
        """Best value of the removal: what the resting gauge shows unless it is at fault, else the estimate [m]."""
        if self.decision is None or self.plan.config is None:
            return None
        coast = self.decision.rate * self.plan.config.latency
        if self.shown is None or any(fault.code.startswith("gauge.") for fault in self.faults):
            return max(0.0, self.decision.removed + coast)
        return max(0.0, self.shown / (1.0 - self.plan.config.foot_wear))

    def thinned(self) -> tuple[tuple[float, float], ...]:
        """The points since the last call, at most `MOST_POINTS`, extremes kept."""
        points, self.points = self.points, []
        if len(points) <= MOST_POINTS:
            return tuple(points)
        size = -(-2 * len(points) // MOST_POINTS)
        kept: list[tuple[float, float]] = []
        for first in range(0, len(points), size):
            stretch = points[first : first + size]
            kept += sorted({min(stretch, key=lambda one: one[1]), max(stretch, key=lambda one: one[1])})
        return tuple(kept)

    # ------------------------------------------------------------------------------------------------------------------

    def _stop(self, now: float, outcome: str, code: str, sentence: str) -> None:
        self.stopped, self.outcome, self.code, self.sentence = now, outcome, code, sentence


def _time_over(time: float, *, is_first: bool) -> str:
    if is_first:
        return f"the first of two steps, {time:.0f} s, is over: rinse, measure, and finish by the rate just found"
    return f"the time of {time:.0f} s is over"
