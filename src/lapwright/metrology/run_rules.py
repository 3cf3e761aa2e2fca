"""Rules that look for patterns in a control chart, each named by what it detects, and how often they fire by chance.

The average run length with rules is that of a Markov chain whose states remember just what the rules need.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import normal_cdf

Array = NDArray[np.float64]
Rule = Literal[
    "beyond_limit", "two_of_three_far_out", "four_of_five_off_centre", "eight_on_one_side", "six_rising_or_falling",
]  # fmt: skip
ALL_RULES: tuple[Rule, ...] = (
    "beyond_limit", "two_of_three_far_out", "four_of_five_off_centre", "eight_on_one_side", "six_rising_or_falling",
)  # fmt: skip
#: Rules that look at zones only, for which the run length is known.
ZONE_RULES: tuple[Rule, ...] = ALL_RULES[:4]


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """A point at which a rule fires."""

    index: int
    rule: str


def rule_signals(points: Array, *, centre: float, sigma: float, rules: tuple[Rule, ...]) -> tuple[Signal, ...]:
    """Where the chosen rules fire, in order.

    Parameters
    ----------
    points : float array, shape (n,) [unit of the values]
        Plotted points.
    centre : float [unit of the values]
        Centre line.
    sigma : float [unit of the values]
        Standard deviation of a point.
    rules : tuple of rule names
        ``beyond_limit``: outside 3 σ. ``two_of_three_far_out``: two of three beyond 2 σ on one side.
        ``four_of_five_off_centre``: four of five beyond 1 σ on one side. ``eight_on_one_side``: eight in a row.
        ``six_rising_or_falling``: six in a row.

    Returns
    -------
    tuple of Signal
        At the last point of the pattern.

    Raises
    ------
    OutOfValidRange
        A standard deviation below zero.

    References
    ----------
    .. [1] D. C. Champ, W. H. Woodall, Technometrics 29 (1987) 393 (the first four rules). Key
       ``champ1987``.

    Examples
    --------
    >>> rule_signals(np.full(8, 0.1), centre=0.0, sigma=1.0, rules=("eight_on_one_side",))
    (Signal(index=7, rule='eight_on_one_side'),)
    """
    if not sigma >= 0.0:
        raise OutOfValidRange("sigma", sigma, "zero or more")
    away = points - centre
    z = away / sigma if sigma > 0.0 else np.where(away > 0.0, np.inf, np.where(away < 0.0, -np.inf, 0.0))
    fired: list[Signal] = []
    for rule in rules:
        fired += [Signal(index=int(i), rule=rule) for i in np.flatnonzero(_fires(rule, z, points))]
    return tuple(sorted(fired, key=lambda signal: (signal.index, signal.rule)))


def rules_run_length(rules: tuple[Rule, ...], *, shift: float = 0.0) -> float | None:
    """Average run length of a chart of independent normal points under the chosen rules.

    Parameters
    ----------
    rules : tuple of rule names
        What the chart looks for.
    shift : float [1]
        Distance of the true mean from the centre line in standard deviations of a point.

    Returns
    -------
    float or None [1]
        None with ``six_rising_or_falling``, whose memory is not one of zones; infinity without any rule.

    Notes
    -----
    States hold, for each rule, the last points that can still count: found by walking from the empty state. With P
    the chances of going from state to state without a signal, the run lengths solve (I − P) L = 1.

    References
    ----------
    .. [1] D. C. Champ, W. H. Woodall, Technometrics 29 (1987) 393. Key ``champ1987``.

    Examples
    --------
    >>> round(rules_run_length(("beyond_limit",)), 1), round(rules_run_length(ZONE_RULES), 2)
    (370.4, 91.75)
    """
    if "six_rising_or_falling" in rules:
        return None
    if not rules:
        return float("inf")
    edges = (-np.inf, -3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, np.inf)
    below = [normal_cdf(float(edge) - shift) for edge in edges]
    chances = np.diff(below)
    states: dict[tuple[int, ...], int] = {(): 0}
    waiting: list[tuple[int, ...]] = [()]
    steps: list[tuple[int, int, float]] = []
    while waiting:
        state = waiting.pop()
        for following, chance in _following(state, rules, chances):
            if following not in states:
                states[following] = len(states)
                waiting.append(following)
            steps.append((states[state], states[following], chance))
    table = np.eye(len(states))
    for start, end, chance in steps:
        table[start, end] -= chance
    return float(np.linalg.solve(table, np.ones(len(states)))[0])


# ----------------------------------------------------------------------------------------------------------------------

#: Zones from below to above, as signed whole sigmas: -4 is beyond -3, 1 is from 0 to 1.
_ZONES = (-4, -3, -2, -1, 1, 2, 3, 4)


def _following(
    state: tuple[int, ...], rules: tuple[Rule, ...], chances: Array
) -> Iterator[tuple[tuple[int, ...], float]]:
    """States after one more point, without those that signal, each with its chance."""
    for zone, chance in zip(_ZONES, chances.tolist(), strict=True):
        history = (*state, zone)
        if not any(_seen(rule, history) for rule in rules):
            yield _remembered(history, rules), chance


def _seen(rule: Rule, history: tuple[int, ...]) -> bool:
    side = 1 if history[-1] > 0 else -1
    if rule == "beyond_limit":
        return abs(history[-1]) == 4
    if rule == "two_of_three_far_out":
        return sum(side * zone >= 3 for zone in history[-3:]) >= 2 and side * history[-1] >= 3
    if rule == "four_of_five_off_centre":
        return sum(side * zone >= 2 for zone in history[-5:]) >= 4 and side * history[-1] >= 2
    return len(history) >= 8 and all(side * zone > 0 for zone in history[-8:])


def _remembered(history: tuple[int, ...], rules: tuple[Rule, ...]) -> tuple[int, ...]:
    """The shortest history with the same future: points that no rule can still count are made plain or dropped."""
    length = len(history)
    kept = []
    for place, zone in enumerate(history):
        age = length - place  # 1 for the newest
        side = 1 if zone > 0 else -1
        far = "two_of_three_far_out" in rules and age <= 2 and side * zone >= 3
        off = "four_of_five_off_centre" in rules and age <= 4 and side * zone >= 2
        run = "eight_on_one_side" in rules and age <= 7 and all(side * later > 0 for later in history[place:])
        kept.append(side * (3 if far else 2 if off else 1) if far or off or run else 0)
    while kept and kept[0] == 0:
        kept.pop(0)
    return tuple(kept)


def _fires(rule: Rule, z: Array, points: Array) -> NDArray[np.bool_]:
    if rule == "beyond_limit":
        return np.asarray(np.abs(z) > 3.0)
    if rule == "two_of_three_far_out":
        return _enough(z > 2.0, 2, 3) | _enough(z < -2.0, 2, 3)
    if rule == "four_of_five_off_centre":
        return _enough(z > 1.0, 4, 5) | _enough(z < -1.0, 4, 5)
    if rule == "eight_on_one_side":
        return _enough(z > 0.0, 8, 8) | _enough(z < 0.0, 8, 8)
    steps = np.diff(points, prepend=points[:1])
    return _enough(steps > 0.0, 5, 5) | _enough(steps < 0.0, 5, 5)


def _enough(hit: NDArray[np.bool_], wanted: int, window: int) -> NDArray[np.bool_]:
    """True at a point that is a hit itself and ends a window with enough hits."""
    total = np.concatenate(([0], np.cumsum(hit)))
    start = np.maximum(np.arange(hit.size) + 1 - window, 0)
    return np.asarray(hit & (total[1:] - total[start] >= wanted))
