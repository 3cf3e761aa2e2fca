"""Slow drift of a length gauge with temperature, told apart from removal.

The gauge shows removal plus (drift per kelvin) × (temperature − temperature at the zero). A temperature that only rises
along with the removal cannot tell the two apart; a standstill, or a temperature that comes and goes, can.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from lapwright.process.endpoint import EndpointState, update
from lapwright.process.endpoint_filter import spread_ahead


@dataclass(slots=True)
class DriftState:
    """Running estimate of removal x, rate r and drift c, with the covariance of the three; changed in place."""

    time: float
    removed: float
    rate: float
    drift: float
    p: list[float]  # xx, xr, rr, xc, rc, cc
    variance: float

    @property
    def drift_uncertainty(self) -> float:
        """Standard uncertainty of the drift [m/K]."""
        return math.sqrt(self.p[5])


def start_drift(state: EndpointState, *, drift: float = 0.0, drift_uncertainty: float = 1.0e-6) -> DriftState:
    """The estimate of drift beside a run that has just started.

    Parameters
    ----------
    state : EndpointState
        The run at its zero.
    drift : float [m/K]
        Drift per kelvin believed so far, from earlier runs or from the expansion of the jig.
    drift_uncertainty : float [m/K]
        Its standard uncertainty.

    Returns
    -------
    DriftState

    Examples
    --------
    >>> from lapwright.process.endpoint import EndpointConfig, start
    >>> start_drift(start(EndpointConfig(target=20e-6, rate=1e-7), at=0.0)).drift
    0.0
    """
    return DriftState(
        time=state.time,
        removed=state.removed,
        rate=state.rate,
        drift=drift,
        p=[state.p11, state.p12, state.p22, 0.0, 0.0, drift_uncertainty**2],
        variance=state.variance,
    )


def update_drift(
    drift: DriftState, time: float, length: float, *, warming: float, density: float, is_cutting: bool = True
) -> DriftState:
    """Estimate of removal, rate and drift after one more reading.

    Parameters
    ----------
    drift : DriftState
        The estimate so far; it is changed in place and returned.
    time : float [s]
        Time of the reading.
    length : float [m]
        Removal that the gauge shows, from its zero.
    warming : float [K]
        Temperature now less that at the zero.
    density : float [m²/s³]
        Density of the wander of the rate.
    is_cutting : bool
        False while the plate stands: the removal stays, and what the gauge shows moving is drift.

    Returns
    -------
    DriftState

    Notes
    -----
    A Kalman filter of three states; the reading is x + c·ΔT + noise.

    Examples
    --------
    >>> from lapwright.process.endpoint import EndpointConfig, start
    >>> state = start_drift(start(EndpointConfig(target=20e-6, rate=1e-7), at=0.0))
    >>> for step in range(1, 301):
    ...     warming = 0.01 * step
    ...     _ = update_drift(state, 0.2 * step, 0.6e-6 * warming, warming=warming, density=0.0, is_cutting=False)
    >>> round(state.drift * 1e6, 1)
    0.6
    """
    step = max(0.0, time - drift.time)
    drift.time = time
    xx, xr, rr, xc, rc, cc = drift.p
    if is_cutting:
        drift.removed += drift.rate * step
        xx, xr, rr = spread_ahead(xx, xr, rr, step, density)
        xc += step * rc
    deviation = length - drift.removed - drift.drift * warming
    hx, hr, hc = xx + warming * xc, xr + warming * rc, xc + warming * cc
    total = hx + warming * hc + drift.variance
    kx, kr, kc = hx / total, hr / total, hc / total
    drift.removed += kx * deviation
    drift.rate += kr * deviation
    drift.drift += kc * deviation
    drift.p = [xx - kx * hx, xr - kx * hr, rr - kr * hr, xc - kx * hc, rc - kr * hc, cc - kc * hc]
    return drift


def drift_in_standstill(warming: Sequence[float], lengths: Sequence[float], noise: float) -> tuple[float, float]:
    """Drift per kelvin from readings while nothing is cut, and its standard uncertainty.

    Parameters
    ----------
    warming : float sequence, length n [K]
        Temperature at each reading less that at the zero.
    lengths : float sequence, length n [m]
        What the gauge showed.
    noise : float [m]
        Standard deviation of one reading.

    Returns
    -------
    (float, float) [m/K]
        Slope of a fitted line and its standard uncertainty; infinite when the temperature stood still.

    Examples
    --------
    >>> slope, _ = drift_in_standstill([0.0, 1.0, 2.0], [0.0, 0.6e-6, 1.2e-6], 1e-7)
    >>> round(slope * 1e6, 3)
    0.6
    """
    count = len(warming)
    middle = math.fsum(warming) / count
    spread = math.fsum((value - middle) ** 2 for value in warming)
    if spread == 0.0:
        return 0.0, math.inf
    slope = math.fsum((value - middle) * length for value, length in zip(warming, lengths, strict=True)) / spread
    return slope, noise / math.sqrt(spread)


def update_with_warming(
    state: EndpointState, drift: DriftState, time: float, length: float, *, warming: float, is_cutting: bool = True
) -> EndpointState:
    """State of a run after a reading whose drift is taken off by the estimate beside it.

    Parameters
    ----------
    state : EndpointState
        The state so far; it is changed in place and returned.
    drift : DriftState
        The estimate of drift beside it; changed in place.
    time : float [s]
        Time of the reading.
    length : float [m]
        Removal that the gauge shows, from its zero.
    warming : float [K]
        Temperature now less that at the zero.
    is_cutting : bool
        False while the plate stands; the run's own estimate then waits.

    Returns
    -------
    EndpointState

    Notes
    -----
    What is not known of the drift, |ΔT| times its standard uncertainty, becomes the run's `drift_limit` (as a standard
    deviation: √3 times as wide), so that margin and interval hold it.

    Examples
    --------
    >>> from lapwright.process.endpoint import EndpointConfig, start
    >>> state = start(EndpointConfig(target=20e-6, rate=1e-7), at=0.0)
    >>> beside = start_drift(state, drift=0.6e-6, drift_uncertainty=1e-9)
    >>> round(update_with_warming(state, beside, 60.0, 7.2e-6, warming=2.0).removed * 1e6, 1)
    6.0
    """
    drift.variance = state.variance
    update_drift(drift, time, length, warming=warming, density=state.density, is_cutting=is_cutting)
    if not is_cutting:
        state.time = max(state.time, time)
        return state
    unknown = abs(warming) * drift.drift_uncertainty
    state.config = replace(state.config, drift_limit=math.sqrt(3.0) * unknown)
    return update(state, time, length - drift.drift * warming)
