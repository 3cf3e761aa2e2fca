"""What would decide a doubtful verdict: how many repeats, and how small an uncertainty.

More repeats bring down one line of a budget, the repeat scatter; the gauge's limit and a drift stay. Where those alone
are too wide, no number of repeats decides, and that is the answer.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import normal_cdf
from lapwright.metrology.uncertainty import Budget, Contribution, combined_uncertainty
from lapwright.model.order import DecisionRule, Limit
from lapwright.process.decisions import acceptance_range, judge

SCATTER = "repeat scatter"
MOST_REPEATS = 30  # at each site; a longer set outlasts the stand's peace (common practice, no source)
_HALVINGS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class EnoughRepeats:
    """A new set that would decide, if the value stays: repeats at each site, and the uncertainty it would have.

    `chance_accepted` is the chance that the new value, which will be another one, is accepted.
    """

    repeats: int
    standard_uncertainty: float
    degrees_of_freedom: float
    chance_accepted: float


def repeats_to_decide(
    limit: Limit,
    value: float,
    budget: Budget,
    *,
    repeats: float,
    rule: DecisionRule,
    least_sensitivity: float = 0.0,
    most_repeats: int = MOST_REPEATS,
) -> EnoughRepeats | None:
    r"""Fewest repeats at each site of a new set that would decide, if the value stays as it is.

    Parameters
    ----------
    limit : Limit
        What the order asks for, in SI.
    value : float [SI unit of the limit]
        Value judged last.
    budget : Budget
        Its uncertainty, with a line for the repeat scatter.
    repeats : float [1]
        Repeats at each site behind that line, above zero.
    rule : DecisionRule
        The agreed rule.
    least_sensitivity : float [1]
        Part of that line's sensitivity which repeats do not bring down, as that of two zero readings.
    most_repeats : int [1]
        Where the search ends.

    Returns
    -------
    EnoughRepeats or None
        None when no number of repeats up to `most_repeats` decides.

    Raises
    ------
    OutOfValidRange
        Repeats not above zero.

    Notes
    -----
    .. math:: u^2(n) = u_0^2 + s^2\left(c_0^2 + (c^2 - c_0^2)\,\frac{m}{n}\right)

    with :math:`u_0` all other lines, :math:`s` the scatter of one reading, :math:`c` the sensitivity of its line at
    :math:`m` repeats and :math:`c_0` the least. The scatter's degrees of freedom, when it comes from the repeats, grow
    as n − 1. A new set has its own scatter: the chance to be accepted is that of a normal value about this one, with
    the scatter of both sets. The same gauge errs the same way twice.

    References
    ----------
    .. [1] JCGM 100:2008, 4.2.3 (mean of n readings) and G.4.1. Key ``jcgm100``.
    .. [2] JCGM 106:2012, 8.3. Key ``jcgm106``.

    Examples
    --------
    >>> lines = (Contribution(name="repeat scatter", standard_uncertainty=0.3e-6),)
    >>> found = repeats_to_decide(Limit(quantity="ttv", upper=2e-6), 1.7e-6, Budget(contributions=lines),
    ...                           repeats=1, rule=DecisionRule())
    >>> found.repeats, round(found.standard_uncertainty * 1e6, 3)
    (5, 0.134)
    """
    if not repeats > 0.0:
        raise OutOfValidRange("repeats", repeats, "more than zero")
    known = combined_uncertainty(budget, value=value)
    for wanted in range(1, most_repeats + 1):
        anew = _with_repeats(budget, repeats, wanted, least_sensitivity)
        combined = combined_uncertainty(anew, value=value)
        if combined.standard_uncertainty >= known.standard_uncertainty:
            continue
        verdict = judge(limit, value, combined.standard_uncertainty, combined.degrees_of_freedom, rule)
        if verdict.outcome != "cannot_be_decided":
            spread = math.hypot(_scatter(budget), _scatter(anew))
            return EnoughRepeats(
                repeats=wanted,
                standard_uncertainty=combined.standard_uncertainty,
                degrees_of_freedom=combined.degrees_of_freedom,
                chance_accepted=chance_of_acceptance(
                    limit,
                    value,
                    spread,
                    standard_uncertainty=combined.standard_uncertainty,
                    degrees_of_freedom=combined.degrees_of_freedom,
                    rule=rule,
                ),
            )
    return None


def chance_of_acceptance(
    limit: Limit,
    value: float,
    deviation: float,
    *,
    standard_uncertainty: float,
    degrees_of_freedom: float = math.inf,
    rule: DecisionRule,
) -> float:
    """Chance that a value to be measured anew falls where the rule accepts it.

    Parameters
    ----------
    limit : Limit
        What the order asks for, in SI.
    value : float [SI unit of the limit]
        Value known now.
    deviation : float [SI unit of the limit]
        Standard deviation of the new value about it, zero or more.
    standard_uncertainty : float [SI unit of the limit]
        Of the new value.
    degrees_of_freedom : float [1]
        Of that uncertainty.
    rule : DecisionRule
        The agreed rule.

    Returns
    -------
    float [1]
        From 0 to 1.

    Raises
    ------
    OutOfValidRange
        A negative deviation or uncertainty.

    References
    ----------
    .. [1] JCGM 106:2012, 9.5. Key ``jcgm106``.

    Examples
    --------
    >>> limit = Limit(quantity="ttv", upper=2e-6)
    >>> round(chance_of_acceptance(limit, 2e-6, 1e-7, standard_uncertainty=0.0, rule=DecisionRule()), 2)
    0.5
    """
    if not deviation >= 0.0:
        raise OutOfValidRange("deviation", deviation, "zero or more")
    low, high = acceptance_range(limit, standard_uncertainty, rule=rule, degrees_of_freedom=degrees_of_freedom)
    if low is not None and high is not None and low > high:
        return 0.0
    if deviation == 0.0:
        return float((low is None or value >= low) and (high is None or value <= high))
    below = 1.0 if high is None else normal_cdf((high - value) / deviation)
    return below - (0.0 if low is None else normal_cdf((low - value) / deviation))


def uncertainty_that_decides(
    limit: Limit, value: float, *, standard_uncertainty: float, degrees_of_freedom: float = math.inf, rule: DecisionRule
) -> float | None:
    """Largest standard uncertainty, up to the present one, at which a value would be decided.

    Parameters
    ----------
    limit : Limit
        What the order asks for, in SI.
    value : float [SI unit of the limit]
        Value judged.
    standard_uncertainty : float [SI unit of the limit]
        What it is now.
    degrees_of_freedom : float [1]
        Of the uncertainty.
    rule : DecisionRule
        The agreed rule.

    Returns
    -------
    float or None [SI unit of the limit]
        None when no uncertainty decides, as for a value on the limit.

    Notes
    -----
    Found by halving; for one limit and a rule by chance it is the distance to the limit over the quantile [1]_.

    References
    ----------
    .. [1] JCGM 106:2012, 8.3.3. Key ``jcgm106``.

    Examples
    --------
    >>> limit = Limit(quantity="ttv", upper=2e-6)
    >>> round(uncertainty_that_decides(limit, 1.8e-6, standard_uncertainty=3e-7, rule=DecisionRule()) * 1e6, 4)
    0.0974
    """

    def is_decided(uncertainty: float) -> bool:
        return judge(limit, value, uncertainty, degrees_of_freedom, rule).outcome != "cannot_be_decided"

    return standard_uncertainty if is_decided(standard_uncertainty) else _largest(is_decided, standard_uncertainty)


# ----------------------------------------------------------------------------------------------------------------------


def _with_repeats(budget: Budget, repeats: float, wanted: int, least: float) -> Budget:
    lines = [_averaged(line, repeats, wanted, least) for line in budget.contributions]
    return replace(budget, contributions=tuple(lines))


def _averaged(line: Contribution, repeats: float, wanted: int, least: float) -> Contribution:
    if line.name != SCATTER:
        return line
    stays = min(least, abs(line.sensitivity))
    averaged = (line.sensitivity**2 - stays**2) * repeats / wanted
    freedom = line.degrees_of_freedom
    if math.isfinite(freedom) and repeats > 1.0 and wanted > 1:
        freedom *= (wanted - 1.0) / (repeats - 1.0)
    return replace(line, sensitivity=math.sqrt(stays**2 + averaged), degrees_of_freedom=freedom)


def _scatter(budget: Budget) -> float:
    return math.sqrt(math.fsum(line.effect**2 for line in budget.contributions if line.name == SCATTER))


def _largest(is_decided: Callable[[float], bool], undecided: float) -> float | None:
    """The edge between uncertainties that decide and those that do not."""
    decided = undecided * 1e-6
    if not is_decided(decided):
        return None
    for _ in range(_HALVINGS):
        middle = 0.5 * (decided + undecided)
        if is_decided(middle):
            decided = middle
        else:
            undecided = middle
    return decided
