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
_TIMES = np.geomspace(300.0, 4.0 * 3600.0, 60)  # s, that a go may take
_LEFT_BY_LONGEST = 0.3  # of the dome, that the longest go may leave before the plate is dressed instead (own judgement)
_STAY_WORTH = 0.15e-6  # m, of doubt that a ring is rather left where it is than moved (own judgement)
_GUESSES = 300  # cells that a go is chosen by


@dataclass(frozen=True, slots=True, kw_only=True)
class RingAdvice:
    """What to do about a plate's shape.

    `leave`: true enough. `condition`: set the ring to `offset` [m], which is `move` from where it is (outward
    positive), run for `duration` [s], then set it to `offset_after` and look again; the dome is then expected at
    `expected_dome`, the middle of its 90 % interval, whose half is 1.645 times `expected_uncertainty`. `dress`: no
    place of the ring brings it back in four hours. Where what is expected is known to no better than the limit,
    `look_after` [s] is the time after which a look on the way tells well how the plate answers; else None.
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
    look_after: float | None = None


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
    the one that makes least of

    .. math:: E[S]^2 + (q\,E[\Delta S])^2 + 0.3 \operatorname{Var}[\Delta S]

    with Delta S the change by the learned laws and q the doubt of the law, 5 % and 1 % more for each millimetre from
    the nearest place that the ring has been seen at: the less is known the shorter, so that the next check comes before
    the plate has gone too far. Of the places, at 5 min to 4 h, the one with the least left and the least doubt is
    taken, an hour counting as much as 0.3 µm; the ring is left where it is for half as much. The interval is that of
    the cells, so that a long tail of what could be does not widen it. Where twice the doubt is more than the limit the
    advice asks for a look half way; a plate of which the longest go leaves three tenths is dressed instead.

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
    trends = _trends(learned, setup, places)
    steady = np.abs(np.sum((learned.wear_speed * learned.cell_chances).sum(axis=0) * trends, axis=1))
    told: dict[str, float | None] = {
        "offset_after": float(places[np.argmin(steady)]),
        "neutral_ratio": _neutral_ratio(learned, setup),
    }
    if abs(dome) <= max(0.5 * dome_limit, 2.0 * dome_uncertainty):
        return _leave(dome, dome_uncertainty, setup, told)
    law = LAW_DOUBT + _FAR_DOUBT * _from_seen(places, learned)
    found = _best_go(dome, dome_uncertainty, learned, trends, law, present=_present(places, setup))
    if found is None:
        return _dress(dome, dome_uncertainty, setup, told)
    best, duration = found
    change, spread = _interval(learned, trends[best], duration)
    told["expected_dome"] = dome + change
    doubt = float(np.sqrt(dome_uncertainty**2 + spread**2 + (law[best] * change) ** 2))
    advice = _condition(dome, float(places[best]), duration, doubt, setup, told)
    return advice if 2.0 * doubt <= dome_limit else _with_a_look_half_way(advice, change, dome_uncertainty)


# ----------------------------------------------------------------------------------------------------------------------


def _best_go(
    dome: float, doubt: float, learned: LearnedWear, trends: Floats, law: Floats, *, present: int | None
) -> tuple[int, float] | None:
    """Number of the best place and the time there [s]; None when none brings the dome back."""
    speed, number = _guesses(learned)
    left, spread = _moments(dome, speed, number, learned, trends, _TIMES)
    moved = (law[:, None] * (left - dome)) ** 2
    cautious = np.argmin(left**2 + moved + _CAUTION * spread, axis=1)
    rows = np.arange(len(trends))
    score = np.sqrt((left**2 + moved + spread)[rows, cautious] + doubt**2) + _TIME_WORTH * _TIMES[cautious]
    best = int(np.argmin(score))
    if present is not None and score[present] <= score[best] + _STAY_WORTH:
        best = present
    step = int(cautious[best])
    if step == _TIMES.size - 1 and abs(left[best, step]) > _LEFT_BY_LONGEST * abs(dome):
        return None
    times = np.linspace(_TIMES[max(step - 1, 0)], _TIMES[min(step + 1, _TIMES.size - 1)], 81)
    left, spread = _moments(dome, speed, number, learned, trends[best : best + 1], times)
    sharp = left**2 + (law[best] * (left - dome)) ** 2 + _CAUTION * spread
    return best, float(times[np.argmin(sharp)])


def _present(places: Floats, setup: RingSetup) -> int | None:
    """Number of the place at which the ring stands, None when it is none of them."""
    nearest = int(np.argmin(np.abs(places - setup.offset)))
    return nearest if abs(places[nearest] - setup.offset) < 3e-4 else None


def _guesses(learned: LearnedWear) -> tuple[Floats, NDArray[np.intp]]:
    """Speed of wear and number of the law of some cells, drawn evenly by their chances."""
    below = np.cumsum(learned.cell_chances.T.ravel())
    cells = np.searchsorted(below, (np.arange(_GUESSES) + 0.5) / _GUESSES * below[-1])
    number, row = np.divmod(cells, learned.wear_speed.shape[0])
    return learned.wear_speed[row, number], number


def _moments(
    dome: float, speed: Floats, number: NDArray[np.intp], learned: LearnedWear, trends: Floats, times: Floats
) -> tuple[Floats, Floats]:
    """Mean of the dome after a go at each place (rows) for each time (columns), and its variance over the guesses."""
    haste, settling = learned.haste[number][:, None], learned.settling_time[number][:, None]
    settled = 1.0 - np.exp(-times / settling)
    found = []
    for trend in trends[:, number]:
        change = trend[:, None] * times + haste * settling * (trend - learned.track[number])[:, None] * settled
        change *= speed[:, None]
        found.append((dome + change.mean(axis=0), change.var(axis=0)))
    left, spread = (np.array(one) for one in zip(*found, strict=True))
    return left, spread


def _trends(learned: LearnedWear, setup: RingSetup, places: Floats) -> Floats:
    """Trend at each place (rows) for each law."""
    shift, lean = learned.neutral_shift, learned.outward_lean
    return np.array([wear_trends(setup, setup.speed_ratio, place, shift, lean) for place in places.tolist()])


def _interval(learned: LearnedWear, trend: Floats, duration: float) -> tuple[float, float]:
    """Middle of the 90 % interval of a change of the dome over all cells [m], and its half as a deviation [m]."""
    settled = learned.settling_time * (1.0 - np.exp(-duration / learned.settling_time))
    changes = (learned.wear_speed * (trend * duration + learned.haste * settled * (trend - learned.track))).ravel()
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
    return replace(advice, sentences=(*advice.sentences, sentence), look_after=look)


def _dress(dome: float, doubt: float, setup: RingSetup, told: dict[str, float | None]) -> RingAdvice:
    return RingAdvice(
        kind="dress", offset=setup.offset, move=0.0, duration=0.0, expected_dome=dome, expected_uncertainty=doubt,
        sentences=(
            f"The plate is {_way(dome)} by {abs(dome) * 1e6:.1f} µm.",
            "No place of the ring brings it back within 4 h: face or dress it, then check it anew.",
        ),
        **told,  # type: ignore[arg-type]
    )  # fmt: skip
