"""Normal, Student t and F distributions, as far as coverage factors and tests of readings need them.

Our own, so that a command which only computes a few coverage factors need not load a large library. Student's t and F
go through the regularised incomplete beta function (continued fraction, modified Lentz method); the normal
distribution through `math.erfc`. Checked against an independent library in the tests to 1e-9 relative.

References: M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 1964, 26.2.23, 26.5.8, 26.7.5 (from
memory); W. J. Lentz, Applied Optics 15 (1976) 668 (from memory).
"""

from __future__ import annotations

import math
from functools import lru_cache

from lapwright.errors import DidNotConverge, OutOfValidRange

_MANY_DEGREES = 1000.0  # above this the asymptotic series of t is better than 1e-9
_NEAR_MIDDLE = 1e-6  # of a half: nearer to it the course of t is straight
_STEPS = 500


def normal_cdf(z: float) -> float:
    """Probability that a standard normal value is at most `z`.

    Parameters
    ----------
    z : float [1]
        Standardised value.

    Returns
    -------
    float [1]
        From 0 to 1.

    Examples
    --------
    >>> round(normal_cdf(1.4), 5)
    0.91924
    """
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def normal_quantile(probability: float) -> float:
    """Standard normal value that is not exceeded with the given probability.

    Parameters
    ----------
    probability : float [1]
        More than 0 and less than 1.

    Returns
    -------
    float [1]

    Raises
    ------
    OutOfValidRange
        `probability` is not inside (0, 1).

    Notes
    -----
    Start from the rational approximation 26.2.23 of Abramowitz and Stegun, then Newton steps on the tail itself.

    Examples
    --------
    >>> round(normal_quantile(0.975), 6)
    1.959964
    """
    _need_probability(probability)
    if probability > 0.5:
        return -normal_quantile(1.0 - probability) if probability < 1.0 - 1e-3 else _upper_normal(1.0 - probability)
    if probability == 0.5:
        return 0.0
    return -_upper_normal(probability)


def student_t_cdf(t: float, degrees_of_freedom: float) -> float:
    r"""Probability that a Student t value is at most `t`.

    Parameters
    ----------
    t : float [1]
        Value.
    degrees_of_freedom : float [1]
        More than 0; infinity gives the normal distribution.

    Returns
    -------
    float [1]
        From 0 to 1.

    Raises
    ------
    OutOfValidRange
        `degrees_of_freedom` is not above 0.

    Notes
    -----
    .. math:: P(|T| > t) = I_{\nu/(\nu + t^2)}(\nu/2, 1/2)

    Examples
    --------
    >>> round(student_t_cdf(1.0, 1.0), 6)
    0.75
    """
    _need_degrees(degrees_of_freedom)
    if math.isinf(degrees_of_freedom):
        return normal_cdf(t)
    tail = 0.5 * _t_two_tails(abs(t), degrees_of_freedom)
    return tail if t < 0.0 else 1.0 - tail


def student_t_quantile(probability: float, degrees_of_freedom: float) -> float:
    """Student t value that is not exceeded with the given probability.

    Parameters
    ----------
    probability : float [1]
        More than 0 and less than 1.
    degrees_of_freedom : float [1]
        More than 0; infinity gives the normal quantile.

    Returns
    -------
    float [1]

    Raises
    ------
    OutOfValidRange
        `probability` is not inside (0, 1), or `degrees_of_freedom` is not above 0.

    Examples
    --------
    >>> round(student_t_quantile(0.975, 16), 3)
    2.12
    """
    _need_probability(probability)
    _need_degrees(degrees_of_freedom)
    if probability == 0.5:
        return 0.0
    if probability < 0.5:
        return -_upper_t(probability, degrees_of_freedom)
    return _upper_t(1.0 - probability, degrees_of_freedom)


def f_tail(ratio: float, upper_degrees: float, lower_degrees: float) -> float:
    """Probability that a ratio of two estimates of one variance is larger than the one found (Fisher's F).

    Parameters
    ----------
    ratio : float [1]
        Zero or more.
    upper_degrees : float [1]
        Degrees of freedom of the estimate in the numerator.
    lower_degrees : float [1]
        Degrees of freedom of the estimate in the denominator.

    Returns
    -------
    float [1]
        From 0 to 1.

    Raises
    ------
    OutOfValidRange
        Degrees of freedom not above 0.

    Examples
    --------
    >>> round(f_tail(1.0, 4.0, 4.0), 6)
    0.5
    """
    _need_degrees(upper_degrees)
    _need_degrees(lower_degrees)
    if ratio <= 0.0:
        return 1.0
    return _incomplete_beta(
        lower_degrees / (lower_degrees + upper_degrees * ratio), lower_degrees / 2, upper_degrees / 2
    )


