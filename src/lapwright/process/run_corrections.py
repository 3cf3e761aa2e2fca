"""What to change before the next run, from how the last ones missed: stops, tilts and transferred wedges.

An exponentially weighted mean of the misses is taken out of the next setting, in steps no larger than allowed. The
result is a suggestion with its reason; nothing is changed by it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from lapwright.errors import OutOfValidRange
from lapwright.metrology.run_to_run import RunController, controller_stability, updated_controller

#: Weight of the newest run: a planted shift is down to 0.4^3 = 6 % after three runs (own choice).
NEWEST_WEIGHT = 0.6
LEAST_MISSES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class SuggestedChange:
    """A change to the next setting: `change` [unit of the misses] to add to what would otherwise be set.

    `miss` is the running mean of the misses with its standard deviation, `wanted` the whole change it asks for;
    `is_shortened` says that the step was cut to the largest allowed; `runs` how many misses speak. `is_worth_it` is
    False while the miss cannot be told from none, and then `change` is 0. `sentence` says it to a person.
    """

    change: float
    wanted: float
    miss: float
    miss_deviation: float
    is_shortened: bool
    is_worth_it: bool
    runs: int
    sentence: str


def suggested_change(
    misses: Sequence[float], *, applied: float = 0.0, largest_step: float = math.inf, weight: float = NEWEST_WEIGHT
) -> SuggestedChange:
    r"""Change to the next setting that takes out what the last runs missed by.

    Parameters
    ----------
    misses : sequence of float [m]
        Outcome less what was wanted, without any correction in it, in the order worked.
    applied : float [m]
        Correction that is set now.
    largest_step : float [m]
        Largest change of the correction from one run to the next, above zero.
    weight : float, 0 < weight <= 1 [1]
        Weight of the newest run once there are more than 1/weight of them; before, all weigh the same.

    Returns
    -------
    SuggestedChange

    Raises
    ------
    OutOfValidRange
        A weight outside (0, 1] or a step not above zero.

    Notes
    -----
    .. math:: a_t = \lambda y_t + (1 - \lambda) a_{t-1}, \quad \lambda_t = \max(\lambda, 1/t)

    Worth a change when the running mean lies two of its standard deviations from none; scatter from the differences
    of neighbouring misses, so that a shift does not count as scatter.

    References
    ----------
    .. [1] A. Ingolfsson, E. Sachs, J. Qual. Technol. 25 (1993) 271. Key ``ingolfsson1993``.

    Examples
    --------
    >>> found = suggested_change([1.9e-6, 2.1e-6, 2.0e-6])
    >>> round(found.change * 1e6, 1), found.is_worth_it
    (-2.0, True)
    """
    if not largest_step > 0.0:
        raise OutOfValidRange("largest_step", largest_step, "more than zero")
    steady = controller_stability(weight).noise_gain  # refuses a weight outside (0, 1]
    if len(misses) < LEAST_MISSES:
        sentence = f"{len(misses)} runs are known; a correction needs {LEAST_MISSES}."
        return SuggestedChange(change=0.0, wanted=0.0, miss=0.0, miss_deviation=math.nan, is_shortened=False,
                               is_worth_it=False, runs=len(misses), sentence=sentence)  # fmt: skip
    controller = RunController(slope=1.0, offset=0.0, target=0.0, weight=1.0)
    for number, miss in enumerate(misses, start=1):
        newest = RunController(slope=1.0, offset=controller.offset, target=0.0, weight=max(weight, 1.0 / number))
        controller = updated_controller(newest, setting=0.0, outcome=miss)
    gain = max((steady or 2.0) - 1.0, 1.0 / len(misses))
    deviation = _scatter(misses) * math.sqrt(gain)
    is_worth_it = abs(controller.offset) > 2.0 * deviation
    wanted = -controller.offset - applied if is_worth_it else 0.0
    change = math.copysign(min(abs(wanted), largest_step), wanted)
    is_shortened = abs(wanted) > largest_step
    return SuggestedChange(
        change=change,
        wanted=wanted,
        miss=controller.offset,
        miss_deviation=deviation,
        is_shortened=is_shortened,
        is_worth_it=is_worth_it,
        runs=len(misses),
        sentence=_sentence(controller.offset, deviation, change, len(misses), is_worth_it, is_shortened),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _scatter(misses: Sequence[float]) -> float:
    """Standard deviation of a run from the differences of neighbours: median over 0.954, blind to one step."""
    steps = sorted(abs(after - before) for before, after in pairwise(misses))
    middle = len(steps) // 2
    median = steps[middle] if len(steps) % 2 else 0.5 * (steps[middle - 1] + steps[middle])
    return median / 0.9538725524  # median of |N(0, 2 s²)| is 0.6744898 * sqrt(2) * s


def _sentence(miss: float, deviation: float, change: float, runs: int, is_worth_it: bool, is_shortened: bool) -> str:  # noqa: FBT001
    told = f"The last {runs} runs missed by {miss * 1e6:+.1f} µm (± {2.0 * deviation * 1e6:.1f} µm)"
    if not is_worth_it:
        return f"{told}, which is no more than their scatter: change nothing."
    cut = ", cut to the largest step allowed" if is_shortened else ""
    return f"{told}: a change of {change * 1e6:+.1f} µm is suggested{cut}."
