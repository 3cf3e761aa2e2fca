"""Where to set the ring, and for how long, so that a plate comes back true.

What is known of the plate's wear comes from its own checks (`wear_learning`); until there are any, a wide prior stands
in, and the advice says how little it knows. Advice is for one go: run, look again, and the next advice knows more.
Never chase below what the check can see.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.process.wear_learning import LAW_DOUBT, LearnedWear, RingSetup, trend_at, wear_trends

Floats = NDArray[np.float64]
AdviceKind = Literal["leave", "condition", "dress"]

_FAR_DOUBT = 10.0  # 1/m, what the law leaves out more for each metre from the nearest place seen (1 % a millimetre)
_CAUTION = 0.3  # of the variance of the learned rate, how much of it shortens a go (own judgement)
_TIME_WORTH = 0.3e-6 / 3600.0  # m/s: an hour of conditioning is worth 0.3 µm of doubt (own judgement)
_NINETY = 1.6448536269514722  # deviations of a normal distribution that hold 90 %
_TOLD_WELL = 20.0  # uncertainties of a change from which it is told well
_LEAST_TIME, _LONGEST_TIME = 600.0, 4.0 * 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RingAdvice:
    """What to do about a plate's shape.

    `leave`: true enough. `condition`: set the ring to `offset` [m], which is `move` from where it is (outward
    positive), run for `duration` [s], then set it to `offset_after` and look again; the dome is then expected at
    `expected_dome`, the middle of its 90 % interval, whose half is 1.645 times `expected_uncertainty`. `dress`: no
    place of the ring brings it back in four hours.
    `neutral_ratio` is the speed ratio at which the ring could stay where it is, None when there is none up to 2.
    """

    kind: AdviceKind
    offset: float
    move: float
    duration: float
    offset_after: float
    expected_dome: float
    expected_uncertainty: float
    neutral_ratio: float | None
    sentences: tuple[str, ...]


def ring_advice(
    dome: float, dome_uncertainty: float, learned: LearnedWear, setup: RingSetup, *, dome_limit: float
) -> RingAdvice:
    r"""Place and time of the ring that bring a plate back to flat, or that it is true enough, or must be dressed.

    Parameters
    ----------
    dome : float [m]
        Of the plate now, domed positive.
    dome_uncertainty : float [m]
        Its standard uncertainty, more than zero.
    learned : LearnedWear
        What its checks say of its wear.
    setup : RingSetup
        Land, ring, and where it can be set.
    dome_limit : float [m]
        Largest dome allowed, more than zero.

    Returns
    -------
    RingAdvice

    Raises
    ------
    OutOfValidRange
        A measure that is not above zero.

    Notes
    -----
    True enough is a dome below half the limit, or below twice the uncertainty of the check. At each place the time is

    .. math:: t = -\frac{(S + E[J])\,E[\dot S] + 0.3 \operatorname{Cov}[J, \dot S]}
        {E[\dot S]^2 (1 + q^2) + 0.3 \operatorname{Var}[\dot S]}

    with J what the move itself changes and q the doubt of the law, 7 % and 1 % more for each millimetre from the
    nearest place that the ring has been seen at: the less is known the shorter, so that the next check comes before the
    plate has gone too far. Of the places for which that is 10 min to 4 h the one with the least left and the least
    doubt is taken, an hour counting as much as 0.3 µm. The interval is that of the cells, so that a long tail of what
    could be does not widen it. Where twice the doubt is more than the limit the advice asks for a look half way.

    Examples
    --------
    >>> from lapwright.process.plate_course import DomeAt, Leg
    >>> from lapwright.process.plate_wear import Footprint, Land
    >>> from lapwright.process.wear_learning import learned_wear
    >>> setup = RingSetup(land=Land(inner_radius=0.04, outer_radius=0.15), least_offset=0.085, most_offset=0.11,
    ...                   footprints=(Footprint(outer_radius=0.065, inner_radius=0.05),), offset=0.103)
    >>> leg = Leg(offset=0.103, duration=7200.0)
    >>> course = [DomeAt(dome=h * 1e-6, dome_uncertainty=3e-7, legs=(leg,)) for h in (0.0, 6.0, 12.0)]
    >>> advice = ring_advice(12e-6, 3e-7, learned_wear(course, setup), setup, dome_limit=5e-6)
    >>> advice.kind, advice.move < 0.0
    ('condition', True)
    """
    for name, value in (("dome_uncertainty", dome_uncertainty), ("dome_limit", dome_limit)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero")
    places = np.linspace(setup.least_offset, setup.most_offset, 61).round(4)
    parts = _moments(learned, setup, places)
    told: dict[str, float | None] = {
        "offset_after": float(places[np.argmin(np.abs(parts[:, 0]))]),
        "neutral_ratio": _neutral_ratio(learned, setup),
    }
    if abs(dome) <= max(0.5 * dome_limit, 2.0 * dome_uncertainty):
        return _leave(dome, dome_uncertainty, setup, told)
    found = _best_go(dome, dome_uncertainty, parts, LAW_DOUBT + _FAR_DOUBT * _from_seen(places, learned))
    if found is None:
        return _dress(dome, dome_uncertainty, setup, told)
    best, duration, law = found
    change, spread = _interval(learned, setup, float(places[best]), duration)
    told["expected_dome"] = dome + change
    doubt = float(np.sqrt(dome_uncertainty**2 + spread**2 + (law * change) ** 2))
    advice = _condition(dome, float(places[best]), duration, doubt, setup, told)
    return advice if 2.0 * doubt <= dome_limit else _with_a_look_half_way(advice, change, dome_uncertainty)


# ----------------------------------------------------------------------------------------------------------------------


def _best_go(dome: float, doubt: float, parts: Floats, law: Floats) -> tuple[int, float, float] | None:
    """Number of the best place, the time there [s] and the doubt of the law; None when none brings the dome back."""
    rate, jump, spread, jumping, both = parts.T
    square = rate**2 * (1.0 + law**2) + _CAUTION * spread
    times = -np.divide(
        (dome + jump) * rate + _CAUTION * both, square, out=np.zeros_like(rate), where=square > 0.0
    )  # fmt: skip
    fit = np.flatnonzero((times >= _LEAST_TIME) & (times <= _LONGEST_TIME))
    if not fit.size:
        return None
    left = dome + jump + rate * times
    learned = np.maximum(spread * times**2 + 2.0 * both * times + jumping, 0.0)
    doubts = np.sqrt(doubt**2 + learned + (law * rate * times) ** 2)
    best = int(fit[np.argmin((np.hypot(doubts, left) + _TIME_WORTH * times)[fit])])
    return best, float(times[best]), float(law[best])


def _moments(learned: LearnedWear, setup: RingSetup, places: Floats) -> Floats:
    """Mean of the rate at each place and of what the move there changes, their variances and their covariance."""
    chances = learned.cell_chances.sum(axis=0)
    first, second = (learned.wear_speed**power @ learned.cell_chances for power in (1, 2))
    found = []
    for place in places.tolist():
        trends, jumps = _at(learned, setup, place)
        rate, jump = float(first @ trends), float(chances @ jumps)
        spread = float(second @ trends**2) - rate**2
        jumping = float(chances @ jumps**2) - jump**2
        found.append((rate, jump, max(spread, 0.0), max(jumping, 0.0), float(first @ (trends * jumps)) - rate * jump))
    return np.array(found)


def _at(learned: LearnedWear, setup: RingSetup, offset: float) -> tuple[Floats, Floats]:
    """Trend at a place and what the move there changes at once [m], for each law."""
    shift, lean = learned.neutral_shift, learned.outward_lean
    trends = wear_trends(setup, setup.speed_ratio, offset, shift, lean)
    return trends, learned.settling * (trends - wear_trends(setup, setup.speed_ratio, setup.offset, shift, lean))


def _interval(learned: LearnedWear, setup: RingSetup, offset: float, duration: float) -> tuple[float, float]:
    """Middle of the 90 % interval of a change of the dome over all cells [m], and its half as a deviation [m]."""
    trends, jumps = _at(learned, setup, offset)
    changes = (learned.wear_speed[:, None] * trends * duration + jumps).ravel()
    order = np.argsort(changes)
    below = np.cumsum(learned.cell_chances.ravel()[order])
    low, high = (float(changes[order][np.searchsorted(below, share * below[-1])]) for share in (0.05, 0.95))
    return 0.5 * (low + high), 0.5 * (high - low) / _NINETY


def _from_seen(places: Floats, learned: LearnedWear) -> Floats:
    """Distance of each place from the nearest that the ring has been seen at; zero while there is none [m]."""
    if not learned.seen_offsets:
        return np.zeros_like(places)
    return np.asarray(np.min(np.abs(places[:, None] - np.array(learned.seen_offsets)), axis=1), dtype=np.float64)


def _neutral_ratio(learned: LearnedWear, setup: RingSetup) -> float | None:
    """The speed ratio at which the dome stays with the ring where it is; None when none from 0.2 to 2."""
    shift = float(learned.cell_chances.sum(axis=0) @ learned.neutral_shift)
    ratios = np.arange(0.2, 2.01, 0.2).round(2)
    place = round(setup.offset - shift, 3)
    trends = [trend_at(setup.land, setup.footprints, place, float(ratio)) for ratio in ratios]
    for i, (below, above) in enumerate(pairwise(trends)):
        if below is not None and above is not None and (below > 0.0) != (above > 0.0):
            return float(ratios[i] + 0.2 * below / (below - above))
    return None


def _way(dome: float) -> str:
    return "domed" if dome > 0.0 else "dished"


def _leave(dome: float, doubt: float, setup: RingSetup, told: dict[str, float | None]) -> RingAdvice:
    return RingAdvice(
        kind="leave", offset=setup.offset, move=0.0, duration=0.0, expected_dome=dome, expected_uncertainty=doubt,
        sentences=(f"The plate is {_way(dome)} by {abs(dome) * 1e6:.1f} µm: true enough. Leave the shape alone.",),
        **told,  # type: ignore[arg-type]
    )  # fmt: skip


def _condition(
    dome: float, offset: float, duration: float, doubt: float, setup: RingSetup, told: dict[str, float | None]
) -> RingAdvice:
    move = offset - setup.offset
    place = f"{offset * 1e3:.1f} mm"
    after, left = told["offset_after"] or 0.0, told["expected_dome"] or 0.0
    step = (
        f"Leave the ring at {place}" if abs(move) < 2.5e-4
        else f"Move the ring {abs(move) * 1e3:.1f} mm {'outward' if move > 0.0 else 'inward'}, to {place}"
    )  # fmt: skip
    return RingAdvice(
        kind="condition", offset=offset, move=move, duration=duration, expected_uncertainty=doubt,
        sentences=(
            f"The plate is {_way(dome)} by {abs(dome) * 1e6:.1f} µm.",
            f"{step}, and run it for {duration / 60.0:.0f} min; then set it to {after * 1e3:.1f} mm and look again.",
            f"Expected then: {left * 1e6:+.1f} ± {2.0 * doubt * 1e6:.1f} µm.".replace("-", "\u2212"),
        ),
        **told,  # type: ignore[arg-type]
    )  # fmt: skip


def _with_a_look_half_way(advice: RingAdvice, change: float, dome_uncertainty: float) -> RingAdvice:
    """The same, with a look as soon as the change can be told well: a twentieth is what two checks leave in doubt."""
    told_well = _TOLD_WELL * 2.0**0.5 * dome_uncertainty / max(abs(change), dome_uncertainty)
    look = advice.duration * min(max(told_well, 0.25), 0.5)
    sentence = f"Look already after {look / 60.0:.0f} min: how this plate answers there is not known yet, only guessed."
    return replace(advice, sentences=(*advice.sentences, sentence))


def _dress(dome: float, doubt: float, setup: RingSetup, told: dict[str, float | None]) -> RingAdvice:
    return RingAdvice(
        kind="dress", offset=setup.offset, move=0.0, duration=0.0, expected_dome=dome, expected_uncertainty=doubt,
        sentences=(
            f"The plate is {_way(dome)} by {abs(dome) * 1e6:.1f} µm.",
            "No place of the ring brings it back within 4 h: face or dress it, then check it anew.",
        ),
        **told,  # type: ignore[arg-type]
    )  # fmt: skip
