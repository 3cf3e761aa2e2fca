"""What could be reached with a ring by somebody who knows the wear law of a simulated plate, beside the advice.

He knows the law with its exponents, its ring and how it yields, but neither how fast this plate wears nor how far the
ring stands off its scale: these he learns from the same checks with the same noise, by running the law itself for each
guess. He takes the place and the time with the best chance of ending within a micrometre.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lapwright.process.plate_course import DomeAt, Leg
from lapwright.sim.plates import STEP, WearingPlate, ran

Dome = Callable[[WearingPlate], float]

_PULLS = np.linspace(-4.2e-3, 4.2e-3, 15)
_ROUNDS = 3  # in which the speed of wear is fitted for each guess of the pull
_NODES = (-1.2, 0.0, 1.2)  # deviations from it that are followed, too
_PULL_PRIOR = 1.5e-3
_WEAR_SPREAD = float(np.log(3.0))
_LEFT_OUT = 0.05  # share of the likeliest guess below which a guess is no longer followed
_TOLERANCE = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Go:
    """Place [m] and time [s] of the best go, and its chance of ending within a micrometre."""

    offset: float
    duration: float
    chance: float


def best_go(new: WearingPlate, course: Sequence[DomeAt], *, places: Sequence[float], longest: float, dome: Dome) -> Go:
    """The best next go for a plate that began as `new` and was checked as in `course`, its law known."""
    legs = [leg for check in course for leg in check.legs]
    found = np.array([check.dome for check in course])
    noise = course[0].dome_uncertainty
    guesses = [
        replace(new, wear=wear, pull=float(pull))
        for pull in _PULLS
        for wear in _wears(replace(new, wear=5e-6 / 3600.0, pull=float(pull)), legs, found, noise, dome)
    ]
    followed = [_along(guess, legs, dome) for guess in guesses]
    told = np.array([domes for _plate, domes in followed])
    log_chance = -0.5 * np.sum(((told - found) / noise) ** 2, axis=1)
    log_chance -= [
        0.5 * (np.log(one.wear * 3600.0 / 5e-6) / _WEAR_SPREAD) ** 2 + 0.5 * (one.pull / _PULL_PRIOR) ** 2
        for one in guesses
    ]
    chance = np.exp(log_chance - log_chance.max())
    kept = np.flatnonzero(chance > _LEFT_OUT)
    weights = chance[kept] / chance[kept].sum()
    plates = [followed[one][0] for one in kept]
    best = Go(offset=places[0], duration=0.0, chance=-1.0)
    for place in places:
        inside = weights @ (np.abs([_course_of(plate, place, longest, dome) for plate in plates]) <= _TOLERANCE)
        step = int(np.argmax(inside))
        if inside[step] > best.chance:
            best = Go(offset=place, duration=(step + 1) * STEP / 2.0, chance=float(inside[step]))
    return best


# ----------------------------------------------------------------------------------------------------------------------


def _wears(
    guess: WearingPlate, legs: Sequence[Leg], found: NDArray[np.float64], noise: float, dome: Dome
) -> tuple[float, ...]:
    """Speeds of wear that fit the checks for a guess of the pull: the likeliest and one to either side [m/s]."""
    wear, doubt = guess.wear, 0.3
    for _ in range(_ROUNDS):
        told = np.array(_along(replace(guess, wear=wear), legs, dome)[1])
        square = float(np.sum(told**2))
        wear *= float(np.clip(np.sum(told * found) / max(square, noise**2), 0.3, 3.0))
        doubt = min(0.3, noise / max(square, noise**2) ** 0.5)
    return tuple(wear * (1.0 + doubt * node) for node in _NODES)


def _along(plate: WearingPlate, legs: Sequence[Leg], dome: Dome) -> tuple[WearingPlate, list[float]]:
    domes = [dome(plate)]
    for leg in legs:
        plate = ran(plate, offset=leg.offset, time=leg.duration, ratio=leg.speed_ratio)
        domes.append(dome(plate))
    return plate, domes


def _course_of(plate: WearingPlate, place: float, longest: float, dome: Dome) -> NDArray[np.float64]:
    """Its dome every half step with the ring at a place; between the steps of the simulation taken straight."""
    domes = [dome(plate)]
    for _ in range(round(longest / STEP)):
        plate = ran(plate, offset=place, time=STEP)
        domes.append(dome(plate))
    steps = np.arange(1, 2 * len(domes) - 1) / 2.0
    return np.asarray(np.interp(steps, np.arange(len(domes)), domes), dtype=np.float64)
