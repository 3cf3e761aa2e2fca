"""Measurement uncertainty to first order: contributions, their combination, the coverage factor.

The law of propagation with optional correlation, effective degrees of freedom by Welch and Satterthwaite, and a
coverage factor from Student's t, as in JCGM 100:2008 (GUM). A budget is data: it can be printed, stored and added to.
Models as text, second-order terms and propagation of distributions: `propagation`, `monte_carlo`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.distributions import normal_cdf, normal_quantile, student_t_cdf, student_t_quantile

__all__ = [
    "Budget",
    "CombinedUncertainty",
    "Contribution",
    "Distribution",
    "arcsine_uncertainty",
    "combined_uncertainty",
    "coverage_factor",
    "effective_degrees_of_freedom",
    "half_width_divisor",
    "normal_cdf",
    "normal_quantile",
    "rectangular_uncertainty",
    "student_t_cdf",
    "student_t_quantile",
    "triangular_uncertainty",
]

Distribution = Literal[
    "normal", "student", "rectangular", "triangular", "trapezoid", "arcsine", "curvilinear_trapezoid",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """One line of an uncertainty budget.

    `value` and `standard_uncertainty` are those of the input quantity in its own SI unit; `sensitivity` is the
    derivative of the result by it; `degrees_of_freedom` says how well the uncertainty itself is known. `shape` is the
    top over the base of a trapezoid, or how far the half-width of a curvilinear trapezoid may be off as a share of it;
    `quoted` is the number as a certificate or data sheet states it (expanded uncertainty, half-width).
    """

    name: str
    standard_uncertainty: float
    value: float = 0.0
    sensitivity: float = 1.0
    degrees_of_freedom: float = math.inf
    distribution: Distribution = "normal"
    shape: float = 0.0
    quoted: float | None = None

    def __post_init__(self) -> None:
        if not self.standard_uncertainty >= 0.0:
            raise OutOfValidRange(f"standard uncertainty of {self.name}", self.standard_uncertainty, "zero or more")
        if not self.degrees_of_freedom > 0.0:
            raise OutOfValidRange(f"degrees of freedom of {self.name}", self.degrees_of_freedom, "more than 0")
        if not 0.0 <= self.shape <= 1.0:
            raise OutOfValidRange(f"shape of the distribution of {self.name}", self.shape, "from 0 to 1")

    @property
    def divisor(self) -> float:
        """What a quoted number is divided by to give the standard uncertainty."""
        if self.quoted is not None and self.standard_uncertainty > 0.0:
            return self.quoted / self.standard_uncertainty
        return half_width_divisor(self.distribution, shape=self.shape)

    @property
    def effect(self) -> float:
        """What this line alone adds to the result, with the sign of its sensitivity."""
        return self.sensitivity * self.standard_uncertainty


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """All contributions to one result. `correlation` holds a row per contribution; None means all independent."""

    contributions: tuple[Contribution, ...]
    correlation: tuple[tuple[float, ...], ...] | None = field(default=None)

    def __post_init__(self) -> None:
        if self.correlation is None:
            return
        count = len(self.contributions)
        if len(self.correlation) != count or any(len(row) != count for row in self.correlation):
            raise ShapeMismatch(
                contributions=(count,), correlation=(len(self.correlation), *{len(row) for row in self.correlation})
            )
        for i in range(count):
            for j in range(count):
                _check_correlation(self.correlation, i, j)


@dataclass(frozen=True, slots=True, kw_only=True)
class CombinedUncertainty:
    """A result with its uncertainty: standard, degrees of freedom, coverage factor, expanded. SI."""

    value: float
    standard_uncertainty: float
    degrees_of_freedom: float
    coverage_factor: float
    expanded_uncertainty: float
    probability: float = 0.95


def half_width_divisor(distribution: Distribution, *, shape: float = 0.0) -> float:
    r"""Half-width of a bounded distribution over its standard deviation; 1 for one without bounds.

    Parameters
    ----------
    distribution : str
        Shape of the probability.
    shape : float [1]
        Trapezoid: top over base. Curvilinear trapezoid: how far the half-width may be off, as a share of it.

    Returns
    -------
    float [1]

    Notes
    -----
    Rectangle :math:`\sqrt3`, triangle :math:`\sqrt6`, sine :math:`\sqrt2`, trapezoid
    :math:`\sqrt{6/(1+\beta^2)}`, curvilinear trapezoid :math:`1/\sqrt{1/3 + \delta^2/9}`.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4.2 to 6.4.6. Key ``jcgm101``.

    Examples
    --------
    >>> round(half_width_divisor("rectangular") ** 2, 6)
    3.0
    """
    if distribution in ("normal", "student"):
        return 1.0
    if distribution == "trapezoid":
        return math.sqrt(6.0 / (1.0 + shape**2))
    if distribution == "curvilinear_trapezoid":
        return 1.0 / math.sqrt(1.0 / 3.0 + shape**2 / 9.0)
    return math.sqrt({"rectangular": 3.0, "triangular": 6.0, "arcsine": 2.0}[distribution])


def rectangular_uncertainty(half_width: float) -> float:
    r"""Standard uncertainty of a value that lies anywhere within plus or minus `half_width`, all equally likely.

    Parameters
    ----------
    half_width : float [unit of the quantity]
        Zero or more.

    Returns
    -------
    float [unit of the quantity]

    Raises
    ------
    OutOfValidRange
        `half_width` is negative.

    Notes
    -----
    .. math:: u = a / \sqrt 3

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7, eq. (7). Key ``jcgm100``.

    Examples
    --------
    >>> round(rectangular_uncertainty(1e-6) * 1e6, 4)
    0.5774
    """
    return _half_width(half_width) / math.sqrt(3.0)


def triangular_uncertainty(half_width: float) -> float:
    r"""Standard uncertainty of a value within plus or minus `half_width`, the middle most likely (triangle).

    Parameters
    ----------
    half_width : float [unit of the quantity]
        Zero or more.

    Returns
    -------
    float [unit of the quantity]

    Raises
    ------
    OutOfValidRange
        `half_width` is negative.

    Notes
    -----
    .. math:: u = a / \sqrt 6

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.9, eq. (9b). Key ``jcgm100``.

    Examples
    --------
    >>> round(triangular_uncertainty(1.0), 4)
    0.4082
    """
    return _half_width(half_width) / math.sqrt(6.0)


def arcsine_uncertainty(half_width: float) -> float:
    r"""Standard uncertainty of a value that swings as a sine between plus and minus `half_width`.

    Parameters
    ----------
    half_width : float [unit of the quantity]
        Amplitude of the swing, zero or more.

    Returns
    -------
    float [unit of the quantity]

    Raises
    ------
    OutOfValidRange
        `half_width` is negative.

    Notes
    -----
    .. math:: u = a / \sqrt 2

    References
    ----------
    .. [1] JCGM 100:2008, H.1.3.4 (cyclic variation of temperature). Key ``jcgm100``.

    Examples
    --------
    >>> round(arcsine_uncertainty(0.5), 4)
    0.3536
    """
    return _half_width(half_width) / math.sqrt(2.0)


def effective_degrees_of_freedom(budget: Budget) -> float:
    r"""Effective degrees of freedom of a combined standard uncertainty (Welch and Satterthwaite).

    Parameters
    ----------
    budget : Budget
        The contributions.

    Returns
    -------
    float [1]
        Not rounded; infinity when nothing uncertain has finite degrees of freedom.

    Notes
    -----
    .. math:: \nu_\mathrm{eff} = u_c^4 \Big/ \sum_i \frac{(c_i u_i)^4}{\nu_i}

    Holds for independent contributions. Contributions that are correlated with each other are taken together as one,
    with the smallest of their degrees of freedom; this is a decision of ours, on the safe side.

    References
    ----------
    .. [1] JCGM 100:2008, G.4.1, eq. (G.2b). Key ``jcgm100``.

    Examples
    --------
    >>> two = Budget(contributions=(Contribution(name="a", standard_uncertainty=1.0, degrees_of_freedom=4.0),
    ...                             Contribution(name="b", standard_uncertainty=1.0, degrees_of_freedom=4.0)))
    >>> effective_degrees_of_freedom(two)
    8.0
    """
    total = _variance(budget, range(len(budget.contributions)))
    lost = 0.0
    for group in _groups(budget):
        variance = _variance(budget, group)
        lost += variance**2 / min(budget.contributions[i].degrees_of_freedom for i in group)
    return total**2 / lost if lost > 0.0 else math.inf


def coverage_factor(degrees_of_freedom: float, *, probability: float = 0.95) -> float:
    """Coverage factor of a two-sided interval that holds the value with the given probability.

    Parameters
    ----------
    degrees_of_freedom : float [1]
        Effective degrees of freedom; cut to the whole number below, never under 1.
    probability : float [1]
        More than 0 and less than 1.

    Returns
    -------
    float [1]

    Raises
    ------
    OutOfValidRange
        `probability` is not inside (0, 1), or `degrees_of_freedom` is not above 0.

    References
    ----------
    .. [1] JCGM 100:2008, G.4.1 (note: truncated to the next lower integer) and table G.2. Key ``jcgm100``.

    Examples
    --------
    >>> round(coverage_factor(16.7, probability=0.99), 2)
    2.92
    """
    whole = degrees_of_freedom if math.isinf(degrees_of_freedom) else max(1.0, math.floor(degrees_of_freedom))
    if not degrees_of_freedom > 0.0:
        raise OutOfValidRange("degrees_of_freedom", degrees_of_freedom, "more than 0")
    return student_t_quantile(0.5 + 0.5 * probability, whole)


def combined_uncertainty(budget: Budget, *, value: float, probability: float = 0.95) -> CombinedUncertainty:
    r"""Combined and expanded uncertainty of a result from its budget.

    Parameters
    ----------
    budget : Budget
        The contributions, with correlation where there is some.
    value : float [unit of the result]
        The result itself; only carried along.
    probability : float [1]
        Coverage of the expanded uncertainty, 0.95 unless told otherwise.

    Returns
    -------
    CombinedUncertainty
        Value, standard uncertainty, effective degrees of freedom, coverage factor, expanded uncertainty.

    Raises
    ------
    OutOfValidRange
        `probability` is not inside (0, 1).

    Notes
    -----
    .. math:: u_c^2 = \sum_i \sum_j c_i u_i \, r_{ij} \, c_j u_j , \quad U = t_p(\nu_\mathrm{eff}) \, u_c

    To first order. When one rectangular contribution outweighs all others the true interval is narrower than U says.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 eq. (11a), 5.2.2 eq. (16), G.4. Key ``jcgm100``.

    Examples
    --------
    >>> gauge = Contribution(name="gauge", standard_uncertainty=3e-7)
    >>> repeats = Contribution(name="repeats", standard_uncertainty=4e-7, degrees_of_freedom=8.0)
    >>> result = combined_uncertainty(Budget(contributions=(gauge, repeats)), value=5e-4)
    >>> round(result.standard_uncertainty * 1e6, 6), round(result.coverage_factor, 3)
    (0.5, 2.093)
    """
    standard = math.sqrt(max(0.0, _variance(budget, range(len(budget.contributions)))))
    degrees = effective_degrees_of_freedom(budget)
    factor = coverage_factor(degrees, probability=probability)
    return CombinedUncertainty(
        value=value,
        standard_uncertainty=standard,
        degrees_of_freedom=degrees,
        coverage_factor=factor,
        expanded_uncertainty=factor * standard,
        probability=probability,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _half_width(half_width: float) -> float:
    if not half_width >= 0.0:
        raise OutOfValidRange("half_width", half_width, "zero or more")
    return half_width


def _check_correlation(correlation: tuple[tuple[float, ...], ...], i: int, j: int) -> None:
    r = correlation[i][j]
    if not -1.0 <= r <= 1.0:
        raise OutOfValidRange("correlation", r, "from -1 to 1")
    if r != correlation[j][i]:
        raise OutOfValidRange("correlation", r, f"the same in both directions ({correlation[j][i]:g})")
    if i == j and r != 1.0:
        raise OutOfValidRange("correlation of a contribution with itself", r, "1")


def _variance(budget: Budget, members: Sequence[int]) -> float:
    effects = [contribution.effect for contribution in budget.contributions]
    if budget.correlation is None:
        return math.fsum(effects[i] ** 2 for i in members)
    return math.fsum(effects[i] * budget.correlation[i][j] * effects[j] for i in members for j in members)


def _groups(budget: Budget) -> list[list[int]]:
    """Contributions that hang together by correlation, one list of indices per group."""
    waiting = list(range(len(budget.contributions)))
    if budget.correlation is None:
        return [[i] for i in waiting]
    groups = []
    while waiting:
        group = [waiting.pop(0)]
        for i in group:
            linked = [j for j in waiting if budget.correlation[i][j] != 0.0]
            group.extend(linked)
            waiting = [j for j in waiting if j not in linked]
        groups.append(group)
    return groups
