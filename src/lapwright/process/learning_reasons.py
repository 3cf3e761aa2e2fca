"""Why a rate is predicted as it is: the factors on the library's rate, and where they come from, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.metrology.distributions import student_t_quantile
from lapwright.process.learning_effects import Effect, StartingRate
from lapwright.process.learning_filter import mixed
from lapwright.process.learning_fit import LearnedProcess, members_of_effects

_TOLD: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("this lab's level", ("lab", "material", "abrasive", "combination")),
    ("pressure", ("pressure",)),
    ("speed", ("speed",)),
    ("this station", ("station",)),
    ("this plate", ("plate",)),
    ("this abrasive lot", ("lot",)),
    ("age of pad or dressing", ("pad_loss",)),
    ("age of slurry", ("slurry_loss",)),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RatePart:
    """One reason for a predicted rate: what it is, and the factor it brings [1] with its interval of 90 %."""

    name: str
    factor: float
    low: float
    high: float


def rate_parts(learned: LearnedProcess, effects: Sequence[Effect]) -> tuple[RatePart, ...]:
    """Factors on the library's rate; what has never been met and has no mean is left out.

    Parameters
    ----------
    learned : LearnedProcess
        After all runs.
    effects : sequence of Effect
        Of the run to come.

    Returns
    -------
    tuple of RatePart
    """
    found = []
    for name, kinds in _TOLD:
        mine = [effect for effect in effects if effect.key[0] in kinds]
        if any(effect.key in learned.places or effect.mean for effect in mine):
            found.append(_part(learned, name, mine))
    return tuple(found)


def believed_exponents(learned: LearnedProcess, effects: Sequence[Effect]) -> tuple[float, float]:
    """Exponents of pressure and of speed that are believed after all runs.

    Parameters
    ----------
    learned : LearnedProcess
        After all runs.
    effects : sequence of Effect
        Of the run to come.

    Returns
    -------
    tuple of float [1]
    """
    pressure, speed = (
        1.0 + math.fsum(_mean(learned, effect) for effect in effects if effect.key[0] == name)
        for name in ("pressure", "speed")
    )
    return pressure, speed


def rate_origin(from_library: StartingRate, *, runs: int, lots: int, others: int) -> str:
    """Where a predicted rate comes from, as a sentence.

    Parameters
    ----------
    from_library : StartingRate
        What the library says.
    runs : int
        Own runs of the combination.
    lots : int
        Abrasive lots among them.
    others : int
        Runs of the same process with other combinations.

    Returns
    -------
    str
    """
    if runs == 0:
        moved = f"; moved by {others} of your runs with other combinations" if others else ""
        return f"{from_library.prior.method}{moved}."
    counted = f"From your last {runs} runs" if runs > 1 else "From your one run"
    of_lots = "" if lots == 0 else (", one lot" if lots == 1 else f", {lots} lots")
    earlier = "Before them" if runs > 1 else "Before it"
    return f"{counted}{of_lots}. {earlier}: {from_library.prior.method}."


# ----------------------------------------------------------------------------------------------------------------------


def _mean(learned: LearnedProcess, effect: Effect) -> float:
    place = learned.places.get(effect.key)
    return effect.mean if place is None else float(learned.belief.weight @ learned.belief.mean[:, place])


def _part(learned: LearnedProcess, name: str, effects: Sequence[Effect]) -> RatePart:
    mean, variance = members_of_effects(learned, effects)
    if not variance.max() > 0.0:  # at the row's own pressure, or an age of nothing
        factor = math.exp(float(learned.belief.weight @ mean))
        return RatePart(name=name, factor=factor, low=factor, high=factor)
    found = mixed(learned.belief.weight, mean, variance, 0.0 * variance)
    reach = student_t_quantile(0.95, found.degrees_of_freedom) * found.scale
    return RatePart(
        name=name,
        factor=math.exp(found.mean),
        low=math.exp(found.mean - reach),
        high=math.exp(found.mean + reach),
    )
