"""Judge a value against a limit, with its uncertainty: conforms, does not conform, cannot be decided.

A verdict is a value, never an exception. The chance of being inside the limit is that of JCGM 106:2012, clause 7, from
the value's own distribution alone (no knowledge of the process before the measurement is added).
"""

from __future__ import annotations

import math

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import student_t_cdf, student_t_quantile
from lapwright.model.order import DecisionRule, Limit
from lapwright.model.verdict import Outcome, Verdict

_COVERAGE = 0.95


def chance_inside(
    limit: Limit, value: float, standard_uncertainty: float, *, degrees_of_freedom: float = math.inf
) -> float:
    r"""Chance that the true value lies inside a limit, given what was measured.

    Parameters
    ----------
    limit : Limit
        One-sided or two-sided, in SI.
    value : float [SI unit of the limit]
        Measured value.
    standard_uncertainty : float [SI unit of the limit]
        Zero or more.
    degrees_of_freedom : float [1]
        Of the uncertainty; infinity when it is well known.

    Returns
    -------
    float [1]
        From 0 to 1.

    Raises
    ------
    OutOfValidRange
        A negative uncertainty, or degrees of freedom not above zero.

    Notes
    -----
    .. math:: p_c = F\!\left(\frac{T_U - y}{u}\right) - F\!\left(\frac{T_L - y}{u}\right)

    F is Student's t distribution (normal for infinite degrees of freedom). With u = 0 the chance is 0 or 1; a value on
    the limit is inside.

    References
    ----------
    .. [1] JCGM 106:2012, 7.3 and 7.4. Key ``jcgm106``.

    Examples
    --------
    >>> round(chance_inside(Limit(quantity="ttv", upper=-5.40), -5.47, 0.05), 5)
    0.91924
    """
    if not standard_uncertainty >= 0.0:
        raise OutOfValidRange("standard_uncertainty", standard_uncertainty, "zero or more")
    if standard_uncertainty == 0.0:
        return float(_is_inside(limit, value))
    below = 1.0 if limit.upper is None else _share(limit.upper, value, standard_uncertainty, degrees_of_freedom)
    under = 0.0 if limit.lower is None else _share(limit.lower, value, standard_uncertainty, degrees_of_freedom)
    return max(0.0, below - under)


def judge(
    limit: Limit,
    value: float,
    standard_uncertainty: float | None,
    degrees_of_freedom: float = math.inf,
    rule: DecisionRule | None = None,
) -> Verdict:
    """Verdict on one value against one limit, under a decision rule.

    Parameters
    ----------
    limit : Limit
        What the order asks for, in SI.
    value : float [SI unit of the limit]
        Measured value; NaN when it was not measured.
    standard_uncertainty : float [SI unit of the limit], optional
        None when it is not known: then nothing can be decided, and the verdict says so.
    degrees_of_freedom : float [1]
        Of the uncertainty; infinity when it is well known.
    rule : DecisionRule, optional
        ``simple``: the value alone decides. ``guarded``: accepted when the chance of being outside is at most
        `false_accept`, rejected when the chance of being inside is at most that, else not decided; with a
        `guard_factor`, accepted at least that many expanded uncertainties inside and rejected as many outside. The
        default is guarded at 2 %.

    Returns
    -------
    Verdict
        Its `chance_inside` is None where the uncertainty is unknown.

    Raises
    ------
    OutOfValidRange
        A negative uncertainty, or degrees of freedom not above zero.

    Notes
    -----
    With the simple rule the chance of a wrong verdict reaches 50 % at the limit; the verdict carries it.

    References
    ----------
    .. [1] JCGM 106:2012, 8.2 (simple acceptance) and 8.3 (guard bands). Key ``jcgm106``.

    Examples
    --------
    >>> judge(Limit(quantity="ttv", upper=2e-6), 1.9e-6, 0.3e-6).outcome
    'cannot_be_decided'
    """
    agreed = DecisionRule() if rule is None else rule
    if not math.isfinite(value):
        return _undecided(limit, value, agreed, "It was not measured.")
    if standard_uncertainty is None:
        reason = (
            "The uncertainty is not known, so nothing can be said of the chance to be inside. State the gauge's limit."
        )
        return _undecided(limit, value, agreed, reason)
    chance = chance_inside(limit, value, standard_uncertainty, degrees_of_freedom=degrees_of_freedom)
    factor = student_t_quantile(0.5 + _COVERAGE / 2.0, degrees_of_freedom)
    if agreed.guard_factor is None:
        outcome, reason = _decided(limit, value, chance, agreed)
    else:
        outcome, reason = _decided_by_band(limit, value, chance, agreed.guard_factor * factor * standard_uncertainty)
    return Verdict(
        limit=limit,
        value=value,
        expanded_uncertainty=factor * standard_uncertainty,
        coverage_factor=factor,
        rule=agreed,
        outcome=outcome,
        chance_inside=chance,
        reason=reason,
    )


