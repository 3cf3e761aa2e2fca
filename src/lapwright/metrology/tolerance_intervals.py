"""Tolerance intervals: between which values so large a share of all pieces lies, from a few of them.

For normal values by a factor on the standard deviation; for any values by the smallest and the largest one.
"""

from __future__ import annotations

import math

import numpy as np

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import normal_cdf, normal_quantile


def one_sided_tolerance_factor(count: int, *, share: float, probability: float = 0.95) -> float:
    r"""Factor k so that mean + k s exceeds a given share of all normal values with a given probability.

    Parameters
    ----------
    count : int [1]
        Values behind mean and standard deviation, at least 2.
    share : float [1]
        Share of all values, more than 0 and less than 1.
    probability : float [1]
        Probability that the statement holds.

    Returns
    -------
    float [1]

    Raises
    ------
    OutOfValidRange
        Fewer than two values, a share or probability outside (0, 1).

    Notes
    -----
    .. math:: k = t_{p}(n - 1, \delta = z_{share} \sqrt n) / \sqrt n

    with the quantile of non-central t; exact.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3. Key ``nist_handbook``.

    Examples
    --------
    >>> round(one_sided_tolerance_factor(43, share=0.9, probability=0.99), 4)
    1.874
    """
    from scipy.special import nctdtrit

    _need(count, share, probability)
    centre = normal_quantile(share) * math.sqrt(count)
    return float(nctdtrit(count - 1, centre, probability)) / math.sqrt(count)


def two_sided_tolerance_factor(count: int, *, share: float, probability: float = 0.95) -> float:
    r"""Factor k so that mean ± k s holds a given share of all normal values with a given probability.

    Parameters
    ----------
    count : int [1]
        Values behind mean and standard deviation, at least 2.
    share : float [1]
        Share of all values, more than 0 and less than 1.
    probability : float [1]
        Probability that the statement holds.

    Returns
    -------
    float [1]

    Raises
    ------
    OutOfValidRange
        Fewer than two values, a share or probability outside (0, 1).

    Notes
    -----
    The k at which

    .. math:: \int \varphi(z)\, P\Bigl(\chi^2_{n-1} > (n-1)\, r(z/\sqrt n)^2 / k^2\Bigr)\, dz

    is the probability, with r the half-width about an offset that holds the share. Exact, by quadrature.

    References
    ----------
    .. [1] ISO 16269-6:2014, exact two-sided factors (from memory); NIST/SEMATECH e-Handbook, 7.2.6.3 (approximate).
       Keys ``iso16269``, ``nist_handbook``.

    Examples
    --------
    >>> round(two_sided_tolerance_factor(10, share=0.95), 3)
    3.393
    """
    from scipy.optimize import brentq
    from scipy.special import gammaincc

    _need(count, share, probability)
    places, weights = np.polynomial.legendre.leggauss(80)
    z = 8.0 * places
    density = 8.0 * weights * np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    reach = np.array([_half_width(abs(float(one)) / math.sqrt(count), share) for one in z])
    half = (count - 1) / 2.0

    def excess(factor: float) -> float:
        return float(density @ gammaincc(half, half * (reach / factor) ** 2)) - probability

    high = normal_quantile(0.5 + share / 2.0)
    while excess(high) < 0.0:
        high *= 2.0
    return float(brentq(excess, high / 2.0 if excess(high / 2.0) < 0.0 else 1e-9, high, xtol=1e-12))


def share_between_ends(count: int, *, probability: float = 0.95) -> float:
    """Share of all pieces that lies between the smallest and the largest of a few, whatever their distribution.

    Parameters
    ----------
    count : int [1]
        Values, at least 2.
    probability : float [1]
        Probability that at least the share lies there.

    Returns
    -------
    float [1]

    Raises
    ------
    OutOfValidRange
        Fewer than two values, or a probability outside (0, 1).

    Notes
    -----
    The share q with n qⁿ⁻¹ − (n − 1) qⁿ = 1 − probability [1]_.

    References
    ----------
    .. [1] S. S. Wilks, Ann. Math. Stat. 12 (1941) 91. Key ``wilks1941``.

    Examples
    --------
    >>> round(share_between_ends(93), 2), round(share_between_ends(6), 2)
    (0.95, 0.42)
    """
    _need(count, 0.5, probability)
    low, high = 0.0, 1.0
    for _ in range(100):
        share = 0.5 * (low + high)
        chance_of_less = count * share ** (count - 1) - (count - 1) * share**count
        low, high = (share, high) if chance_of_less < 1.0 - probability else (low, share)
    return 0.5 * (low + high)


# ----------------------------------------------------------------------------------------------------------------------


def _need(count: int, share: float, probability: float) -> None:
    if count < 2:
        raise OutOfValidRange("count", count, "at least 2")
    for name, chance in (("share", share), ("probability", probability)):
        if not 0.0 < chance < 1.0:
            raise OutOfValidRange(name, chance, "more than 0 and less than 1")


def _half_width(offset: float, share: float) -> float:
    """Half-width about an offset from the mean that holds the share of a standard normal."""
    low, high = 0.0, offset + normal_quantile(0.5 + share / 2.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        held = normal_cdf(offset + middle) - normal_cdf(offset - middle)
        low, high = (middle, high) if held < share else (low, middle)
    return 0.5 * (low + high)
