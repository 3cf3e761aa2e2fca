"""What the endpoint is told, what it carries from reading to reading, and what it answers."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import normal_quantile
from lapwright.process.endpoint_bends import Blocks
from lapwright.process.endpoint_faults import Fault, StreamFaults

Advice = Literal["run", "stop_now", "stop_fault"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EndpointConfig:
    """What is known before the run starts. SI.

    Attributes
    ----------
    target : removal wanted at the gauge, above zero [m]
    rate : rate the plan expects, above zero [m/s]
    rate_band : factor by which the rate may differ either way at the start, above one [1]
    latency : time from asking for the stop to no more removal [s]
    latency_spread : standard uncertainty of the latency [s]
    noise : standard deviation of one reading before rounding, first guess [m]
    resolution : smallest step of the gauge [m]
    rate_wander : relative standard deviation by which the rate changes in one minute [1]
    settling : time in which a run finds its rate [s]
    over_to_under : cost of one metre too much against one metre too little [1]
    zero_uncertainty : standard uncertainty of the zero [m]
    drift_limit : largest drift of the gauge during the run that cannot be told from removal [m]
    foot_wear : share of the removal by which the gauge reads too little, known and corrected [1]
    foot_wear_uncertainty : standard uncertainty of that share [1]
    stale : silence after which the run is stopped [s]
    quantile : of the normal distribution, at which the margin stands; follows from `over_to_under` [1]
    """

    target: float
    rate: float
    rate_band: float = 3.0
    latency: float = 1.0
    latency_spread: float = 0.1
    noise: float = 0.5e-6
    resolution: float = 1.0e-6
    rate_wander: float = 0.05
    settling: float = 30.0
    over_to_under: float = 1000.0
    zero_uncertainty: float = 0.0
    drift_limit: float = 0.0
    foot_wear: float = 0.0
    foot_wear_uncertainty: float = 0.0
    stale: float = 5.0
    quantile: float = field(init=False, repr=False)

    def __post_init__(self) -> None:
        for name in ("target", "rate", "stale", "over_to_under"):
            if not (math.isfinite(getattr(self, name)) and getattr(self, name) > 0.0):
                raise OutOfValidRange(name, getattr(self, name), "a finite value above zero")
        if self.rate_band <= 1.0:
            raise OutOfValidRange("rate_band", self.rate_band, "more than 1")
        if not 0.0 <= self.foot_wear < 1.0:
            raise OutOfValidRange("foot_wear", self.foot_wear, "0 or more and less than 1")
        object.__setattr__(self, "quantile", -normal_quantile(1.0 / (1.0 + self.over_to_under)))


@dataclass(frozen=True, slots=True, kw_only=True)
class EndpointDecision:
    """What to do now, and the numbers behind it. SI; times left are None while they cannot be told."""

    advice: Advice
    at: float
    removed: float
    removed_uncertainty: float
    rate: float
    rate_uncertainty: float
    time_left: float | None
    time_left_low: float | None
    time_left_high: float | None
    chance_over_target: float
    margin: float
    faults: tuple[Fault, ...]


@dataclass(slots=True)
class EndpointState:
    """The running estimate. It is changed in place by `update`; copy it to keep an earlier one."""

    config: EndpointConfig
    started: float
    rate_since: float
    time: float
    removed: float
    rate: float
    p11: float
    p12: float
    p22: float
    density: float
    cut_time: float
    variance: float
    jitter: float
    leaps: float
    noise_weight: float
    scatter: float
    quiet: float
    steady: float
    readings: int
    gaps: int
    offset: float
    film_unknown: bool
    stream: StreamFaults = field(repr=False)
    blocks: Blocks = field(repr=False)
