"""How many wafers to start so that enough of them are good, when the yield itself is only believed.

The yield is a beta distribution: what the route lets expect counts as a number of wafers, few while nobody knows how
well the lab stops and squares, many once its records tell; every own wafer judged counts as one.
Left out: wafers that share one fate, as when a whole carrier falls; they are taken as independent given the yield.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lapwright.errors import ImpossibleOrder, OutOfValidRange
from lapwright.process.workplaces import Assumptions

#: How alike the wafers of one lab fare, beyond the chance of their route: with its spreads known, and what a doubt
#: about them adds, times its fourth power. Fitted to 180 simulated labs whose laws planning does not know.
KNOWN_LIKENESS, DOUBT_LIKENESS = 0.012, 6.7
MOST_SPARES = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class YieldBelief:
    """What is believed of the yield: a beta distribution with parameters `good` and `lost` [1], both more than zero."""

    good: float
    lost: float

    def __post_init__(self) -> None:
        for name in ("good", "lost"):
            if not 0.0 < getattr(self, name) < math.inf:
                raise OutOfValidRange(name, getattr(self, name), "more than zero")

    @property
    def mean(self) -> float:
        """Expected yield [1]."""
        return self.good / (self.good + self.lost)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareAdvice:
    """Start `started` wafers to deliver `wanted`: the `chance` [1] that they suffice, and with one fewer."""

    started: int
    wanted: int
    chance: float
    with_fewer: float


def lab_doubt(assumptions: Assumptions) -> float:
    """How little is known of a lab's spreads of stops and wedge together.

    Parameters
    ----------
    assumptions : Assumptions
        As a route is planned with.

    Returns
    -------
    float [1]
        Root mean square of the log deviations of the three spreads.

    Examples
    --------
    >>> round(lab_doubt(Assumptions(watch_doubt=0.2, lap_stop_doubt=0.1, wedge_doubt=0.2)), 4)
    0.1732
    """
    doubts = (assumptions.watch_doubt, assumptions.lap_stop_doubt, assumptions.wedge_doubt)
    return math.sqrt(math.fsum(one**2 for one in doubts) / len(doubts))


def prior_wafers(doubt: float) -> float:
    r"""How many own wafers the chance of a route is worth.

    Parameters
    ----------
    doubt : float, >= 0 [1]
        Log deviation of what the lab's spreads of stops and wedge may truly be, as the chance was reckoned with it.

    Returns
    -------
    float [1]
        Seven for a lab without records, up to 82 for one whose spreads are known.

    Raises
    ------
    OutOfValidRange
        A negative doubt.

    Notes
    -----
    A beta distribution worth m wafers has the intraclass correlation :math:`\rho = 1/(m+1)` [1]_: two wafers of one lab
    fare alike that far. Here :math:`\rho = 0.012 + 6.7\,d^4`: the losses of simulated jobs in 60 labs each at doubts of
    0.36 (no records), 0.18 (12 results of each kind) and 0.10 (60) are likeliest with m = 7, 64 and 64; the likelihood
    is flat from 40 to 200 for the latter two. The fourth power is the smallest that meets all three.

    References
    ----------
    .. [1] A. Gelman et al., "Bayesian Data Analysis", 3rd ed. (2013), section 5.3. Key ``gelman2013``.

    Examples
    --------
    >>> round(prior_wafers(0.36)), round(prior_wafers(0.18))
    (7, 52)
    """
    if not doubt >= 0.0:
        raise OutOfValidRange("doubt", doubt, "zero or more")
    return 1.0 / min(0.5, KNOWN_LIKENESS + DOUBT_LIKENESS * doubt**4) - 1.0


def yield_belief(chance: float, *, good: int = 0, lost: int = 0, prior: float) -> YieldBelief:
    r"""Yield by the route's chance and the lab's own wafers.

    Parameters
    ----------
    chance : float, 0 <= chance <= 1 [1]
        Chance that a wafer passes, as the route lets expect.
    good : int, >= 0
        Own wafers that passed.
    lost : int, >= 0
        Own wafers that did not.
    prior : float, > 0 [1]
        How many wafers the chance is worth, as `prior_wafers` has it.

    Returns
    -------
    YieldBelief

    Raises
    ------
    OutOfValidRange
        A chance outside 0 to 1, a negative count, or a prior not above zero.

    Notes
    -----
    Conjugate to the binomial [1]_: :math:`a = m\,p + g,\; b = m\,(1-p) + l`; a chance of exactly 0 or 1 out of draws
    leaves half a wafer of doubt on the other side.

    References
    ----------
    .. [1] A. Gelman et al., "Bayesian Data Analysis", 3rd ed. (2013), section 2.4. Key ``gelman2013``.

    Examples
    --------
    >>> yield_belief(0.75, good=17, lost=1, prior=8.0)
    YieldBelief(good=23.0, lost=3.0)
    """
    if not 0.0 <= chance <= 1.0:
        raise OutOfValidRange("chance", chance, "from 0 to 1")
    for name, value in (("good", good), ("lost", lost)):
        if value < 0:
            raise OutOfValidRange(name, value, "zero or more")
    if not prior > 0.0:
        raise OutOfValidRange("prior", prior, "more than zero")
    doubt = min(0.5, 0.5 * prior)
    expected = min(max(prior * chance, doubt), prior - doubt)
    return YieldBelief(good=expected + good, lost=prior - expected + lost)


def chance_of_enough(started: int, wanted: int, belief: YieldBelief | float) -> float:
    r"""Chance that at least so many of the wafers started are good.

    Parameters
    ----------
    started : int, >= 0
        Wafers started.
    wanted : int, >= 0
        Wafers to deliver.
    belief : YieldBelief or float, 0 <= belief <= 1 [1]
        What is believed of the yield; a number for one that is known.

    Returns
    -------
    float [1]
        From 0 to 1.

    Raises
    ------
    OutOfValidRange
        A negative count, or a known yield outside 0 to 1.

    Notes
    -----
    .. math:: P = \sum_{x=k}^{n} \binom{n}{x} \frac{B(x+a,\, n-x+b)}{B(a,b)}

    the beta-binomial distribution; the binomial one for a yield that is known.

    Examples
    --------
    >>> round(chance_of_enough(7, 6, 0.9), 4)
    0.8503
    >>> round(chance_of_enough(2, 2, YieldBelief(good=1.0, lost=1.0)), 4)
    0.3333
    """
    for name, value in (("started", started), ("wanted", wanted)):
        if value < 0:
            raise OutOfValidRange(name, value, "zero or more")
    if isinstance(belief, float) and not 0.0 <= belief <= 1.0:
        raise OutOfValidRange("belief", belief, "from 0 to 1")
    terms = (_share(started, number, belief) for number in range(wanted, started + 1))
    return min(1.0, math.fsum(terms))


def spare_advice(wanted: int, belief: YieldBelief | float, *, chance: float = 0.90) -> SpareAdvice:
    """Fewest wafers to start so that enough are good with a chance.

    Parameters
    ----------
    wanted : int, >= 1
        Wafers to deliver.
    belief : YieldBelief or float, 0 <= belief <= 1 [1]
        What is believed of the yield; a number for one that is known.
    chance : float, 0 < chance < 1 [1]
        That is to be held.

    Returns
    -------
    SpareAdvice

    Raises
    ------
    OutOfValidRange
        A chance outside its range, or nothing to deliver.
    ImpossibleOrder
        Not even 200 spares hold it: the yield is too low, or too little known, to promise this.

    Examples
    --------
    >>> spare_advice(6, 0.9).started
    8
    """
    if not 0.0 < chance < 1.0:
        raise OutOfValidRange("chance", chance, "more than 0 and less than 1")
    if wanted < 1:
        raise OutOfValidRange("wanted", wanted, "at least 1")
    fewer = 0.0
    for started in range(wanted, wanted + MOST_SPARES + 1):
        found = chance_of_enough(started, wanted, belief)
        if found >= chance:
            return SpareAdvice(started=started, wanted=wanted, chance=found, with_fewer=fewer)
        fewer = found
    raise ImpossibleOrder(
        f"Even with {MOST_SPARES} spares {wanted} good wafers are only {fewer:.0%} likely, wanted {chance:.0%}:"
        " too few pass, or too little is known of how many do. Work a trial wafer, or agree wider limits."
    )


# ----------------------------------------------------------------------------------------------------------------------


def _share(started: int, number: int, belief: YieldBelief | float) -> float:
    """Chance that exactly this number is good."""
    ways = math.comb(started, number)
    if not isinstance(belief, YieldBelief):
        known = float(belief)
        return ways * known**number * (1.0 - known) ** (started - number)
    a, b = belief.good, belief.lost
    return ways * math.exp(_log_beta(number + a, started - number + b) - _log_beta(a, b))


def _log_beta(a: float, b: float) -> float:
    return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)
