"""The steps of the two-state filter behind the endpoint: covariance ahead, gains, wander of the rate."""

from __future__ import annotations

import math

SETTLING_GAIN = 60.0  # how much freer the rate is at the very start of a run than later


def spread_ahead(p11: float, p12: float, p22: float, step: float, density: float) -> tuple[float, float, float]:
    """Covariance of [removed, rate] one step later, while the rate wanders.

    Parameters
    ----------
    p11, p12, p22 : float [m², m²/s, m²/s²]
        Covariance now.
    step : float [s]
        Length of the step, zero or more.
    density : float [m²/s³]
        Density of the wander of the rate.

    Returns
    -------
    (float, float, float)
        P11 + 2 s P12 + s² P22 + q s³/3, P12 + s P22 + q s²/2, P22 + q s.

    Examples
    --------
    >>> spread_ahead(0.0, 0.0, 1.0, 2.0, 0.0)
    (4.0, 2.0, 1.0)
    """
    half = 0.5 * density * step
    return (
        p11 + step * (2.0 * p12 + step * (p22 + half / 1.5)),
        p12 + step * (p22 + half),
        p22 + 2.0 * half,
    )


def gains(p11: float, p12: float, variance: float) -> tuple[float, float]:
    """How far a reading's deviation moves the removal [1] and the rate [1/s].

    Parameters
    ----------
    p11, p12 : float [m², m²/s]
        Covariance before the reading.
    variance : float [m²]
        Variance of the reading.

    Returns
    -------
    (float, float)

    Examples
    --------
    >>> gains(1.0, 0.5, 1.0)
    (0.5, 0.25)
    """
    total = p11 + variance
    return p11 / total, p12 / total


def wander_density(wander: float, *, elapsed: float, settling: float) -> float:
    """Density of the wander of the rate, larger while a run finds its rate.

    Parameters
    ----------
    wander : float [m/s]
        Standard deviation by which the rate changes in one minute.
    elapsed : float [s]
        Time since the start.
    settling : float [s]
        Time in which a run finds its rate.

    Returns
    -------
    float [m²/s³]

    Examples
    --------
    >>> round(wander_density(60.0, elapsed=100.0, settling=30.0), 6)
    60.0
    """
    density = wander * wander / 60.0
    if elapsed < settling:
        density *= 1.0 + SETTLING_GAIN * (1.0 - elapsed / settling)
    return density


def steady_gains(step: float, density: float, variance: float) -> tuple[float, float]:
    """Gains that the filter comes to when readings are evenly spaced and the rate wanders without end.

    Parameters
    ----------
    step : float [s]
        Time between readings, above zero.
    density : float [m²/s³]
        Density of the wander of the rate, above zero.
    variance : float [m²]
        Variance of a reading, above zero.

    Returns
    -------
    (float, float)
        Gain of the removal [1] and of the rate [1/s].

    Notes
    -----
    Found by letting the covariance run until it stands still. For small q s³/R both follow the continuous filter
    [1]_: √2 Λ^½ and Λ / s with Λ = √(q s³ / R).

    References
    ----------
    .. [1] R. E. Kalman, R. S. Bucy, "New results in linear filtering and prediction theory," J. Basic Eng. 83 (1961)
       95-108, doi:10.1115/1.3658902.

    Examples
    --------
    >>> gain, rate_gain = steady_gains(1.0, 1e-8, 1.0)
    >>> round(gain, 3), round(rate_gain, 6)
    (0.014, 9.9e-05)
    """
    return _steady(step, density, variance)


def steady_variance(step: float, density: float, variance: float) -> float:
    """Variance of the removal, after a reading, that the filter comes to.

    Parameters
    ----------
    step : float [s]
        Time between readings, above zero.
    density : float [m²/s³]
        Density of the wander of the rate, above zero.
    variance : float [m²]
        Variance of a reading, above zero.

    Returns
    -------
    float [m²]
        The gain of the removal times the variance of a reading.

    Examples
    --------
    >>> round(steady_variance(1.0, 1e-8, 1.0), 3)
    0.014
    """
    return _steady(step, density, variance)[0] * variance


# ----------------------------------------------------------------------------------------------------------------------


def _steady(step: float, density: float, variance: float) -> tuple[float, float]:
    p11, p12, p22 = variance, 0.0, variance / (step * step)
    last = math.inf
    gain1, gain2 = 1.0, 0.0
    while abs(gain1 - last) > 1e-13 * gain1:
        last = gain1
        p11, p12, p22 = spread_ahead(p11, p12, p22, step, density)
        gain1, gain2 = gains(p11, p12, variance)
        p11, p12, p22 = (1.0 - gain1) * p11, (1.0 - gain1) * p12, p22 - gain2 * p12
    return gain1, gain2
