"""How long a control chart runs before it signals: average run lengths for normal, independent values.

CUSUM and EWMA by the integral equation of the run length, solved on Gauss-Legendre nodes (Nyström); a plain limit by
the geometric distribution. All values are in standard deviations of the plotted value.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import normal_cdf

Array = NDArray[np.float64]

_NODES = 80


def shewhart_run_length(limit: float, *, shift: float = 0.0) -> float:
    """Average run length of a chart with limits at ± `limit`, for values off by `shift`.

    Parameters
    ----------
    limit : float [1]
        Distance of each limit from the centre line in standard deviations, above zero.
    shift : float [1]
        Distance of the true mean from the centre line.

    Returns
    -------
    float [1]
        One over the chance of a signal at one point.

    Examples
    --------
    >>> round(shewhart_run_length(3.0), 2)
    370.4
    """
    _need_positive("limit", limit)
    return 1.0 / (normal_cdf(-limit - shift) + normal_cdf(-limit + shift))


def cusum_run_length(reference: float, decision: float, *, shift: float = 0.0, headstart: float = 0.0) -> float:
    """Average run length of a one-sided upper CUSUM S = max(0, S + x − k), signal when S > h.

    Parameters
    ----------
    reference : float [1]
        Reference value k, zero or more.
    decision : float [1]
        Decision interval h, above zero.
    shift : float [1]
        True mean of the values.
    headstart : float [1]
        Value of S at the start, from 0 to h.

    Returns
    -------
    float [1]

    Raises
    ------
    OutOfValidRange
        A decision interval not above zero.

    Notes
    -----
    L(s) = 1 + L(0) Φ(k − s − δ) + ∫₀ʰ L(y) φ(y + k − s − δ) dy, on 80 Gauss-Legendre nodes [1]_.

    References
    ----------
    .. [1] D. Brook, D. A. Evans, Biometrika 59 (1972) 539; J. M. Lucas, R. B. Crosier, Technometrics 24 (1982) 199. Key
       ``run_lengths``.

    Examples
    --------
    >>> round(cusum_run_length(0.25, 8.0, shift=2.5), 4)
    4.1501
    """
    _need_positive("decision", decision)
    nodes, weights = _nodes(0.0, decision)
    back = reference - shift
    kernel = weights * _density(nodes[None, :] + back - nodes[:, None])
    at_zero = _below(back - nodes)
    system = np.zeros((nodes.size + 1, nodes.size + 1))
    system[0, 0] = 1.0 - _below(np.array([back]))[0]
    system[0, 1:] = -weights * _density(nodes + back)
    system[1:, 0] = -at_zero
    system[1:, 1:] = np.eye(nodes.size) - kernel
    lengths = np.linalg.solve(system, np.ones(nodes.size + 1))
    if headstart <= 0.0:
        return float(lengths[0])
    first = _below(np.array([back - headstart]))[0]
    return float(1.0 + lengths[0] * first + weights * _density(nodes + back - headstart) @ lengths[1:])


def two_sided_cusum_run_length(
    reference: float, decision: float, *, shift: float = 0.0, headstart: float = 0.0
) -> float:
    """Average run length of an upper and a lower CUSUM run side by side.

    Parameters
    ----------
    reference, decision, shift, headstart
        As for `cusum_run_length`; both sides start at the headstart.

    Returns
    -------
    float [1]

    Notes
    -----
    Without headstart 1/L = 1/L⁺ + 1/L⁻, which is exact when the two cannot be above zero to the point of signalling
    together (k > 0) [1]_; with headstart the same reasoning gives
    L = (L⁺(s) L⁻ + L⁻(s) L⁺ − L⁺ L⁻) / (L⁺ + L⁻).

    References
    ----------
    .. [1] J. M. Lucas, R. B. Crosier, Technometrics 24 (1982) 199 (from memory).

    Examples
    --------
    >>> round(two_sided_cusum_run_length(0.5, 4.0), 1)
    167.7
    """
    up, down = (cusum_run_length(reference, decision, shift=side * shift) for side in (1.0, -1.0))
    if headstart <= 0.0:
        return up * down / (up + down)
    up_head, down_head = (
        cusum_run_length(reference, decision, shift=side * shift, headstart=headstart) for side in (1.0, -1.0)
    )
    return (up_head * down + down_head * up - up * down) / (up + down)


def ewma_run_length(weight: float, limit: float, *, shift: float = 0.0) -> float:
    """Average run length of a two-sided EWMA with steady limits ± L sqrt(λ/(2 − λ)).

    Parameters
    ----------
    weight : float [1]
        λ, more than 0 and at most 1.
    limit : float [1]
        L, above zero.
    shift : float [1]
        True mean of the values.

    Returns
    -------
    float [1]

    Notes
    -----
    L(z) = 1 + (1/λ) ∫ L(y) φ((y − (1 − λ) z)/λ − δ) dy between the limits [1]_.

    References
    ----------
    .. [1] S. V. Crowder, Technometrics 29 (1987) 401. Key ``run_lengths``.

    Examples
    --------
    >>> round(ewma_run_length(1.0, 3.0), 1)
    370.4
    """
    if not 0.0 < weight <= 1.0:
        raise OutOfValidRange("weight", weight, "more than 0 and at most 1")
    _need_positive("limit", limit)
    bound = limit * math.sqrt(weight / (2.0 - weight))
    nodes, weights = _nodes(-bound, bound)
    kernel = (weights / weight) * _density((nodes[None, :] - (1.0 - weight) * nodes[:, None]) / weight - shift)
    lengths = np.linalg.solve(np.eye(nodes.size) - kernel, np.ones(nodes.size))
    return float(1.0 + (weights / weight) * _density(nodes / weight - shift) @ lengths)


def count_run_length(mean: float, *, lower: float, upper: float) -> float:
    """Average run length of a chart of counts per unit, for Poisson counts.

    Parameters
    ----------
    mean : float [1]
        True mean count, above zero.
    lower, upper : float [1]
        Limits; a count on a limit does not signal.

    Returns
    -------
    float [1]
        Infinity when no count can lie outside.

    Raises
    ------
    OutOfValidRange
        A mean not above zero.

    Examples
    --------
    >>> round(count_run_length(16.0, lower=4.0, upper=28.0), 0)
    438.0
    """
    _need_positive("mean", mean)
    first, last = max(0, math.ceil(lower)), math.floor(upper)
    inside = math.fsum(math.exp(k * math.log(mean) - mean - math.lgamma(k + 1)) for k in range(first, last + 1))
    return _one_over(1.0 - inside)


def share_run_length(share: float, *, size: int, lower: float, upper: float) -> float:
    """Average run length of a chart of shares of samples of one size, for binomial counts.

    Parameters
    ----------
    share : float [1]
        True share of nonconforming items, more than 0 and less than 1.
    size : int [1]
        Items in a sample.
    lower, upper : float [1]
        Limits of the share; a share on a limit does not signal.

    Returns
    -------
    float [1]
        Infinity when no share can lie outside.

    Raises
    ------
    OutOfValidRange
        A share outside (0, 1) or a size below one.

    Examples
    --------
    >>> round(share_run_length(0.2313, size=50, lower=0.0524, upper=0.4102), 0)
    386.0
    """
    if not 0.0 < share < 1.0:
        raise OutOfValidRange("share", share, "more than 0 and less than 1")
    _need_positive("size", size)
    first, last = max(0, math.ceil(lower * size - 1e-9)), min(size, math.floor(upper * size + 1e-9))
    log_front = math.lgamma(size + 1)
    inside = math.fsum(
        math.exp(
            log_front - math.lgamma(k + 1) - math.lgamma(size - k + 1)
            + k * math.log(share) + (size - k) * math.log1p(-share)
        )
        for k in range(first, last + 1)
    )  # fmt: skip
    return _one_over(1.0 - inside)


# ----------------------------------------------------------------------------------------------------------------------


def _one_over(chance: float) -> float:
    return 1.0 / chance if chance > 1e-15 else math.inf


def _nodes(low: float, high: float) -> tuple[Array, Array]:
    places, weights = np.polynomial.legendre.leggauss(_NODES)
    return 0.5 * (high - low) * (places + 1.0) + low, 0.5 * (high - low) * weights


def _density(z: Array) -> Array:
    return np.asarray(np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi))


def _below(z: Array) -> Array:
    return np.array([normal_cdf(float(value)) for value in z])


def _need_positive(name: str, value: float) -> None:
    if not value > 0.0:
        raise OutOfValidRange(name, value, "more than zero")
