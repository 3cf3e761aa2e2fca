"""A reading from outside held against the running estimate: a check thickness in mid-run, or after it.

The gauge on the jig rides on its foot and on the slurry film. Foot wear, film and warming enter its readings one to one
and cannot be told from removal by the stream alone; a thickness measured otherwise tells them apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from lapwright.errors import OutOfValidRange
from lapwright.process.endpoint import EndpointState, judge
from lapwright.process.endpoint_faults import note_fault

SURE = 3.0  # standard uncertainties from which a difference is a bias


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedEstimate:
    """What a check reading said: the estimate against it, and their difference, check less gauge. SI."""

    state: EndpointState
    difference: float
    difference_uncertainty: float
    is_biased: bool


def checked_estimate(state: EndpointState, at: float, *, removal: float, uncertainty: float) -> CheckedEstimate:
    """The running estimate moved by a removal that was measured otherwise.

    Parameters
    ----------
    state : EndpointState
        The running estimate; it is changed in place. A bias that is certain is noted as a fault.
    at : float [s]
        Time of the check, not before the last reading; the plate stands meanwhile.
    removal : float [m]
        Removal by the check: a thickness before less a thickness now.
    uncertainty : float [m]
        Its standard uncertainty, above zero.

    Returns
    -------
    CheckedEstimate

    Raises
    ------
    OutOfValidRange
        The uncertainty is not above zero.

    Notes
    -----
    Check and estimate are weighed by their variances; the gauge's later readings are moved by the same length. A
    difference beyond three standard uncertainties is `gauge.foot_wear` when the gauge read too little and `gauge.drift`
    when it read too much.

    Examples
    --------
    >>> from lapwright.process.endpoint import EndpointConfig, start
    >>> state = start(EndpointConfig(target=20e-6, rate=1e-7, zero_uncertainty=2e-6), at=0.0)
    >>> checked = checked_estimate(state, 1.0, removal=3.1e-6, uncertainty=0.5e-6)
    >>> round(checked.difference * 1e6, 2), checked.is_biased
    (3.0, False)
    """
    if not uncertainty > 0.0:
        raise OutOfValidRange("uncertainty", uncertainty, "more than zero")
    now = judge(state, at)
    difference = removal - now.removed
    doubt = math.hypot(uncertainty, now.removed_uncertainty)
    is_biased = abs(difference) > SURE * doubt
    weight = now.removed_uncertainty**2 / doubt**2
    state.removed = now.removed + weight * difference
    state.time = max(state.time, at)
    state.offset += weight * difference
    state.p11 *= 1.0 - weight
    state.p12 *= 1.0 - weight
    state.config = replace(state.config, zero_uncertainty=math.sqrt(weight) * uncertainty, drift_limit=0.0)
    if is_biased:
        note_fault(state.stream, *_bias(difference, at))
    return CheckedEstimate(state=state, difference=difference, difference_uncertainty=doubt, is_biased=is_biased)


# ----------------------------------------------------------------------------------------------------------------------


def _bias(difference: float, at: float) -> tuple[str, float, str]:
    size = f"{abs(difference) * 1e6:.1f} µm"
    code, sentence = (
        "gauge.drift",
        (
            f"The check says {size} less was removed than the gauge shows: it drifts, or the jig is warming. "
            "Let it warm through, then zero again."
        ),
    )
    if difference > 0.0:
        code, sentence = (
            "gauge.foot_wear",
            (
                f"The check says {size} more was removed than the gauge shows: its foot wears, or a film lifts it. "
                "Look at the foot, then zero again."
            ),
        )
    return code, at, sentence
