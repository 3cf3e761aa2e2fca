"""After a run: what was really removed against what the gauge said and what was wanted."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from lapwright.errors import OutOfValidRange

Means = Literal["gauge", "weighing", "clock"]
SURE = 2.0  # standard uncertainties beyond which a difference is told as a bias


@dataclass(frozen=True, slots=True, kw_only=True)
class Thickness:
    """A measured thickness and its standard uncertainty [m]."""

    value: float
    uncertainty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reconciliation:
    """A run looked back on. SI.

    `removed` is the thickness before less after; `gauge_bias` what the gauge (or the weighing, or the clock, as `means`
    says) told too much, below zero: too little; `bias_share` the same as a share of the removal; `stop_error` the
    removal less what was wanted; `rate` the mean rate. `is_biased` says whether the bias is more than its uncertainty
    explains.
    """

    removed: float
    removed_uncertainty: float
    gauge_bias: float
    gauge_bias_uncertainty: float
    bias_share: float
    is_biased: bool
    stop_error: float
    predicted_error: float | None
    rate: float
    sentence: str
    means: Means = "gauge"


def reconciliation(
    before: Thickness,
    after: Thickness,
    gauge: Thickness,
    *,
    wanted: float,
    time: float,
    predicted_rate: float | None = None,
    means: Means = "gauge",
) -> Reconciliation:
    """A run's removal by thickness against the gauge in process, the target and the plan.

    Parameters
    ----------
    before : Thickness
        Thickness before the run.
    after : Thickness
        Thickness after it.
    gauge : Thickness
        Removal that the gauge in process gave at the end, with the uncertainty of the estimate; for a run by the clock
        what weighing or the rate says.
    wanted : float [m]
        Removal that was wanted.
    time : float [s]
        How long the plate cut, above zero.
    predicted_rate : float or None [m/s]
        Rate that the plan expected.
    means : 'gauge', 'weighing' or 'clock'
        Where `gauge` comes from.

    Returns
    -------
    Reconciliation

    Raises
    ------
    OutOfValidRange
        A time not above zero.

    Notes
    -----
    The uncertainties add as squares; before and after share a gauge, so that a deviation common to both cancels and
    must not stand in their uncertainties.

    Examples
    --------
    >>> run = reconciliation(
    ...     Thickness(value=500e-6, uncertainty=0.2e-6),
    ...     Thickness(value=397e-6, uncertainty=0.2e-6),
    ...     Thickness(value=100e-6, uncertainty=0.1e-6),
    ...     wanted=100e-6,
    ...     time=3000.0,
    ... )
    >>> round(run.gauge_bias * 1e6, 1), run.is_biased, round(run.stop_error * 1e6, 1)
    (-3.0, True, 3.0)
    """
    if not time > 0.0:
        raise OutOfValidRange("time", time, "more than zero")
    removed = before.value - after.value
    doubt = math.hypot(before.uncertainty, after.uncertainty)
    bias = gauge.value - removed
    bias_doubt = math.hypot(doubt, gauge.uncertainty)
    is_biased = abs(bias) > SURE * bias_doubt
    return Reconciliation(
        removed=removed,
        removed_uncertainty=doubt,
        gauge_bias=bias,
        gauge_bias_uncertainty=bias_doubt,
        bias_share=bias / removed if removed > 0.0 else math.nan,
        is_biased=is_biased,
        stop_error=removed - wanted,
        predicted_error=None if predicted_rate is None else removed - predicted_rate * time,
        rate=removed / time,
        sentence=_sentence(bias, bias_doubt, is_biased=is_biased, means=means),
        means=means,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _sentence(bias: float, doubt: float, *, is_biased: bool, means: Means) -> str:
    digits = 1 if doubt > 0.05e-6 else 3
    size = f"{abs(bias) * 1e6:.{digits}f} µm (± {2.0 * doubt * 1e6:.{digits}f} µm)"
    if not is_biased:
        return f"{_NAMES[means]} and the thickness agree within their uncertainty; they differ by {size}."
    if means == "clock":
        quick = "more" if bias < 0.0 else "less"
        return (
            f"The thickness says {size} {quick} than the clock let expect. The next time is worked out from this run."
        )
    if means == "weighing":
        side = "less" if bias < 0.0 else "more"
        return (
            f"By weighing {size} {side} was removed than by the thickness. "
            "Look for slurry, wax or water on the pieces, and at the zero of both."
        )
    if bias < 0.0:
        return (
            f"The gauge in process read {size} too little: its foot wore, or a film lifted it. "
            "Look at the foot; the next preset takes the share into account once it is confirmed."
        )
    return (
        f"The gauge in process read {size} too much: it drifted or the jig warmed. "
        "Zero it warm and running before the next run."
    )


_NAMES: dict[Means, str] = {
    "gauge": "The gauge in process",
    "weighing": "Weighing",
    "clock": "What the clock let expect",
}
