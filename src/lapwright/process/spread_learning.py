"""How far a lab's own stops and wedges scatter, learned from what was recorded, begun with the usual value.

A spread is believed as it is assumed until there are own results; each of them then counts as one, the assumption as
eight. What the readings themselves scatter is taken out, and a poor reading counts for less. A run that went wrong
tells of trouble and not of the usual scatter: it counts for three deviations at most.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.errors import OutOfValidRange

PRIOR_RESULTS = 8.0  # own results that the assumption is worth (own judgement)
MOST = 3.0  # deviations for which a single result counts at most (own judgement)
LEAST_SHARE = 0.25  # of the assumption; no history makes a stop better than that (own judgement)


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedSpread:
    """A standard deviation to plan with [SI unit of the errors], the one assumed, and how many own results it rests on.

    `held_back` of them lay beyond what counts.
    """

    deviation: float
    assumed: float
    results: int
    held_back: int


def learned_spread(
    errors: Sequence[float], uncertainties: Sequence[float], *, assumed: float, prior_results: float = PRIOR_RESULTS
) -> LearnedSpread:
    r"""Standard deviation of errors about zero, from own results and an assumption.

    Parameters
    ----------
    errors : sequence of float [SI unit of the errors]
        As read, in the order taken; none is allowed.
    uncertainties : sequence of float [SI unit of the errors]
        Standard uncertainty of each as a reading, zero or more.
    assumed : float [SI unit of the errors]
        Deviation taken while there are none, more than zero.
    prior_results : float [1]
        How many own results the assumption is worth, more than zero.

    Returns
    -------
    LearnedSpread
        The assumption itself when there are no errors.

    Raises
    ------
    OutOfValidRange
        An assumption or a weight not above zero, a negative uncertainty, or not as many of them as of errors.

    Notes
    -----
    The mean of a scaled inverse chi-squared distribution in which the assumption stands for :math:`\nu_0` results [1]_:

    .. math:: s^2 = \frac{\nu_0 s_0^2 + \sum_i w_i (e_i^2 - u_i^2)}{\nu_0 + \sum_i w_i}, \quad
        w_i = \left(\frac{s^2}{s^2 + u_i^2}\right)^2

    one after another, each square at most :math:`9 (s^2 + u_i^2)`, and :math:`s \ge s_0/4` throughout. The
    weight is what a result tells of a variance beside one read without error. A steady error of the stops counts as
    scatter: the plan does not know its sign.

    References
    ----------
    .. [1] A. Gelman et al., "Bayesian Data Analysis", 3rd ed. (2013), section 2.6, normal with known mean. Key
       ``gelman2013``.

    Examples
    --------
    >>> learned_spread([], [], assumed=0.6e-6).deviation
    6e-07
    >>> found = learned_spread([1.2e-6, -1.2e-6] * 20, [0.0] * 40, assumed=0.6e-6)
    >>> round(found.deviation * 1e6, 2), found.results
    (1.12, 40)
    """
    for name, value in (("assumed", assumed), ("prior_results", prior_results)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero")
    if len(errors) != len(uncertainties):
        raise OutOfValidRange("uncertainties", float(len(uncertainties)), f"one for each of {len(errors)} errors")
    square, weight, held_back = assumed**2, prior_results, 0
    least = (LEAST_SHARE * assumed) ** 2
    for error, doubt in zip(errors, uncertainties, strict=True):
        if not doubt >= 0.0:
            raise OutOfValidRange("uncertainties", doubt, "zero or more")
        own, most = error**2 - doubt**2, MOST**2 * (square + doubt**2)
        told = (square / (square + doubt**2)) ** 2
        held_back += own > most
        square = max((weight * square + told * min(own, most)) / (weight + told), least)
        weight += told
    return LearnedSpread(
        deviation=math.sqrt(square) if len(errors) else assumed,
        assumed=assumed,
        results=len(errors),
        held_back=held_back,
    )
