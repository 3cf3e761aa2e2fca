"""Correcting a process from run to run: an exponentially weighted estimate of its offset sets the next run.

Model: outcome = offset + slope × setting. Only the offset is learned; the slope is given. The controller proposes, it
does not act: a step that was shortened says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from lapwright.errors import OutOfValidRange


@dataclass(frozen=True, slots=True, kw_only=True)
class RunController:
    """What is believed of a process: `offset` and `slope` of outcome over setting, target, weight of the last run."""

    slope: float
    offset: float
    target: float
    weight: float

    def __post_init__(self) -> None:
        if not 0.0 < self.weight <= 1.0:
            raise OutOfValidRange("weight", self.weight, "more than 0 and at most 1")
        if self.slope == 0.0 or not math.isfinite(self.slope):
            raise OutOfValidRange("slope", self.slope, "a finite number other than zero")


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposedSetting:
    """Setting proposed for the next run, the one wanted, and whether the step was shortened to the largest allowed."""

    setting: float
    wanted: float
    is_shortened: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ControllerStability:
    """How a controller behaves when the true slope is `slope_ratio` times the one it believes in.

    `largest_ratio` is the slope ratio at which it becomes unstable. `noise_gain` is the variance of the outcome over
    that of the process noise, `drift_gain` the lasting error per unit of drift a run; both None when unstable.
    """

    is_stable: bool
    largest_ratio: float
    noise_gain: float | None
    drift_gain: float | None


def updated_controller(controller: RunController, *, setting: float, outcome: float) -> RunController:
    r"""Controller after one more run.

    Parameters
    ----------
    controller : RunController
        What was believed before.
    setting : float [unit of the setting]
        Setting of the run.
    outcome : float [unit of the outcome]
        What came out.

    Returns
    -------
    RunController

    Raises
    ------
    OutOfValidRange
        A setting or outcome that is not finite.

    Notes
    -----
    .. math:: a_t = \lambda (y_t - b u_t) + (1 - \lambda) a_{t-1}

    References
    ----------
    .. [1] A. Ingolfsson, E. Sachs, J. Qual. Technol. 25 (1993) 271. Key ``ingolfsson1993``.

    Examples
    --------
    >>> before = RunController(slope=2.0, offset=1.0, target=9.0, weight=0.5)
    >>> updated_controller(before, setting=4.0, outcome=10.0).offset
    1.5
    """
    for name, number in (("setting", setting), ("outcome", outcome)):
        if not math.isfinite(number):
            raise OutOfValidRange(name, number, "a finite number")
    seen = outcome - controller.slope * setting
    return replace(controller, offset=controller.weight * seen + (1.0 - controller.weight) * controller.offset)


def proposed_setting(
    controller: RunController, *, setting: float | None = None, largest_step: float = math.inf
) -> ProposedSetting:
    """Setting that should bring the next run to the target, shortened to the largest step allowed.

    Parameters
    ----------
    controller : RunController
        What is believed.
    setting : float, optional [unit of the setting]
        The present setting; needed for a largest step.
    largest_step : float [unit of the setting]
        Largest change from one run to the next, above zero.

    Returns
    -------
    ProposedSetting

    Raises
    ------
    OutOfValidRange
        A largest step not above zero.

    Examples
    --------
    >>> controller = RunController(slope=2.0, offset=1.0, target=9.0, weight=0.5)
    >>> proposed_setting(controller).setting, proposed_setting(controller, setting=1.0, largest_step=0.5).setting
    (4.0, 1.5)
    """
    if not largest_step > 0.0:
        raise OutOfValidRange("largest_step", largest_step, "more than zero")
    wanted = (controller.target - controller.offset) / controller.slope
    if setting is None or abs(wanted - setting) <= largest_step:
        return ProposedSetting(setting=wanted, wanted=wanted, is_shortened=False, reason="Brings the run to target.")
    held = setting + math.copysign(largest_step, wanted - setting)
    reason = f"The step wanted, {wanted - setting:+.4g}, is cut to the largest allowed, {largest_step:.4g}."
    return ProposedSetting(setting=held, wanted=wanted, is_shortened=True, reason=reason)


def controller_stability(weight: float, *, slope_ratio: float = 1.0) -> ControllerStability:
    r"""Whether a controller settles, and how much noise and drift it passes on.

    Parameters
    ----------
    weight : float [1]
        λ, more than 0 and at most 1.
    slope_ratio : float [1]
        ξ, true slope over the one believed.

    Returns
    -------
    ControllerStability

    Raises
    ------
    OutOfValidRange
        A weight outside (0, 1].

    Notes
    -----
    Stable for :math:`0 < \lambda\xi < 2`; white noise comes out with :math:`2/(2 - \lambda\xi)` of its variance, a
    drift δ a run leaves :math:`\delta/(\lambda\xi)`.

    References
    ----------
    .. [1] A. Ingolfsson, E. Sachs, J. Qual. Technol. 25 (1993) 271. Key ``ingolfsson1993``.

    Examples
    --------
    >>> found = controller_stability(0.3)
    >>> round(found.noise_gain, 6), round(0.1 * found.drift_gain, 6)
    (1.176471, 0.333333)
    """
    if not 0.0 < weight <= 1.0:
        raise OutOfValidRange("weight", weight, "more than 0 and at most 1")
    gain = weight * slope_ratio
    is_stable = 0.0 < gain < 2.0
    return ControllerStability(
        is_stable=is_stable,
        largest_ratio=2.0 / weight,
        noise_gain=2.0 / (2.0 - gain) if is_stable else None,
        drift_gain=1.0 / gain if is_stable else None,
    )
