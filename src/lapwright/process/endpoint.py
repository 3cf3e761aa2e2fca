"""Endpoint of a lapping run: how much is removed, how fast, when to stop, and whether the gauge can be believed.

A constant-rate state [removed, rate] is followed reading by reading (Kalman filter with a wandering rate), gated
against spikes. `endpoint_faults` looks at the same stream for what no filter can mend. The module has no clock: the
time of a reading and the time of a judgement are arguments, so that a recorded run replays exactly.

    state = start(config, at)
    state = update(state, time, length)     # each reading; the state is changed in place and returned
    decision = judge(state, now)            # as often as wanted, at least five times a second

What is not modelled: the shape of the plate, and a zero that was wrong from the start; both belong to the allowance
that the preset carries, and enter here only as `zero_uncertainty`.
"""

from __future__ import annotations

import math
from dataclasses import replace

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import normal_cdf
from lapwright.process.endpoint_bends import Blocks, add_to_block, strongest_bend
from lapwright.process.endpoint_faults import (
    FILM_CLIMB,
    FILM_LIMIT,
    FROZEN_IN_BEND,
    FROZEN_LEAST,
    FROZEN_STARTING,
    FROZEN_STEPS,
    NOISE_FACTOR,
    StreamFaults,
    note_bend,
    note_fault,
    note_film,
    note_frozen,
    note_tame,
    note_wild,
    weigh_repeats,
)
from lapwright.process.endpoint_filter import gains, spread_ahead, wander_density
from lapwright.process.endpoint_state import Advice, EndpointConfig, EndpointDecision, EndpointState

__all__ = [
    "EndpointConfig", "EndpointDecision", "EndpointState", "is_due", "judge", "note_new_rate", "start", "update",
]  # fmt: skip

_GATE_SQUARE = 4.5**2  # readings further off, in variances of the innovation, do not move the estimate
_NOISE_MEMORY = 150  # readings over which the noise estimate forgets
_JITTER_MEMORY = 600  # readings over which the step from reading to reading is averaged; longer than a step is cut
_COARSE = 0.15  # of the resolution squared; a gauge that steps less from reading to reading is coarser than its noise
_ROUGH = 0.7  # of the scatter of the last seconds counts as noise at least; a gauge that turns noisy has no bends
_STEADY_MEMORY = 60.0  # blocks over which the noise is averaged for the search for bends
_SCATTER_MEMORY = 30.0  # readings over which a rise of the noise is looked for


def start(config: EndpointConfig, at: float) -> EndpointState:
    """State at the zero of a run.

    Parameters
    ----------
    config : EndpointConfig
        What is known before the run.
    at : float [s]
        Time of the start, on the same clock as the readings.

    Returns
    -------
    EndpointState

    Examples
    --------
    >>> state = start(EndpointConfig(target=20e-6, rate=1e-7), at=0.0)
    >>> state.removed
    0.0
    """
    spread = math.log(config.rate_band) * config.rate / 1.645
    rounding = config.resolution**2 / 12.0
    state = EndpointState(
        config=config,
        started=at,
        rate_since=at,
        time=at,
        removed=0.0,
        rate=config.rate,
        p11=config.zero_uncertainty**2 + 0.01 * rounding,
        p12=0.0,
        p22=spread**2,
        density=0.0,
        cut_time=0.0,
        variance=config.noise**2 + rounding,
        jitter=config.noise**2 + rounding,
        leaps=0.0,
        noise_weight=0.05,
        scatter=config.noise**2 + rounding,
        quiet=math.nan,
        steady=math.nan,
        readings=0,
        gaps=0,
        offset=0.0,
        film_unknown=True,
        stream=StreamFaults(),
        blocks=Blocks(),
    )
    _refresh(state)
    return state