def guard_band(standard_uncertainty: float, *, false_accept: float, degrees_of_freedom: float = math.inf) -> float:
    r"""Width by which an acceptance limit lies inside a one-sided tolerance limit.

    Parameters
    ----------
    standard_uncertainty : float [SI unit of the limit]
        Zero or more.
    false_accept : float [1]
        Largest chance to accept a part that is outside, between 0 and 0.5.
    degrees_of_freedom : float [1]
        Of the uncertainty.

    Returns
    -------
    float [SI unit of the limit]

    Raises
    ------
    OutOfValidRange
        A negative uncertainty, or a chance outside (0, 0.5).

    Notes
    -----
    .. math:: w = u \, t_{1 - \alpha}(\nu)

    With infinite degrees of freedom and 5 %, w = 1.645 u.

    References
    ----------
    .. [1] JCGM 106:2012, 8.3.3. Key ``jcgm106``.

    Examples
    --------
    >>> round(guard_band(1.0, false_accept=0.05), 4)
    1.6449
    """
    if not standard_uncertainty >= 0.0:
        raise OutOfValidRange("standard_uncertainty", standard_uncertainty, "zero or more")
    if not 0.0 < false_accept < 0.5:
        raise OutOfValidRange("false_accept", false_accept, "more than 0 and less than 0.5")
    return standard_uncertainty * student_t_quantile(1.0 - false_accept, degrees_of_freedom)


def factor_guard_band(standard_uncertainty: float, *, factor: float, degrees_of_freedom: float = math.inf) -> float:
    r"""Width of a guard band that is a multiple of the expanded uncertainty (95 %).

    Parameters
    ----------
    standard_uncertainty : float [SI unit of the limit]
        Zero or more.
    factor : float [1]
        Multiple of U; 1 is the usual band of one U.
    degrees_of_freedom : float [1]
        Of the uncertainty.

    Returns
    -------
    float [SI unit of the limit]

    Raises
    ------
    OutOfValidRange
        A negative uncertainty or factor.

    Notes
    -----
    .. math:: w = r U, \quad U = t_{0.975}(\nu) u

    References
    ----------
    .. [1] JCGM 106:2012, 8.3.2. Key ``jcgm106``.

    Examples
    --------
    >>> round(factor_guard_band(1.0, factor=1.0), 2)
    1.96
    """
    for name, number in (("standard_uncertainty", standard_uncertainty), ("factor", factor)):
        if not number >= 0.0:
            raise OutOfValidRange(name, number, "zero or more")
    return factor * standard_uncertainty * student_t_quantile(0.5 + _COVERAGE / 2.0, degrees_of_freedom)


