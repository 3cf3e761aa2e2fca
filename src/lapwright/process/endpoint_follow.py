"""A recorded run followed to its stop: the same estimate and rule as live, without the figures nobody looks at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.errors import ShapeMismatch
from lapwright.process.endpoint import (
    EndpointConfig,
    EndpointDecision,
    EndpointState,
    is_due,
    judge,
    start,
    update,
)

JUDGED_EVERY = 0.2  # s, between readings and while none come


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowedRun:
    """How a recorded run would have ended: the decision at its stop, and the readings and gaps up to there."""

    decision: EndpointDecision
    readings: int
    gaps: int


def followed_run(config: EndpointConfig, times: Sequence[float], lengths: Sequence[float]) -> FollowedRun:
    """The stop of a recorded run.

    Parameters
    ----------
    config : EndpointConfig
        What was known before the run.
    times : float sequence, length n [s]
        Times of the readings, from the start of the run.
    lengths : float sequence, length n [m]
        Removal that the gauge showed.

    Returns
    -------
    FollowedRun
        When the record ends before a stop, the silence after it becomes one: `gauge.stale`.

    Raises
    ------
    ShapeMismatch
        `times` and `lengths` differ in number.

    Examples
    --------
    >>> times = [0.2 * step for step in range(1, 2001)]
    >>> run = followed_run(EndpointConfig(target=20e-6, rate=1e-7), times, [1e-7 * time for time in times])
    >>> run.decision.advice, round(run.decision.at)
    ('stop_now', 198)
    """
    if len(times) != len(lengths):
        raise ShapeMismatch(times=(len(times),), lengths=(len(lengths),))
    state = start(config, 0.0)
    last = 0.0
    for time, length in zip(times, lengths, strict=True):
        if time - last > 1.5 * JUDGED_EVERY and (moment := _due_in_silence(state, time)) is not None:
            return _ended(state, moment)
        update(state, time, length)
        last = time
        if is_due(state, time):
            return _ended(state, time)
    moment = _due_in_silence(state, last + config.stale + JUDGED_EVERY) or last + config.stale
    return _ended(state, moment)


# ----------------------------------------------------------------------------------------------------------------------


def _due_in_silence(state: EndpointState, until: float) -> float | None:
    """The first moment before `until` at which a stop is due while nothing is heard."""
    begun = state.time
    count = int((until - begun) / JUDGED_EVERY - 1e-9)
    moments = (begun + JUDGED_EVERY * step for step in range(1, count + 1))
    return next((moment for moment in moments if is_due(state, moment)), None)


def _ended(state: EndpointState, moment: float) -> FollowedRun:
    return FollowedRun(decision=judge(state, moment), readings=state.readings, gaps=state.gaps)