def update(state: EndpointState, time: float, length: float) -> EndpointState:
    """State after one more reading.

    Parameters
    ----------
    state : EndpointState
        The state so far; it is changed in place and returned.
    time : float [s]
        Time of the reading, on the clock of `start`. A reading not later than the last one is left out.
    length : float [m]
        Removal that the gauge shows, from its zero.

    Returns
    -------
    EndpointState

    Notes
    -----
    Removed x and rate r with covariance P follow x' = r, r' = white noise of density q; a reading of variance R
    corrects both by the Kalman gain P h / S, S = P11 + R [1]_. q = (wander · rate)² / minute, larger at the start.
    R follows the scatter of the innovations. A gauge coarser than its noise repeats its value until the plate has cut
    a whole step; R then counts each step once instead of each reading.

    References
    ----------
    .. [1] P. R. Kalata, "The tracking index: a generalized parameter for alpha-beta and alpha-beta-gamma target
       trackers," IEEE Trans. Aerospace Electron. Syst. 20 (1984) 174-182, doi:10.1109/TAES.1984.310438: the steady
       gains that a constant process noise leads to.

    Examples
    --------
    >>> state = start(EndpointConfig(target=20e-6, rate=1e-7), at=0.0)
    >>> for step in range(1, 601):
    ...     state = update(state, 0.2 * step, 1.2e-7 * 0.2 * step)
    >>> round(state.rate * 60e6, 1)
    7.2
    """
    config = state.config
    step = time - state.time
    if step <= 0.0:
        return state
    if step > 1.0 and state.readings:
        state.gaps += 1
    shown = length / (1.0 - config.foot_wear) + state.offset
    stream = state.stream
    elapsed = time - state.rate_since
    rate = state.rate
    removed = state.removed + rate * step
    p11, p12, p22 = spread_ahead(state.p11, state.p12, state.p22, step, state.density)
    deviation = shown - removed
    variance = state.variance
    state.time = time
    state.readings += 1
    leap = length - stream.value
    if leap:
        half = 0.5 * leap * leap
        if half < 10.0 * variance:  # neither the first reading nor a wild one
            state.leaps += half
        stream.value, stream.since, stream.since_expected, stream.since_rate = length, time, length - deviation, rate
        stream.repeats = 0
    else:
        stream.repeats += 1
        if time - stream.since >= FROZEN_LEAST:
            _weigh_repeats(state, p11)
    square = deviation * deviation * variance / (p11 + variance)
    if square > _GATE_SQUARE * variance:
        state.scatter += (_GATE_SQUARE * variance - state.scatter) / _SCATTER_MEMORY
        state.removed, state.p11, state.p12, state.p22 = removed, p11, p12, p22
        note_wild(stream, time, deviation, step=step, starting=time - state.started < config.settling)
        return state
    state.scatter += (square - state.scatter) / _SCATTER_MEMORY
    if stream.wild_share:
        note_tame(stream, step)
    gain1, gain2 = gains(p11, p12, variance if step >= state.cut_time else variance * state.cut_time / step)
    state.removed = removed + gain1 * deviation
    state.rate = rate + gain2 * deviation
    state.p11 = (1.0 - gain1) * p11
    state.p12 = (1.0 - gain1) * p12
    state.p22 = p22 - gain2 * p12
    state.variance += (square - variance) * state.noise_weight
    if add_to_block(state.blocks, elapsed, shown):
        _refresh(state)
        if elapsed > config.settling:
            _look_for_trouble(state, elapsed)
    return state


def judge(state: EndpointState, now: float) -> EndpointDecision:
    """Decision at a time: run, stop now, or stop because something is wrong.

    Parameters
    ----------
    state : EndpointState
        The running estimate; it may gain the fault `gauge.stale`.
    now : float [s]
        Time of the judgement, not before the last reading.

    Returns
    -------
    EndpointDecision

    Notes
    -----
    The stop is asked when the removal expected at now + latency reaches target − margin. The margin is the quantile
    of the end's uncertainty at which the expected cost is least: over-removal that costs c times as much as the
    same under-removal allows a chance of 1/(1 + c) of being over. Silence is a reason to stop.

    Examples
    --------
    >>> state = start(EndpointConfig(target=20e-6, rate=1e-7), at=0.0)
    >>> judge(state, 6.0).faults[0].code
    'gauge.stale'
    """
    config = state.config
    due = is_due(state, now)
    silence = now - state.time
    removed = state.removed + state.rate * silence
    variance_now = _variance_ahead(state, silence)
    bias = _bias_variance(state, removed)
    margin = math.sqrt(_margin_square(state, removed, silence))
    aim = config.target - margin
    low, left, high = _time_left(state, removed, aim, variance_now + bias)
    spread_now = math.sqrt(variance_now + bias)
    chance = normal_cdf((removed - config.target) / spread_now) if spread_now > 0.0 else float(removed > config.target)
    advice: Advice = "run"
    if state.stream.found:
        advice = "stop_fault"
    elif due:
        advice = "stop_now"
    return EndpointDecision(
        advice=advice,
        at=now,
        removed=removed,
        removed_uncertainty=spread_now,
        rate=state.rate,
        rate_uncertainty=math.sqrt(state.p22),
        time_left=left,
        time_left_low=low,
        time_left_high=high,
        chance_over_target=chance,
        margin=margin,
        faults=state.stream.found,
    )


