"""Whether values look normal: the Anderson-Darling test with estimated mean and standard deviation."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import normal_cdf

Array = NDArray[np.float64]

LEAST_VALUES = 8  # below it the approximation of the chance is not stated to hold (D'Agostino and Stephens 1986)


@dataclass(frozen=True, slots=True, kw_only=True)
class Normality:
    """Statistic, chance of one as large from normal values, and whether that is at least 5 %."""

    statistic: float
    p: float
    looks_normal: bool


def normality(value: Array) -> Normality:
    r"""Anderson-Darling test of normality.

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        At least eight values that are not all equal.

    Returns
    -------
    Normality

    Raises
    ------
    OutOfValidRange
        Fewer than eight values, one that is not finite, or all equal.

    Notes
    -----
    .. math:: A^2 = -n - \frac1n \sum (2i - 1)\bigl[\ln F_i + \ln(1 - F_{n+1-i})\bigr], \quad
              A^{*2} = A^2 (1 + 0.75/n + 2.25/n^2)

    Few values can hide much: with ten, most other shapes pass.

    References
    ----------
    .. [1] R. B. D'Agostino, M. A. Stephens, Goodness-of-Fit Techniques, 1986, table 4.9 (from memory). Key
       ``dagostino1986``.

    Examples
    --------
    >>> normality(np.random.default_rng(1).standard_normal(50)).looks_normal
    True
    """
    if value.size < LEAST_VALUES:
        raise OutOfValidRange("number of values", value.size, f"at least {LEAST_VALUES}")
    if not np.all(np.isfinite(value)):
        raise OutOfValidRange("a value", math.nan, "a finite number")
    spread = float(value.std(ddof=1))
    if not spread > 0.0:
        raise OutOfValidRange("spread of the values", spread, "above zero")
    z = np.sort((value - value.mean()) / spread).tolist()
    count = len(z)
    terms = ((2 * i + 1) * (math.log(normal_cdf(z[i])) + math.log(normal_cdf(-z[count - 1 - i]))) for i in range(count))
    statistic = (-count - math.fsum(terms) / count) * (1.0 + 0.75 / count + 2.25 / count**2)
    chance = _chance(statistic)
    return Normality(statistic=statistic, p=chance, looks_normal=chance >= 0.05)


# ----------------------------------------------------------------------------------------------------------------------


def _chance(a: float) -> float:
    if a < 0.2:
        return 1.0 - math.exp(-13.436 + 101.14 * a - 223.73 * a * a)
    if a < 0.34:
        return 1.0 - math.exp(-8.318 + 42.796 * a - 59.938 * a * a)
    if a < 0.6:
        return math.exp(0.9177 - 4.279 * a - 1.38 * a * a)
    return math.exp(1.2937 - 5.709 * a + 0.0186 * a * a) if a < 13.0 else 0.0
