"""The last minutes of a run: slowing down near the target, so that less hangs on the moment of the stop."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lapwright.errors import OutOfValidRange
from lapwright.process.endpoint import EndpointConfig
from lapwright.process.endpoint_filter import steady_variance, wander_density


@dataclass(frozen=True, slots=True, kw_only=True)
class SlowDown:
    """Where to slow down and what it brings. SI.

    `left` is the removal left at which to change load or speed, `share` what remains of the rate; `spread` and
    `spread_without` are the standard deviations of the removal at the end, `longer` the time it costs.
    """

    left: float
    share: float
    rate: float
    spread: float
    spread_without: float
    longer: float


def slow_down_plan(config: EndpointConfig, rate: float, *, share: float = 0.25, interval: float = 0.2) -> SlowDown:
    """When to lower the load near the target.

    Parameters
    ----------
    config : EndpointConfig
        The run.
    rate : float [m/s]
        Rate now, above zero.
    share : float [1]
        Share of the rate that is left at the lower load, above zero and below one; by the law of removal the load is
        lowered to the same share.
    interval : float [s]
        Time between readings.

    Returns
    -------
    SlowDown

    Raises
    ------
    OutOfValidRange
        A rate not above zero, or a share not between zero and one.

    Notes
    -----
    The end spreads by the estimate and by the moment of the stop: σ² = P + (r·σ_latency)². P is the steady variance of
    the filter at the wander of the rate; both terms fall with the rate. The lower rate is given the settling time and
    as long again, so that it is known before the stop: left = 2·settling·share·rate + margin.

    Examples
    --------
    >>> plan = slow_down_plan(EndpointConfig(target=50e-6, rate=1.6e-7, latency_spread=1.0), 1.6e-7)
    >>> round(plan.left * 1e6, 1), round(plan.spread / plan.spread_without, 2)
    (2.6, 0.38)
    """
    if not rate > 0.0:
        raise OutOfValidRange("rate", rate, "more than zero")
    if not 0.0 < share < 1.0:
        raise OutOfValidRange("share", share, "more than 0 and less than 1")
    slow = share * rate
    spread = end_spread(config, slow, interval=interval)
    left = 2.0 * config.settling * slow + config.quantile * spread
    return SlowDown(
        left=left,
        share=share,
        rate=slow,
        spread=spread,
        spread_without=end_spread(config, rate, interval=interval),
        longer=left / slow - left / rate,
    )


def end_spread(config: EndpointConfig, rate: float, *, interval: float = 0.2) -> float:
    """Standard deviation of the removal at the end of a run that stops at this rate.

    Parameters
    ----------
    config : EndpointConfig
        The run.
    rate : float [m/s]
        Rate at the stop.
    interval : float [s]
        Time between readings.

    Returns
    -------
    float [m]

    Examples
    --------
    >>> round(end_spread(EndpointConfig(target=50e-6, rate=1.6e-7, latency_spread=1.0), 1.6e-7) * 1e6, 2)
    0.18
    """
    density = wander_density(config.rate_wander * rate, elapsed=math.inf, settling=config.settling)
    variance = config.noise**2 + config.resolution**2 / 12.0
    estimate = steady_variance(interval, density, variance)
    return math.hypot(math.sqrt(estimate), rate * config.latency_spread)
