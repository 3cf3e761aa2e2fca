"""The damage ledger: how deep the damage reaches after each stage, and when a polish has taken all of it.

Each stage leaves damage of its own and takes the top off what was there before. Depths are lognormal, those of
different stages independent. Left out: cracks that grow while they are polished, and damage that is deeper at the rim.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from lapwright.errors import DidNotConverge, OutOfValidRange
from lapwright.metrology.distributions import normal_cdf

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(21)
_PARTS: tuple[tuple[float, float], ...] = tuple(
    zip(_NODES.tolist(), (_WEIGHTS / math.sqrt(2.0 * math.pi)).tolist(), strict=True)
)
_NARROW = 1e-12  # how closely a crossing is found, of the upper end of the search
_LONGEST = 1e9  # s


@dataclass(frozen=True, slots=True, kw_only=True)
class Depth:
    """Depth of damage that one stage leaves: lognormal with a median [m] and the deviation of its logarithm [1]."""

    median: float
    log_deviation: float = 0.0

    def __post_init__(self) -> None:
        if not self.median >= 0.0:
            raise OutOfValidRange("median", self.median, "zero or more [m]")
        if not self.log_deviation >= 0.0:
            raise OutOfValidRange("log_deviation", self.log_deviation, "zero or more")

    @property
    def high(self) -> float:
        """The depth that 97.5 % do not exceed [m]."""
        return self.median * math.exp(1.959963984540054 * self.log_deviation)


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """One stage in the ledger: its name, what it removes, with what deviation [m], and the damage it leaves."""

    name: str
    removal: float
    deviation: float = 0.0
    leaves: Depth


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerLine:
    """What the ledger says after a stage [m].

    `median` and `high` (97.5 %) are the depth of all damage now; `chance_old` is the chance that damage of an earlier
    stage reaches deeper than what this one leaves.
    """

    name: str
    removal: float
    left: Depth
    median: float
    high: float
    chance_old: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearTime:
    """How long a polish takes until damage remains with less than an agreed chance. SI.

    `time` is the advice; `low` to `high` the 90 % interval of the time after which the last damage really goes.
    """

    time: float
    low: float
    high: float
    chance: float

    def shortfall(self, ran: float) -> float:
        """How much too early a polish was stopped after it `ran` [s]; zero when it ran long enough."""
        return max(0.0, self.time - ran)


def damage_ledger(passages: Sequence[Passage], *, start: Depth | None = None) -> tuple[LedgerLine, ...]:
    r"""Depth of damage after every stage.

    Parameters
    ----------
    passages : sequence of Passage
        Stages in the order worked.
    start : Depth, optional
        Damage of the incoming face.

    Returns
    -------
    tuple of LedgerLine
        One for each stage.

    Raises
    ------
    OutOfValidRange
        A stage removes less than nothing.

    Notes
    -----
    .. math:: P(D_k \le x) = \prod_j P(d_j \le x + R_{jk}), \qquad R_{jk} = \sum_{i=j+1}^{k} h_i

    The deviations of the removals are folded in by Gauss-Hermite quadrature on their sum, stage by stage.

    Examples
    --------
    >>> lap, polish = Depth(median=5e-6), Depth(median=0.0)
    >>> lines = damage_ledger([Passage(name="lap", removal=20e-6, leaves=lap),
    ...     Passage(name="polish", removal=2e-6, leaves=polish)])
    >>> [round(line.median * 1e6, 3) for line in lines]
    [5.0, 3.0]
    """
    for passage in passages:
        if not passage.removal >= 0.0:
            raise OutOfValidRange("removal", passage.removal, "zero or more [m]")
    layers: list[_Layer] = [] if start is None else [_Layer(start, 0.0, 0.0)]
    lines = []
    for passage in passages:
        older = [layer.after(passage) for layer in layers]
        layers = [*older, _Layer(passage.leaves, 0.0, 0.0)]
        lines.append(
            LedgerLine(
                name=passage.name,
                removal=passage.removal,
                left=passage.leaves,
                median=_quantile(layers, 0.5),
                high=_quantile(layers, 0.975),
                chance_old=_chance_deeper(older, passage.leaves),
            )
        )
    return tuple(lines)


def clear_time(
    layers: Sequence[tuple[Depth, float]],
    rate: float,
    *,
    rate_deviation: float = 0.0,
    chance: float = 0.01,
) -> ClearTime:
    r"""How long to polish until damage remains with no more than an agreed chance.

    Parameters
    ----------
    layers : sequence of (Depth, float [m])
        Each damage still there, and what was already removed of it.
    rate : float [m/s]
        Median of the polishing rate.
    rate_deviation : float [1]
        Deviation of its logarithm.
    chance : float [1]
        Agreed chance that damage remains, above 0 and at most 0.5.

    Returns
    -------
    ClearTime

    Raises
    ------
    OutOfValidRange
        A rate that is not above zero, or a chance outside its range.
    DidNotConverge
        Damage remains with more than this chance however long it is polished.

    Notes
    -----
    .. math:: P_\text{remains}(T) = 1 - \int \prod_j P(d_j \le R_j + r T)\, p(r)\, dr

    solved for T by the method of Brent. With one layer of which nothing is removed yet
    :math:`T = (d/r) \exp(z \sqrt{s_d^2 + s_r^2})`.

    Examples
    --------
    >>> advice = clear_time([(Depth(median=12e-6), 0.0)], 111e-9 / 60.0)
    >>> round(advice.time / 60.0, 1)
    108.1
    """
    if not rate > 0.0:
        raise OutOfValidRange("rate", rate, "more than zero [m/s]")
    if not 0.0 < chance <= 0.5:
        raise OutOfValidRange("chance", chance, "more than 0 and at most 0.5")

    def remaining(time: float) -> float:
        return chance_remaining(layers, rate, rate_deviation=rate_deviation, time=time)

    return ClearTime(
        time=_time_when(remaining, chance),
        low=_time_when(remaining, 0.95),
        high=_time_when(remaining, 0.05),
        chance=chance,
    )


def chance_remaining(
    layers: Sequence[tuple[Depth, float]], rate: float, *, rate_deviation: float = 0.0, time: float
) -> float:
    """Chance that damage remains after polishing for a time.

    Parameters
    ----------
    layers : sequence of (Depth, float [m])
        Each damage still there, and what was already removed of it.
    rate : float [m/s]
        Median of the polishing rate.
    rate_deviation : float [1]
        Deviation of its logarithm.
    time : float [s]
        How long it is polished.

    Returns
    -------
    float [1]

    Examples
    --------
    >>> chance_remaining([(Depth(median=5e-6, log_deviation=0.3), 0.0)], 1e-9, time=5000.0)
    0.5
    """
    if len(layers) == 1 and layers[0][1] == 0.0:  # one ratio of two lognormals: exact
        return _ratio_chance(layers[0][0], rate * time, rate_deviation)
    total = 0.0
    for node, weight in _PARTS:
        removed = rate * time * math.exp(rate_deviation * node)
        total += weight * math.prod(_below(depth, before + removed) for depth, before in layers)
    return max(0.0, 1.0 - total)


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Layer:
    """Damage of one stage, and what was taken off it since: mean and variance."""

    depth: Depth
    removed: float
    variance: float

    def after(self, passage: Passage) -> _Layer:
        return _Layer(self.depth, self.removed + passage.removal, self.variance + passage.deviation**2)

    def within(self, depth: float) -> float:
        """Chance that this damage reaches no deeper than `depth` below the face as it is now."""
        spread = math.sqrt(self.variance)
        if spread == 0.0:
            return _below(self.depth, depth + self.removed)
        reached = [weight * _below(self.depth, depth + self.removed + spread * node) for node, weight in _PARTS]
        return math.fsum(reached)


def _below(depth: Depth, limit: float) -> float:
    """Chance that a lognormal depth is at most `limit`."""
    if depth.median == 0.0:
        return 1.0 if limit >= 0.0 else 0.0
    if limit <= 0.0:
        return 0.0
    if depth.log_deviation == 0.0:
        return 1.0 if depth.median <= limit * (1.0 + 1e-12) else 0.0
    return normal_cdf(math.log(limit / depth.median) / depth.log_deviation)


def _ratio_chance(depth: Depth, removal: float, deviation: float) -> float:
    spread = math.hypot(depth.log_deviation, deviation)
    if depth.median == 0.0:
        return 0.0
    if removal <= 0.0:
        return 1.0
    if spread == 0.0:
        return 0.0 if depth.median <= removal * (1.0 + 1e-12) else 1.0
    return normal_cdf(math.log(depth.median / removal) / spread)


def _quantile(layers: Sequence[_Layer], probability: float) -> float:
    """The depth that all damage together does not exceed with this probability; zero when nothing is left so often."""

    def within(depth: float) -> float:
        return math.prod(layer.within(depth) for layer in layers)

    if within(0.0) >= probability:
        return 0.0
    low, high = 0.0, max(layer.depth.median for layer in layers) or 1e-9
    while within(high) < probability:
        high *= 2.0
    return _crossing(lambda depth: within(depth) - probability, low, high)


def _chance_deeper(older: Sequence[_Layer], own: Depth) -> float:
    """Chance that some older damage reaches deeper than the stage's own, over the spread of its own."""
    if own.median == 0.0 or own.log_deviation == 0.0:
        return 1.0 - math.prod(layer.within(own.median) for layer in older)
    depths = [(own.median * math.exp(own.log_deviation * node), weight) for node, weight in _PARTS]
    held = math.fsum(weight * math.prod(layer.within(depth) for layer in older) for depth, weight in depths)
    return max(0.0, 1.0 - held)


def _time_when(remaining: Callable[[float], float], chance: float) -> float:
    """The shortest time after which the chance is at most this."""
    if remaining(0.0) <= chance:
        return 0.0
    low, high = 0.0, 60.0
    while remaining(high) > chance:
        low, high = high, 2.0 * high
        if high > _LONGEST:
            raise DidNotConverge(
                "The search for the time until the damage is gone",
                steps=math.ceil(math.log2(_LONGEST / 60.0)),
                last=high,
            )
    return _crossing(lambda time: chance - remaining(time), low, high)


def _crossing(rising: Callable[[float], float], low: float, high: float) -> float:
    """Where a function, rising or leaping, comes to nought or above; at the upper side of a leap."""
    from scipy.optimize import brentq

    found = float(brentq(rising, low, high, xtol=_NARROW * high, rtol=_NARROW))
    return found if rising(found) >= 0.0 else found + 2.0 * _NARROW * high