def is_due(state: EndpointState, now: float) -> bool:
    """Whether a stop must be asked now, at the target or for a fault: what `judge` advises, without its figures.

    Parameters
    ----------
    state : EndpointState
        The running estimate; it may gain the fault `gauge.stale`.
    now : float [s]
        Time of the judgement, not before the last reading.

    Returns
    -------
    bool

    Examples
    --------
    >>> is_due(start(EndpointConfig(target=20e-6, rate=1e-7), at=0.0), 1.0)
    False
    """
    config = state.config
    silence = now - state.time
    if silence >= config.stale - 1e-9:
        sentence = (
            f"The gauge has sent nothing for {silence:.1f} s (limit {config.stale:g} s). "
            "Check the cable and the stream, then zero again."
        )
        note_fault(state.stream, "gauge.stale", state.time + config.stale, sentence)
    if state.stream.found:
        return True
    removed = state.removed + state.rate * silence
    short = config.target - removed - state.rate * config.latency
    return short <= 0.0 or short * short <= _margin_square(state, removed, silence)


def note_new_rate(state: EndpointState, at: float, *, factor: float, factor_uncertainty: float = 0.2) -> EndpointState:
    """State after load or speed were changed on purpose: the rate is expected to change by a factor.

    Parameters
    ----------
    state : EndpointState
        The running estimate; it is changed in place and returned.
    at : float [s]
        Time of the change, not before the last reading.
    factor : float [1]
        New rate over old, above zero.
    factor_uncertainty : float [1]
        Relative standard uncertainty of the factor.

    Returns
    -------
    EndpointState

    Notes
    -----
    The search for bends begins anew, so that a change asked for is not taken for dry slurry; the rate counts as finding
    its value again for the settling time.

    Examples
    --------
    >>> state = start(EndpointConfig(target=20e-6, rate=1e-7), at=0.0)
    >>> round(note_new_rate(state, 10.0, factor=0.5).rate * 1e8, 3)
    5.0
    """
    if factor <= 0.0:
        raise OutOfValidRange("factor", factor, "more than zero")
    step = at - state.time
    if step > 0.0:
        state.removed += state.rate * step
        state.p11, state.p12, state.p22 = spread_ahead(state.p11, state.p12, state.p22, step, state.density)
        state.time = at
    state.rate *= factor
    state.p12 *= factor
    state.p22 = factor * factor * state.p22 + (factor_uncertainty * state.rate) ** 2
    state.config = replace(state.config, rate=state.config.rate * factor)
    state.rate_since = at
    state.blocks = Blocks()
    _refresh(state)
    return state


# ----------------------------------------------------------------------------------------------------------------------


def _weigh_repeats(state: EndpointState, p11: float) -> None:
    """A gauge coarser than its noise may repeat a value until a step is cut; a finer one by chance alone."""
    stream, resolution = state.stream, state.config.resolution
    lasted = state.time - stream.since
    if state.cut_time:
        slowest = max(stream.since_rate - 2.0 * math.sqrt(state.p22), 0.67 * stream.since_rate)
        if lasted * slowest > FROZEN_STEPS * resolution:
            note_frozen(stream, state.time)
        return
    if lasted < FROZEN_STARTING and state.time - state.started < state.config.settling:
        return
    noise = math.sqrt(max(state.jitter - resolution * resolution / 12.0, 1e-24))
    doubt = max(0.0, 2.0 * math.sqrt(p11 + state.p22 * lasted * lasted) - noise)
    weigh_repeats(stream, state.time, doubt=doubt, noise=noise, resolution=resolution)


def _refresh(state: EndpointState) -> None:
    """What changes slowly enough to be worked out once a second: wander, weight of the noise and of repeated values."""
    config = state.config
    state.noise_weight = 1.0 / min(_NOISE_MEMORY, state.readings + 20)
    rate = state.rate
    wander = config.rate_wander * max(rate, 0.1 * config.rate)  # a rate hardly known yet wanders at least this much
    state.density = wander_density(wander, elapsed=state.time - state.rate_since, settling=config.settling)
    sums = state.blocks.sums
    if len(sums) > 1:
        count = sums[-1][0] - sums[-2][0]
        share = count / min(_JITTER_MEMORY, state.readings + 20)
        state.jitter += (state.leaps / count - state.jitter) * min(1.0, share)
        state.leaps = 0.0
    square = config.resolution * config.resolution
    is_coarse = state.jitter < _COARSE * square
    state.cut_time = config.resolution / rate if is_coarse and rate > 0.0 else 0.0


