"""Intervals of variances: exact for a mean square, modified large-sample for differences and sums of mean squares.

Key ``burdick2003``: R. K. Burdick, C. M. Borror, D. C. Montgomery, J. Qual. Technol. 35 (2003) 342-354, and
N. Ting et al., J. Stat. Comput. Simul. 35 (1990) 135 (both from memory; coverage checked by simulation).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.errors import OutOfValidRange

#: A mean square and its degrees of freedom.
MeanSquare = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class ComponentInterval:
    """A variance estimate with its standard error and interval; ends below zero mean zero, and are told as they are."""

    variance: float
    standard_error: float | None
    low: float
    high: float
    method: str


def mean_square_interval(
    mean_square: float, degrees_of_freedom: float, *, probability: float = 0.95
) -> ComponentInterval:
    r"""Exact interval of the variance behind one mean square, for normal values.

    Parameters
    ----------
    mean_square : float [square of the unit of the values]
        Estimate of the variance.
    degrees_of_freedom : float [1]
        Of the estimate, above 0.
    probability : float [1]
        Of the interval.

    Returns
    -------
    ComponentInterval

    Raises
    ------
    OutOfValidRange
        Degrees of freedom not above zero, a probability outside (0, 1).

    Notes
    -----
    .. math:: \nu s^2 / \chi^2_{1-\alpha/2} \le \sigma^2 \le \nu s^2 / \chi^2_{\alpha/2}

    References
    ----------
    .. [1] D. C. Montgomery, Design and Analysis of Experiments, example 13.1. Key ``montgomery_grr``.

    Examples
    --------
    >>> found = mean_square_interval(0.9916667, 60)
    >>> round(found.low, 4), round(found.high, 4)
    (0.7143, 1.4698)
    """
    small, large = _chi_ratio(degrees_of_freedom, probability)
    return ComponentInterval(
        variance=mean_square,
        standard_error=mean_square * math.sqrt(2.0 / degrees_of_freedom),
        low=mean_square / large,
        high=mean_square / small,
        method="chi-square, exact",
    )


def difference_interval(
    upper: MeanSquare, lower: MeanSquare, *, count: float, probability: float = 0.95
) -> ComponentInterval:
    """Interval of a variance component (upper − lower)/count, by modified large samples.

    Parameters
    ----------
    upper, lower : (float, float)
        Mean square and degrees of freedom of each.
    count : float [1]
        Readings behind one mean of the component.
    probability : float [1]
        Of the interval.

    Returns
    -------
    ComponentInterval
        May reach below zero.

    Raises
    ------
    OutOfValidRange
        Degrees of freedom not above zero, a probability outside (0, 1).

    References
    ----------
    .. [1] Module docstring. Key ``burdick2003``.

    Examples
    --------
    >>> found = difference_interval((62.391, 19.0), (0.712, 38.0), count=6.0)
    >>> round(found.variance, 2), round(found.standard_error, 2), found.low > 0.0
    (10.28, 3.37, True)
    """
    from scipy.special import fdtri

    (large, large_df), (small, small_df) = upper, lower
    below_one, above_one = _chi_ratio(large_df, probability)
    below_two, above_two = _chi_ratio(small_df, probability)
    tail = (1.0 - probability) / 2.0
    high_f, low_f = float(fdtri(large_df, small_df, 1.0 - tail)), float(fdtri(large_df, small_df, tail))
    g_one, h_one = 1.0 - 1.0 / above_one, 1.0 / below_one - 1.0
    g_two, h_two = 1.0 - 1.0 / above_two, 1.0 / below_two - 1.0
    g_both = ((high_f - 1.0) ** 2 - (g_one * high_f) ** 2 - h_two**2) / high_f
    h_both = ((1.0 - low_f) ** 2 - (h_one * low_f) ** 2 - g_two**2) / low_f
    down = (g_one * large) ** 2 + (h_two * small) ** 2 + g_both * large * small
    up = (h_one * large) ** 2 + (g_two * small) ** 2 + h_both * large * small
    error = math.sqrt(2.0 * (large**2 / large_df + small**2 / small_df)) / count
    difference = large - small
    return ComponentInterval(
        variance=difference / count,
        standard_error=error,
        low=(difference - math.sqrt(max(0.0, down))) / count,
        high=(difference + math.sqrt(max(0.0, up))) / count,
        method="modified large-sample",
    )


def sum_interval(weights: Sequence[tuple[float, MeanSquare]], *, probability: float = 0.95) -> ComponentInterval:
    """Interval of a sum of mean squares with weights above zero, by modified large samples.

    Parameters
    ----------
    weights : sequence of (float, (float, float))
        Weight, mean square and degrees of freedom.
    probability : float [1]
        Of the interval.

    Returns
    -------
    ComponentInterval

    Raises
    ------
    OutOfValidRange
        Degrees of freedom not above zero, a probability outside (0, 1).

    References
    ----------
    .. [1] Module docstring. Key ``burdick2003``.

    Examples
    --------
    >>> round(sum_interval([(1.0, (0.9916667, 60.0))]).high, 4)
    1.4698
    """
    total = down = up = error = 0.0
    for weight, (mean_square, degrees) in weights:
        below, above = _chi_ratio(degrees, probability)
        part = weight * mean_square
        total += part
        down += (part * (1.0 - 1.0 / above)) ** 2
        up += (part * (1.0 / below - 1.0)) ** 2
        error += 2.0 * part**2 / degrees
    return ComponentInterval(
        variance=total,
        standard_error=math.sqrt(error),
        low=total - math.sqrt(down),
        high=total + math.sqrt(up),
        method="modified large-sample",
    )


def satterthwaite_interval(
    variance: float, standard_error: float | None, *, probability: float = 0.95
) -> ComponentInterval:
    r"""Interval of a variance as if it were one mean square with matching degrees of freedom.

    Parameters
    ----------
    variance : float [square of the unit of the values]
        Estimate, zero or more.
    standard_error : float, optional [square of the unit of the values]
        Of the estimate; None or an estimate of nought gives an interval without ends.

    probability : float [1]
        Of the interval.

    Returns
    -------
    ComponentInterval
        From 0 to infinity where the data cannot say.

    Raises
    ------
    OutOfValidRange
        A probability outside (0, 1).

    Notes
    -----
    .. math:: \nu = 2 (\sigma^2 / \mathrm{se})^2

    References
    ----------
    .. [1] F. E. Satterthwaite, Biometrics Bulletin 2 (1946) 110. Key ``satterthwaite1946``.

    Examples
    --------
    >>> round(satterthwaite_interval(0.9916667, 0.1810527).high, 3)
    1.47
    """
    if not standard_error or not variance > 0.0:
        return ComponentInterval(
            variance=variance, standard_error=standard_error, low=0.0, high=math.inf, method="cannot be told"
        )
    below, above = _chi_ratio(2.0 * (variance / standard_error) ** 2, probability)
    return ComponentInterval(
        variance=variance,
        standard_error=standard_error,
        low=variance / above,
        high=variance / below,
        method="Satterthwaite",
    )


# ----------------------------------------------------------------------------------------------------------------------


def _chi_ratio(degrees: float, probability: float) -> tuple[float, float]:
    """Lower and upper quantile of chi-square over its degrees of freedom."""
    from scipy.special import gammaincinv

    if not degrees > 0.0:
        raise OutOfValidRange("degrees_of_freedom", degrees, "more than 0")
    if not 0.0 < probability < 1.0:
        raise OutOfValidRange("probability", probability, "more than 0 and less than 1")
    tail = (1.0 - probability) / 2.0
    low, high = gammaincinv(degrees / 2.0, [tail, 1.0 - tail])
    return 2.0 * float(low) / degrees, 2.0 * float(high) / degrees
