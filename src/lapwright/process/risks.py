"""Risks of a decision rule: wrong acceptances and wrong rejections to expect, and what a gauge can prove at all.

What one measured value says is in `decisions`. Here the process before the measurement counts, too: a process that
rarely leaves its limits gives few wrong acceptances even with a poor gauge. Process and gauge are taken as normal.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import normal_cdf, student_t_quantile
from lapwright.model.order import DecisionRule, Limit, Order
from lapwright.model.readings import Gauge
from lapwright.process.decisions import acceptance_range

ENOUGH_RATIO = 4.0  # tolerance over uncertainty that is usually asked for (common practice)
LEAST_RATIO = 1.0
_SYMBOLS = {"ttv": "TTV", "roughness_ra": "Ra", "roughness_sq": "Sq"}  # quantities that everybody names by a symbol


@dataclass(frozen=True, slots=True, kw_only=True)
class Risks:
    """Shares of all pieces: conforming; accepted though outside (consumer's risk); conforming but not accepted.

    `accepted` is the share accepted at all; `wrong_among_accepted` the consumer's risk as a share of those.
    """

    conforming: float
    accepted: float
    consumer: float
    producer: float
    wrong_among_accepted: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofRatio:
    """How many expanded uncertainties fit in half the tolerance, and what that means for an order."""

    ratio: float
    can_prove: bool
    is_enough: bool
    sentence: str


def decision_risks(
    limit: Limit, standard_uncertainty: float, *, process_mean: float, process_deviation: float, rule: DecisionRule
) -> Risks:
    r"""Producer's and consumer's risk of a rule for a process and a gauge.

    Parameters
    ----------
    limit : Limit
        What the order asks for, in SI.
    standard_uncertainty : float [SI unit of the limit]
        Of the measurement, zero or more.
    process_mean : float [SI unit of the limit]
        Mean of the true values that the process gives.
    process_deviation : float [SI unit of the limit]
        Their standard deviation, above zero.
    rule : DecisionRule
        The agreed rule. What cannot be decided counts as not accepted.

    Returns
    -------
    Risks

    Raises
    ------
    OutOfValidRange
        A negative uncertainty or a deviation not above zero.

    Notes
    -----
    .. math:: R_C = \int_{\eta \notin T} g_0(\eta)\, P(y \in A \mid \eta)\, d\eta, \quad
              R_P = \int_{\eta \in T} g_0(\eta)\, P(y \notin A \mid \eta)\, d\eta

    with A the acceptance range of `decisions.acceptance_range`.

    References
    ----------
    .. [1] JCGM 106:2012, 9.5, eqs. (27) and (28). Key ``jcgm106``.

    Examples
    --------
    >>> limit = Limit(quantity="thickness", lower=-2.0, upper=2.0)
    >>> found = decision_risks(limit, 0.25, process_mean=0.0, process_deviation=1.0, rule=DecisionRule(kind="simple"))
    >>> round(found.conforming, 4), round(found.consumer, 4), round(found.producer, 4)
    (0.9545, 0.008, 0.0149)
    """
    if not process_deviation > 0.0:
        raise OutOfValidRange("process_deviation", process_deviation, "more than zero")
    low, high = acceptance_range(limit, standard_uncertainty, rule=rule)
    places, weights = np.polynomial.legendre.leggauss(60)
    conforming = accepted = consumer = 0.0
    edges = _edges(limit, low, high, process_mean, process_deviation, standard_uncertainty)
    for start, end in pairwise(edges):
        middle, half = 0.5 * (start + end), 0.5 * (end - start)
        inside = (limit.lower is None or middle >= limit.lower) and (limit.upper is None or middle <= limit.upper)
        for place, weight in zip(places.tolist(), weights.tolist(), strict=True):
            true = middle + half * place
            z = (true - process_mean) / process_deviation
            mass = weight * half * math.exp(-0.5 * z * z) / (process_deviation * math.sqrt(2.0 * math.pi))
            chance = _acceptance(true, low, high, standard_uncertainty)
            accepted += mass * chance
            conforming += mass if inside else 0.0
            consumer += 0.0 if inside else mass * chance
    return Risks(
        conforming=conforming,
        accepted=accepted,
        consumer=consumer,
        producer=conforming - (accepted - consumer),
        wrong_among_accepted=consumer / accepted if accepted > 0.0 else None,
    )


def with_prior_knowledge(
    value: float, standard_uncertainty: float, *, process_mean: float, process_deviation: float
) -> tuple[float, float]:
    """Best estimate and standard uncertainty when process and measured value are both taken into account.

    Parameters
    ----------
    value : float [SI unit of the value]
        Measured value.
    standard_uncertainty : float [SI unit of the value]
        Of the measurement, above zero.
    process_mean : float [SI unit of the value]
        What the process gives on average.
    process_deviation : float [SI unit of the value]
        How much it varies, above zero.

    Returns
    -------
    (float, float) [SI unit of the value]

    Raises
    ------
    OutOfValidRange
        An uncertainty or deviation not above zero.

    References
    ----------
    .. [1] JCGM 106:2012, 7.2 and A.4.4. Key ``jcgm106``.

    Examples
    --------
    >>> with_prior_knowledge(3.0, 1.0, process_mean=1.0, process_deviation=1.0)
    (2.0, 0.7071067811865476)
    """
    for name, number in (
        ("standard_uncertainty", standard_uncertainty), ("process_deviation", process_deviation),
    ):  # fmt: skip
        if not number > 0.0:
            raise OutOfValidRange(name, number, "more than zero")
    measured, known = standard_uncertainty**-2, process_deviation**-2
    return (measured * value + known * process_mean) / (measured + known), (measured + known) ** -0.5


def proof_ratio(limit: Limit, standard_uncertainty: float, *, degrees_of_freedom: float = math.inf) -> ProofRatio:
    r"""How many expanded uncertainties half a tolerance holds: whether a gauge can prove what is asked.

    Parameters
    ----------
    limit : Limit
        What the order asks for, in SI. A single upper limit is taken to begin at nought, as TTV and roughness do.
    standard_uncertainty : float [SI unit of the limit]
        Of one result, above zero.
    degrees_of_freedom : float [1]
        Of the uncertainty.

    Returns
    -------
    ProofRatio

    Raises
    ------
    OutOfValidRange
        An uncertainty not above zero, or a limit that is a lower one only.

    Notes
    -----
    .. math:: (T_U - T_L) / 2U

    Four is usually asked for; at one the guard bands of one U meet and nothing can be accepted.

    References
    ----------
    .. [1] JCGM 106:2012, 3.3.17 (measurement capability index C_m, the same ratio for k = 2). Key ``jcgm106``.

    Examples
    --------
    >>> proof_ratio(Limit(quantity="thickness", lower=98e-6, upper=102e-6), 0.25e-6).is_enough
    True
    """
    if not standard_uncertainty > 0.0:
        raise OutOfValidRange("standard_uncertainty", standard_uncertainty, "more than zero")
    if limit.upper is None:
        advice = "A lower limit alone has no width to compare with."
        raise OutOfValidRange("upper limit", math.nan, "a number", advice)
    expanded = student_t_quantile(0.975, degrees_of_freedom) * standard_uncertainty
    ratio = (limit.upper - (limit.lower or 0.0)) / (2.0 * expanded)
    name = _SYMBOLS.get(limit.quantity) or limit.quantity.replace("_", " ")
    if ratio <= LEAST_RATIO:
        sentence = f"The gauge cannot prove the limit on {name}: its expanded uncertainty fills half the tolerance."
    elif ratio < ENOUGH_RATIO:
        sentence = (
            f"Half the tolerance of {name} is only {ratio:.1f} expanded uncertainties (usual: 4): many good pieces "
            "will not be decided. More repeats or a better gauge help."
        )
    else:
        sentence = f"Half the tolerance of {name} is {ratio:.1f} expanded uncertainties: enough."
    return ProofRatio(ratio=ratio, can_prove=ratio > LEAST_RATIO, is_enough=ratio >= ENOUGH_RATIO, sentence=sentence)


def order_proofs(order: Order, gauges: Sequence[Gauge]) -> tuple[ProofRatio, ...]:
    r"""For each limit on thickness and TTV, how well the best of several gauges can prove it.

    Parameters
    ----------
    order : Order
        The order with its limits.
    gauges : sequence of Gauge
        Gauges at hand.

    Returns
    -------
    tuple of ProofRatio
        Limits of which no gauge is known well enough are left out.

    Notes
    -----
    One reading at each site. Thickness: accuracy limit and, where known, repeatability; TTV: local error and
    repeatability of two sites, the accuracy limit drops out.

    Examples
    --------
    >>> from lapwright.model.wafer import Round
    >>> order = Order(order_id="o", customer="c", material="m", outline=Round(diameter=0.05), quantity=1,
    ...               start_thickness=5e-4, target_thickness=1e-4, edge_exclusion=1e-3, hold="free",
    ...               limits=(Limit(quantity="thickness", lower=98e-6, upper=102e-6),))
    >>> order_proofs(order, [Gauge(gauge_id="g", name="g", limit=2e-6)])[0].can_prove
    False
    """
    found = []
    for limit in order.limits:
        if limit.upper is None or limit.quantity not in _REACH:
            continue
        known = [_REACH[limit.quantity](gauge) for gauge in gauges]
        uncertainties = [one for one in known if one is not None and one > 0.0]
        if uncertainties:
            found.append(proof_ratio(limit, min(uncertainties)))
    return tuple(found)


# ----------------------------------------------------------------------------------------------------------------------


def _thickness_reach(gauge: Gauge) -> float | None:
    return math.hypot(gauge.limit / math.sqrt(3.0), gauge.repeatability or 0.0)


def _ttv_reach(gauge: Gauge) -> float | None:
    if gauge.local is None or gauge.repeatability is None:
        return None
    return math.sqrt(2.0) * math.hypot(gauge.local / math.sqrt(3.0), gauge.repeatability)


_REACH: dict[str, Callable[[Gauge], float | None]] = {"thickness": _thickness_reach, "ttv": _ttv_reach}


def _edges(
    limit: Limit, low: float | None, high: float | None, mean: float, deviation: float, uncertainty: float
) -> list[float]:
    """Pieces of the range of true values on which everything is smooth."""
    reach = 9.0 * deviation
    marks = [edge for edge in (limit.lower, limit.upper) if edge is not None]
    marks += [edge + side * uncertainty for edge in (low, high) if edge is not None for side in (-8, -3, 0, 3, 8)]
    inner = sorted({mark for mark in marks if mean - reach < mark < mean + reach})
    middle = [mean + step * deviation for step in (-5, -2, 0, 2, 5)]
    return sorted({mean - reach, mean + reach, *inner, *middle})


def _acceptance(true: float, low: float | None, high: float | None, uncertainty: float) -> float:
    """Chance that a piece of this true value is accepted."""
    if low is not None and high is not None and low > high:
        return 0.0
    if uncertainty == 0.0:
        return float((low is None or true >= low) and (high is None or true <= high))
    below = 1.0 if high is None else normal_cdf((high - true) / uncertainty)
    return below - (0.0 if low is None else normal_cdf((low - true) / uncertainty))