def _look_for_trouble(state: EndpointState, elapsed: float) -> None:
    config = state.config
    stream = state.stream
    if math.isnan(state.quiet) and elapsed > 2.0 * config.settling:
        state.quiet = max(state.variance, config.resolution**2 / 12.0)
    if state.film_unknown and state.rate_since == state.started and elapsed > 2.0 * config.settling:
        state.film_unknown = False
        note_film(
            stream,
            state.blocks,
            state.time,
            variance=state.variance * _repeats_per_step(state),
            allowed=_film_allowed(config),
        )
    coarse = 0.12 * config.resolution**2 if state.cut_time else 0.0  # steps scatter as much as this by themselves
    is_scattered = state.scatter > NOISE_FACTOR * max(state.quiet, coarse)
    if is_scattered and stream.repeats >= FROZEN_IN_BEND:
        note_frozen(stream, state.time)
    elif is_scattered:
        sentence = (
            "The readings scatter over twice as much as before. Check the gauge's seat and the plate for chatter."
        )
        note_fault(stream, "gauge.noisy", state.time, sentence)
    if math.isnan(state.steady):
        state.steady = state.variance
    state.steady += (state.variance - state.steady) / _STEADY_MEMORY
    bend = strongest_bend(
        state.blocks,
        max(state.steady, _ROUGH * state.scatter) * _repeats_per_step(state),
        rate=max(state.rate, 0.1 * config.rate),
        wander=config.rate_wander,
    )
    if bend is not None:
        note_bend(stream, state.time, bend, is_coarse=state.cut_time > 0.0)
    spread = 3.0 * math.sqrt(state.p22)
    slow = state.rate + spread < config.rate / config.rate_band
    if elapsed > 2.0 * config.settling and (slow or state.rate - spread > config.rate * config.rate_band):
        sentence = (
            f"The rate is {state.rate * 60e6:.2f} µm/min; the plan expects {config.rate * 60e6:.2f} µm/min within a "
            f"factor of {config.rate_band:g}. Check load, slurry, plate and the gauge's seat."
        )
        note_fault(stream, "run.rate_unlike_plan", state.time, sentence)


def _variance_ahead(state: EndpointState, ahead: float) -> float:
    return state.p11 + ahead * (2.0 * state.p12 + ahead * (state.p22 + state.density * ahead / 3.0))


def _bias_variance(state: EndpointState, removed: float) -> float:
    config = state.config
    wear = config.foot_wear_uncertainty * removed
    return config.zero_uncertainty**2 + config.drift_limit**2 / 3.0 + wear * wear


def _repeats_per_step(state: EndpointState) -> float:
    """How many readings of a coarse gauge tell no more than one: those it gives while the plate cuts a step."""
    if not state.cut_time:
        return 1.0
    sums = state.blocks.sums
    return max(1.0, state.cut_time * (sums[-1][0] - sums[-2][0]) / (sums[-1][5] - sums[-2][5]))


def _film_allowed(config: EndpointConfig) -> float:
    return max(FILM_LIMIT, 4.0 * config.zero_uncertainty) + FILM_CLIMB * config.rate


def _margin_square(state: EndpointState, removed: float, silence: float) -> float:
    """Square of the margin at the end of the latency, `silence` after the last reading [m²]."""
    config = state.config
    wear = config.foot_wear_uncertainty * removed
    coast = state.rate * config.latency_spread
    known = _variance_ahead(state, silence + config.latency) + coast * coast + wear * wear + config.zero_uncertainty**2
    quantile = config.quantile
    if not config.drift_limit:
        return quantile * quantile * known
    as_normal = quantile * math.sqrt(known + config.drift_limit**2 / 3.0)
    as_bound = quantile * math.sqrt(known) + config.drift_limit
    return min(as_normal, as_bound) ** 2


def _time_left(
    state: EndpointState, removed: float, aim: float, variance: float
) -> tuple[float | None, float | None, float | None]:
    """Time until `aim` and its 90 % interval: the times at which the line ± 1.645 of its spread crosses it."""
    distance = aim - removed
    rate = state.rate
    if distance <= 0.0:
        return 0.0, 0.0, 0.0
    if rate <= 0.0:
        return None, None, None
    left = distance / rate
    factor = 1.645 * 1.645
    rate_variance = state.p22 + state.density * left / 3.0
    a = rate * rate - factor * rate_variance
    b = rate * distance + factor * state.p12
    c = distance * distance - factor * variance
    root = math.sqrt(max(0.0, b * b - a * c))
    low = c / (b + root) if c > 0.0 else 0.0
    high = (b + root) / a if a > 0.0 else None
    return low, left, high
