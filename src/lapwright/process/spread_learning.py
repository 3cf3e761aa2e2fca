"""How far a lab's own stops and wedges scatter: uncertain at first, learned from what was recorded.

No two labs have the same hands. Before anything is on record a spread is the usual one up to a factor, part of it
common to all that a lab does; a few results of any kind narrow all of them. What the readings themselves scatter is
taken out. Errors have longer tails than a normal law, so that a run that went wrong moves the belief only a little.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange

#: Log deviation, from lab to lab, of what is common to all its spreads and of what each has by itself. Together nine
#: labs of ten lie within a factor of 1.8 of the usual value (own assumption; no survey is known to us).
COMMON, OWN = 0.3, 0.2
USUAL_DOUBT = math.hypot(COMMON, OWN)
TAIL_FREEDOM = 8.0  # of the Student law of one stop about its lab's spread (own judgement)
#: Log deviation of the scale of one stop that makes such tails.
TAIL = 0.266  # half the square root of trigamma(4) = 0.2838
FAR = 3.0  # deviations beyond which a result is told as out of the usual
_FACTORS = np.linspace(-2.5, 2.5, 101)  # logarithms of a spread over the usual one
_SHARED = np.linspace(-1.5, 1.5, 61)


@dataclass(frozen=True, slots=True, kw_only=True)
class Errors:
    """Errors of one kind as read, in the order taken, the standard uncertainty of each, and the spread assumed."""

    errors: Sequence[float]
    uncertainties: Sequence[float]
    assumed: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedSpread:
    """A standard deviation to plan with [SI unit of the errors], its `doubt`, the one assumed, its own results.

    `doubt` [1] is the log deviation of what the true spread may be; `far` of the results lay beyond three deviations.
    """

    deviation: float
    doubt: float
    assumed: float
    results: int
    far: int


def learned_spreads(kinds: Mapping[str, Errors]) -> dict[str, LearnedSpread]:
    r"""Standard deviations of a lab's errors about zero, all kinds together, and how surely they are known.

    Parameters
    ----------
    kinds : mapping of str to Errors
        Each with its own errors and assumption; without any error of any kind the assumptions stand.

    Returns
    -------
    dict of str to LearnedSpread
        In the order of `kinds`; the deviation is the median of what the spread may be.

    Raises
    ------
    OutOfValidRange
        An assumption not above zero, a negative uncertainty, or not as many of them as of errors.

    Notes
    -----
    Hierarchical, with the spread of a normal law unknown [1]_ and tails of eight degrees of freedom:

    .. math:: \ln\sigma_k = \ln\sigma_{0k} + c + o_k, \quad c \sim N(0, 0.3^2), \quad o_k \sim N(0, 0.2^2), \quad
        e_{ki} \sim t_8\!\left(0, \sqrt{\sigma_k^2 + u_{ki}^2}\right)

    solved on a grid of c and of each :math:`\ln\sigma_k`, the t law scaled to the deviation named. A steady error of
    the stops counts as scatter: the plan does not know its sign.

    References
    ----------
    .. [1] A. Gelman et al., "Bayesian Data Analysis", 3rd ed. (2013), section 2.6, normal with known mean. Key
       ``gelman2013``.

    Examples
    --------
    >>> found = learned_spreads({
    ...     "finish": Errors(errors=[1.2, -1.2] * 10, uncertainties=[0.0] * 20, assumed=0.6),
    ...     "first": Errors(errors=[], uncertainties=[], assumed=2.0),
    ... })
    >>> [(round(one.deviation, 2), round(one.doubt, 2), one.results) for one in found.values()]
    [(1.22, 0.14, 20), (3.28, 0.28, 0)]
    """
    for kind in kinds.values():
        _check(kind)
    likelihoods = np.array([_likelihood(kind) for kind in kinds.values()])
    bridge = np.exp(-0.5 * ((_FACTORS[None, :] - _SHARED[:, None]) / OWN) ** 2)
    bridge /= bridge.sum(axis=1, keepdims=True)
    by_shared = likelihoods @ bridge.T
    logs = np.log(np.maximum(by_shared, 1e-300)).sum(axis=0) - 0.5 * (_SHARED / COMMON) ** 2
    weights = np.exp(logs - logs.max())
    found = {}
    for (name, kind), likelihood, own in zip(kinds.items(), likelihoods, by_shared, strict=True):
        belief = (weights / np.maximum(own, 1e-300)) @ bridge * likelihood
        found[name] = _told(kind, belief / belief.sum(), bool(any(one.errors for one in kinds.values())))
    return found


# ----------------------------------------------------------------------------------------------------------------------


def _check(kind: Errors) -> None:
    if not kind.assumed > 0.0:
        raise OutOfValidRange("assumed", kind.assumed, "more than zero")
    if len(kind.errors) != len(kind.uncertainties):
        found = float(len(kind.uncertainties))
        raise OutOfValidRange("uncertainties", found, f"one for each of {len(kind.errors)} errors")
    for doubt in kind.uncertainties:
        if not doubt >= 0.0:
            raise OutOfValidRange("uncertainties", doubt, "zero or more")


def _likelihood(kind: Errors) -> NDArray[np.float64]:
    """Likelihood of the errors at each factor on the assumption, the largest 1."""
    errors = np.asarray(kind.errors, dtype=float) / kind.assumed
    doubts = np.asarray(kind.uncertainties, dtype=float) / kind.assumed
    square = (np.exp(2.0 * _FACTORS)[:, None] + doubts**2) * (TAIL_FREEDOM - 2.0) / TAIL_FREEDOM
    logs = -0.5 * np.log(square) - 0.5 * (TAIL_FREEDOM + 1.0) * np.log1p(errors**2 / (TAIL_FREEDOM * square))
    total = logs.sum(axis=1)
    found: NDArray[np.float64] = np.exp(total - total.max())
    return found


def _told(kind: Errors, belief: NDArray[np.float64], is_learned: bool) -> LearnedSpread:  # noqa: FBT001  internal
    if not is_learned:
        return LearnedSpread(deviation=kind.assumed, doubt=USUAL_DOUBT, assumed=kind.assumed, results=0, far=0)
    mean = float(belief @ _FACTORS)
    deviation = kind.assumed * math.exp(mean)
    pairs = zip(kind.errors, kind.uncertainties, strict=True)
    return LearnedSpread(
        deviation=deviation,
        doubt=math.sqrt(float(belief @ (_FACTORS - mean) ** 2)),
        assumed=kind.assumed,
        results=len(kind.errors),
        far=sum(abs(error) > FAR * math.hypot(deviation, doubt) for error, doubt in pairs),
    )
