"""A practice run in the simulated shop: what is to be done, what happened, how it ended. Never part of the records."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

#: What may go wrong in a practice run, and what the person says went wrong.
FaultName = Literal["none", "silent", "frozen", "jumped", "backwards", "dry", "surged", "noisy"]
#: What the person sees: the Countdown, or the gauge alone.
PracticeView = Literal["countdown", "gauge"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeTask:
    """What is to be lapped: removal [m], rate that the plan expects [m/s], and how far over costs the wafer [m].

    `fault` is planted at `planted_at` [s]; None when there is none. Without a stop the run goes on to `duration` [s].
    """

    target: float
    rate: float
    tolerance: float
    latency: float
    fault: FaultName
    planted_at: float | None
    duration: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeScore:
    """How a practice run ended: how far over [m] (below nought: left on), its time [s], wafers lost, fault found.

    `shown_up` is whether the planted fault had begun when the run was stopped.
    """

    over: float
    time: float
    lost: int
    is_found: bool
    shown_up: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeRound:
    """One practice run of a person: which, from which seed, since when, stopped when [s], what they said, the score.

    `number` counts the rounds of the person that were shown the same way. `by_itself` is true when nobody stopped it.
    """

    round_id: int
    person: str
    number: int
    view: PracticeView
    seed: int
    began: datetime
    stopped_after: float | None = None
    by_itself: bool = False
    said: FaultName | None = None
    score: PracticeScore | None = None
