"""How much of its rate a pad or a dressed plate has lost, and how long until it should be replaced or dressed.

The loss comes from the rate model: what age has taught of its kind, and the level of this very piece. Left out: the
run-in of a new pad, groove depth, and what a pad does to the form.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import student_t_quantile
from lapwright.process.learning import RateModel
from lapwright.process.learning_effects import HOUR, Effect, RunConditions, effects_of, starting_rate
from lapwright.process.learning_filter import LogPrediction, mixed
from lapwright.process.learning_fit import LearnedProcess, members_of_effects

#: Share of the new rate at which a pad is given up (common practice, no source: a loss of 20-50 % asks for dressing).
GIVE_UP = 0.7
LEAST_RUNS = 3

LifeAdvice = Literal["use", "soon", "replace", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PadLife:
    """What is left of a pad: its rate as a share of the new one [1] with 90 % interval, and the time left [s].

    `time_left` is until the share falls to `give_up`; its ends are None where the loss may as well be none. `runs` is
    how many runs of this piece speak; under three the advice is "unknown".
    """

    share: float
    share_low: float
    share_high: float
    time_left: float | None
    time_left_low: float | None
    time_left_high: float | None
    give_up: float
    runs: int
    advice: LifeAdvice
    sentence: str


def pad_life(
    model: RateModel, conditions: RunConditions, *, give_up: float = GIVE_UP, soon: float = 4 * HOUR
) -> PadLife:
    r"""What is left of a pad, or of a plate since it was dressed.

    Parameters
    ----------
    model : RateModel
        Library and past runs.
    conditions : RunConditions
        With `pad_age` and the name of the piece.
    give_up : float, 0 < give_up < 1 [1]
        Share of the new rate at which it is replaced or dressed.
    soon : float [s]
        Time left under which the advice is to get a new one ready.

    Returns
    -------
    PadLife

    Raises
    ------
    OutOfValidRange
        No pad age, or `give_up` outside (0, 1).

    Notes
    -----
    .. math:: s = \exp(-\theta a + \ell), \quad t_\mathrm{left} = (\ln s - \ln s_\mathrm{give\ up}) / \theta

    with the loss θ an hour, the age a and the level ℓ of this piece among its like.
    """
    if conditions.pad_age is None:
        raise OutOfValidRange("pad_age", math.nan, "the time worked since new or dressed")
    if not 0.0 < give_up < 1.0:
        raise OutOfValidRange("give_up", give_up, "more than 0 and less than 1")
    from_library = starting_rate(model.library, conditions)
    learned = model.learned[from_library.process]
    effects = effects_of(model.library, conditions, from_library)
    aged = [effect for effect in effects if effect.key[0] in ("pad_loss", "plate")]
    share = _sum_of(learned, aged)
    loss = _sum_of(learned, [Effect(key=one.key, loading=1.0, mean=one.mean, deviation=one.deviation)
                             for one in aged if one.key[0] == "pad_loss"])  # fmt: skip
    runs = sum(
        (check.run.conditions.plate, check.run.conditions.plate_piece) == (conditions.plate, conditions.plate_piece)
        for check in learned.checks
    )
    reach = student_t_quantile(0.95, share.degrees_of_freedom) * share.scale
    slope_reach = student_t_quantile(0.95, loss.degrees_of_freedom) * loss.scale
    above = share.mean - math.log(give_up)
    left = _until(above, loss.mean)
    advice = _advice(runs, above, left, soon)
    return PadLife(
        share=math.exp(share.mean),
        share_low=math.exp(share.mean - reach),
        share_high=math.exp(share.mean + reach),
        time_left=left,
        time_left_low=_until(above - reach, loss.mean + slope_reach),
        time_left_high=_until(above + reach, loss.mean - slope_reach),
        give_up=give_up,
        runs=runs,
        advice=advice,
        sentence=_sentence(advice, math.exp(share.mean), left, give_up),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _sum_of(learned: LearnedProcess, effects: list[Effect]) -> LogPrediction:
    mean, variance = members_of_effects(learned, effects)
    return mixed(learned.belief.weight, mean, variance, 0.0 * variance)


def _until(above: float, loss: float) -> float | None:
    """Time [s] until a logarithm `above` the limit is used up at a loss an hour; None when it never is."""
    if above <= 0.0:
        return 0.0
    return above / loss * HOUR if loss > 0.0 else None


def _advice(runs: int, above: float, left: float | None, soon: float) -> LifeAdvice:
    if runs < LEAST_RUNS:
        return "unknown"
    if above <= 0.0:
        return "replace"
    return "soon" if left is not None and left < soon else "use"


def _sentence(advice: LifeAdvice, share: float, left: float | None, give_up: float) -> str:
    now = f"It works at {share:.0%} of its rate when new"
    if advice == "unknown":
        return f"Fewer than {LEAST_RUNS} runs of this piece are known; its loss is that of its kind."
    if advice == "replace":
        return f"{now}, below the {give_up:.0%} at which it is given up: replace or dress it."
    hours = "" if left is None else f"; about {left / HOUR:.0f} h left until {give_up:.0%}"
    return f"{now}{hours}." + (" Get a new one ready." if advice == "soon" else "")