# ----------------------------------------------------------------------------------------------------------------------


def _upper_normal(tail: float) -> float:
    """The z with P(Z > z) = tail, for tail < 0.5."""
    root = math.sqrt(-2.0 * math.log(tail))
    top = 2.515517 + root * (0.802853 + root * 0.010328)
    bottom = 1.0 + root * (1.432788 + root * (0.189269 + root * 0.001308))
    z = root - top / bottom
    for _ in range(4):
        density = math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
        z += (0.5 * math.erfc(z / math.sqrt(2.0)) - tail) / density
    return z


@lru_cache(maxsize=1024)  # a budget has whole degrees and one of few chances: the same few are asked for all day
def _upper_t(tail: float, degrees: float) -> float:
    """The t with P(T > t) = tail, for tail < 0.5."""
    z = _upper_normal(tail)
    if math.isinf(degrees):
        return z
    if degrees >= _MANY_DEGREES:
        return _t_series(z, degrees)
    if 0.5 - tail < _NEAR_MIDDLE:  # as steep as there to first order, 1e-12 of it
        return (0.5 - tail) / _t_density(0.0, degrees)
    low, high = 0.0, math.inf
    t = _t_series(z, degrees) if degrees >= 2.0 else z
    for _ in range(_STEPS):
        excess = 0.5 * _t_two_tails(t, degrees) - tail
        low, high = (t, high) if excess > 0.0 else (low, t)
        nearer = t + excess / _t_density(t, degrees)
        is_newton = low < nearer < high
        if not is_newton:
            nearer = 0.5 * (low + high) if high < math.inf else 2.0 * t
        is_near = is_newton and abs(nearer - t) <= 1e-9 * t  # the next error is its square
        if is_near or high - low <= 4e-16 * t:
            return nearer
        t = nearer
    raise DidNotConverge("The Student t quantile", steps=_STEPS, last=high - low)


def _t_density(t: float, degrees: float) -> float:
    log_front = math.lgamma((degrees + 1.0) / 2.0) - math.lgamma(degrees / 2.0)
    log_tail = (degrees + 1.0) / 2.0 * math.log1p(t * t / degrees)
    return math.exp(log_front - log_tail) / math.sqrt(degrees * math.pi)


def _t_series(z: float, degrees: float) -> float:
    """Abramowitz and Stegun 26.7.5, four terms."""
    z2 = z * z
    first = z * (z2 + 1.0) / 4.0
    second = z * (3.0 + z2 * (16.0 + 5.0 * z2)) / 96.0
    third = z * (-15.0 + z2 * (17.0 + z2 * (19.0 + 3.0 * z2))) / 384.0
    fourth = z * (-945.0 + z2 * (-1920.0 + z2 * (1482.0 + z2 * (776.0 + 79.0 * z2)))) / 92160.0
    return z + (first + (second + (third + fourth / degrees) / degrees) / degrees) / degrees


def _t_two_tails(t: float, degrees: float) -> float:
    return _incomplete_beta(degrees / (degrees + t * t), degrees / 2.0, 0.5)


def _incomplete_beta(x: float, a: float, b: float) -> float:
    """Regularised incomplete beta function I_x(a, b)."""
    if x <= 0.0:
        return 0.0
    if x >= 1.0:
        return 1.0
    front = math.exp(math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x))
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _beta_fraction(x, a, b) / a
    return 1.0 - front * _beta_fraction(1.0 - x, b, a) / b


def _beta_fraction(x: float, a: float, b: float) -> float:
    """Continued fraction 26.5.8 by the modified Lentz method."""
    tiny = 1e-300
    c, d = 1.0, 1.0 - (a + b) * x / (a + 1.0)
    d = 1.0 / (d if abs(d) > tiny else tiny)
    fraction = d
    for m in range(1, _STEPS):
        for numerator in (
            m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0)),
        ):
            d = 1.0 + numerator * d
            d = 1.0 / (d if abs(d) > tiny else tiny)
            c = 1.0 + numerator / c
            c = c if abs(c) > tiny else tiny
            fraction *= c * d
        if abs(c * d - 1.0) < 1e-15:
            return fraction
    raise DidNotConverge("The incomplete beta function", steps=_STEPS)


def _need_probability(probability: float) -> None:
    if not 0.0 < probability < 1.0:
        raise OutOfValidRange("probability", probability, "more than 0 and less than 1")


def _need_degrees(degrees: float) -> None:
    if not degrees > 0.0:
        raise OutOfValidRange("degrees_of_freedom", degrees, "more than 0")