def acceptance_range(
    limit: Limit, standard_uncertainty: float, *, rule: DecisionRule, degrees_of_freedom: float = math.inf
) -> tuple[float | None, float | None]:
    """Lowest and highest measured value that a rule accepts, each limit taken by itself.

    Parameters
    ----------
    limit : Limit
        What the order asks for, in SI.
    standard_uncertainty : float [SI unit of the limit]
        Zero or more.
    rule : DecisionRule
        The agreed rule.
    degrees_of_freedom : float [1]
        Of the uncertainty.

    Returns
    -------
    (float or None, float or None) [SI unit of the limit]
        None where there is no limit. The lowest above the highest means that nothing can be accepted.

    Raises
    ------
    OutOfValidRange
        A negative uncertainty.

    Notes
    -----
    With a tolerance of few uncertainties the chance of being outside on the other side counts too, and `judge`, which
    adds both, accepts a little less.

    References
    ----------
    .. [1] JCGM 106:2012, 8.3.2. Key ``jcgm106``.

    Examples
    --------
    >>> limit = Limit(quantity="ttv", upper=2e-6)
    >>> low, high = acceptance_range(limit, 0.2e-6, rule=DecisionRule(false_accept=0.05))
    >>> low, round(high * 1e6, 3)
    (None, 1.671)
    """
    if rule.kind == "simple":
        band = 0.0
    elif rule.guard_factor is not None:
        band = factor_guard_band(standard_uncertainty, factor=rule.guard_factor, degrees_of_freedom=degrees_of_freedom)
    else:
        band = guard_band(standard_uncertainty, false_accept=rule.false_accept, degrees_of_freedom=degrees_of_freedom)
    return (
        None if limit.lower is None else limit.lower + band,
        None if limit.upper is None else limit.upper - band,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _share(edge: float, value: float, standard_uncertainty: float, degrees_of_freedom: float) -> float:
    return student_t_cdf((edge - value) / standard_uncertainty, degrees_of_freedom)


def _is_inside(limit: Limit, value: float) -> bool:
    above = limit.lower is None or value >= limit.lower
    return above and (limit.upper is None or value <= limit.upper)


def _decided(limit: Limit, value: float, chance: float, rule: DecisionRule) -> tuple[Outcome, str]:
    inside = _is_inside(limit, value)
    if rule.kind == "simple":
        risk = 1.0 - chance if inside else chance
        side = "inside" if inside else "outside"
        reason = f"The value is {side} the limit; the chance that this verdict is wrong is {risk:.1%}."
        return ("conforms" if inside else "does_not_conform"), reason
    if 1.0 - chance <= rule.false_accept:
        return (
            "conforms",
            f"The chance of being outside is {1.0 - chance:.1%}, at most the agreed {rule.false_accept:.1%}.",
        )
    if chance <= rule.false_accept:
        return (
            "does_not_conform",
            f"The chance of being inside is {chance:.1%}, at most the agreed {rule.false_accept:.1%}.",
        )
    reason = (
        f"The chance of being inside is {chance:.1%}: neither accepted nor rejected at the agreed "
        f"{rule.false_accept:.1%}. Measure again, with more repeats or a better gauge."
    )
    return "cannot_be_decided", reason


def _decided_by_band(limit: Limit, value: float, chance: float, band: float) -> tuple[Outcome, str]:
    """Inside by at least the band, outside by at least the band, or neither."""
    distances = [
        *([] if limit.upper is None else [limit.upper - value]),
        *([] if limit.lower is None else [value - limit.lower]),
    ]
    nearest = min(distances)
    told = f"the chance of being inside is {chance:.1%}"
    if nearest >= band:
        return "conforms", f"The value lies inside by at least the agreed guard band; {told}."
    if nearest <= -band:
        return "does_not_conform", f"The value lies outside by at least the agreed guard band; {told}."
    reason = (
        f"The value lies within the agreed guard band of the limit; {told}. Measure again, with more repeats or a "
        "better gauge."
    )
    return "cannot_be_decided", reason


def _undecided(limit: Limit, value: float, rule: DecisionRule, reason: str) -> Verdict:
    return Verdict(
        limit=limit,
        value=value,
        expanded_uncertainty=None,
        rule=rule,
        outcome="cannot_be_decided",
        chance_inside=None,
        reason=reason,
    )
