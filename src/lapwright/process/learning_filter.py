"""Linear filters that learn the logarithm of a rate from run to run, one for each guess of the spreads.

Every filter is the exact update of a normal belief about a vector of effects; its guesses (scatter of a run, spread of
plates, of abrasive lots, wander of a plate from run to run) stay fixed. What each filter would have said of every run
before it was seen is its predictive likelihood, so the weights of the bank choose the spreads and the forgetting, and
the mixture is the prediction. Small linear algebra; no sampling.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Evidence older than about 1 / (1 - memory) runs no longer chooses between the spreads (own judgement).
MEMORY = 0.995
_HEAVIEST_TAIL = 5.0  # fewest degrees of freedom of a prediction, so that its kurtosis exists
_NORMAL = 200.0  # degrees of freedom from which a prediction counts as normal


@dataclass(frozen=True, slots=True, kw_only=True)
class Spreads:
    """Guesses of the spreads, one entry a filter, all as standard deviations of the logarithm of a rate [1].

    `scatter` of a run that nothing explains, `pieces` of plates and machines among each other, `lots` of abrasive lots,
    `wander` of a plate from one run to the next; `weight` is how likely each filter is before any run.
    """

    scatter: Array
    pieces: Array
    lots: Array
    wander: Array
    weight: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """What a bank believes: `mean` (filters, effects), `covariance` (filters, effects, effects), `weight` (filters,).

    All as logarithms of a rate [1].
    """

    mean: Array
    covariance: Array
    weight: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class LogPrediction:
    """A prediction of the logarithm of a rate [1]: Student's t with its mean, scale and degrees of freedom.

    `level` is the standard deviation of what is believed of the level, `scatter` that of the run by itself.
    """

    mean: float
    scale: float
    degrees_of_freedom: float
    level: float
    scatter: float


def usual_spreads(
    *,
    scatter: Sequence[float] = (0.02, 0.035, 0.06, 0.1, 0.17, 0.3),
    pieces: Sequence[float] = (0.04, 0.12),
    lots: Sequence[float] = (0.03, 0.1),
    wander: Sequence[float] = (0.0, 0.01, 0.025, 0.06),
) -> Spreads:
    """Every combination of the usual guesses, with how likely each is before any run.

    Parameters
    ----------
    scatter : sequence of float [1]
        Of a run; likeliest near 0.11, as 5 % within a day and 10-20 % from day to day are common practice.
    pieces : sequence of float [1]
        Of plates and machines among each other; all as likely.
    lots : sequence of float [1]
        Of abrasive lots; all as likely.
    wander : sequence of float [1]
        Of a plate from one run to the next; all as likely.

    Returns
    -------
    Spreads
        Weights add up to 1.

    Examples
    --------
    >>> found = usual_spreads()
    >>> found.weight.size, round(float(np.sqrt(np.sum(found.weight * found.scatter**2))), 2)
    (96, 0.15)
    """
    grid = np.array(list(product(scatter, pieces, lots, wander)), dtype=np.float64)
    weight = np.exp(-0.5 * (np.log(grid[:, 0] / 0.115) / 0.75) ** 2)
    return Spreads(
        scatter=grid[:, 0], pieces=grid[:, 1], lots=grid[:, 2], wander=grid[:, 3], weight=weight / weight.sum()
    )


def first_belief(prior_mean: Array, prior_variance: Array, weight: Array) -> Belief:
    """Belief before any run: independent effects.

    Parameters
    ----------
    prior_mean : float array, shape (effects,) [1]
        Of each effect.
    prior_variance : float array, shape (filters, effects) [1]
        Of each effect in each filter.
    weight : float array, shape (filters,) [1]
        Of each filter.

    Returns
    -------
    Belief

    Examples
    --------
    >>> first_belief(np.zeros(2), np.ones((3, 2)), np.full(3, 1 / 3)).covariance.shape
    (3, 2, 2)
    """
    filters, effects = prior_variance.shape
    covariance = np.zeros((filters, effects, effects))
    covariance[:, np.arange(effects), np.arange(effects)] = prior_variance
    return Belief(mean=np.tile(prior_mean, (filters, 1)), covariance=covariance, weight=weight)


def widened(belief: Belief, effect: int, variance: Array | float, *, in_place: bool = False) -> Belief:
    """Belief after an effect may have moved: its variance grows, its mean stays.

    Parameters
    ----------
    belief : Belief
        Before.
    effect : int
        Which effect.
    variance : float array, shape (filters,), or float [1]
        What is added.
    in_place : bool
        Overwrite the covariance of the belief given; long histories ask for it.

    Returns
    -------
    Belief
    """
    covariance = belief.covariance if in_place else belief.covariance.copy()
    covariance[:, effect, effect] += variance
    return replace(belief, covariance=covariance)


def member_predictions(
    belief: Belief, effects: NDArray[np.intp], loadings: Array, noise_variance: Array
) -> tuple[Array, Array]:
    r"""What each filter expects of a run: mean and variance of the logarithm of its rate.

    Parameters
    ----------
    belief : Belief
        Before the run.
    effects : int array, shape (k,)
        Effects that play a part.
    loadings : float array, shape (k,) [1]
        How strongly each does.
    noise_variance : float array, shape (filters,) [1]
        Of what the effects do not explain.

    Returns
    -------
    tuple of float array, shape (filters,) [1]

    Notes
    -----
    .. math:: f = x^T m, \quad Q = x^T P x + \sigma^2
    """
    mean = belief.mean[:, effects] @ loadings
    block = belief.covariance[:, effects[:, None], effects[None, :]]
    return mean, np.einsum("i,gij,j->g", loadings, block, loadings) + noise_variance


def updated(
    belief: Belief,
    effects: NDArray[np.intp],
    loadings: Array,
    *,
    value: float,
    noise_variance: Array,
    memory: float = MEMORY,
    tails: float = math.inf,
    scratch: Array | None = None,
) -> Belief:
    r"""Belief after a run.

    Parameters
    ----------
    belief : Belief
        Before the run.
    effects : int array, shape (k,)
        Effects that play a part.
    loadings : float array, shape (k,) [1]
        How strongly each does.
    value : float [1]
        Logarithm of the rate that came out.
    noise_variance : float array, shape (filters,) [1]
        Of what the effects do not explain.
    memory : float, 0 < memory <= 1 [1]
        Share of the evidence between filters that is kept from run to run; 1 forgets nothing.
    tails : float, more than 2 [1]
        Degrees of freedom of a run's luck, as a Student's t of that variance; infinite for a normal law.
    scratch : float array, optional [1]
        Of the shape of the covariance. Given, the covariance of the belief given is overwritten, and this, too.

    Returns
    -------
    Belief

    Notes
    -----
    .. math:: K = P x / Q, \quad m' = m + K (y - f), \quad P' = P - K K^T Q, \quad
        w' \propto w^{\alpha} \, N(y; f, Q)

    With tails of :math:`\nu` degrees the density is Student's t, and the noise of the run is taken as the one that its
    miss lets expect, :math:`\sigma^2 [\nu - 2 + (y - f)^2 / Q] / (\nu + 1)`: a run far off teaches less, one close by
    more. With memory 1 the product of the predictive densities is the marginal likelihood of the spreads. On a
    wandering level the gain settles at :math:`(-q + \sqrt{q^2 + 4q})/2` with q the ratio of the variances: exponential
    forgetting.

    References
    ----------
    .. [1] J. Durbin, S. J. Koopman, *Time Series Analysis by State Space Methods* (from memory). Key ``durbin2012``.
    """
    mean, variance = member_predictions(belief, effects, loadings, noise_variance)
    reach = belief.covariance[:, :, effects] @ loadings
    miss = value - mean
    square = miss**2 / variance
    told = 0.5 * square if math.isinf(tails) else 0.5 * (tails + 1.0) * np.log1p(square / (tails - 2.0))
    with np.errstate(divide="ignore"):  # a filter whose weight has died stays dead
        log_weight = memory * np.log(belief.weight) - 0.5 * np.log(2.0 * math.pi * variance) - told
    weight = np.exp(log_weight - log_weight.max())
    if not math.isinf(tails):
        variance = variance + noise_variance * ((tails - 2.0 + square) / (tails + 1.0) - 1.0)
    gain = reach / variance[:, None]
    step = np.multiply(gain[:, :, None], reach[:, None, :], out=scratch)
    covariance = np.subtract(belief.covariance, step, out=None if scratch is None else belief.covariance)
    return Belief(mean=belief.mean + gain * miss[:, None], covariance=covariance, weight=weight / weight.sum())


def mixed(weight: Array, mean: Array, variance: Array, noise_variance: Array) -> LogPrediction:
    r"""One Student's t for what the filters expect together.

    Parameters
    ----------
    weight : float array, shape (filters,) [1]
        Of each filter.
    mean : float array, shape (filters,) [1]
        What each expects.
    variance : float array, shape (filters,) [1]
        With the noise in it.
    noise_variance : float array, shape (filters,) [1]
        Of the run by itself.

    Returns
    -------
    LogPrediction
        Mean, variance and kurtosis are those of the mixture; degrees of freedom from 5 to 200.

    Notes
    -----
    .. math:: \nu = 4 + 6 / \gamma_2, \quad s^2 = V (\nu - 2) / \nu

    with V the variance and γ₂ the excess kurtosis of the mixture.

    Examples
    --------
    >>> one = mixed(np.ones(1), np.zeros(1), np.ones(1), np.full(1, 0.5))
    >>> one.degrees_of_freedom, round(one.scale, 2)
    (200.0, 0.99)
    """
    centre = float(weight @ mean)
    away = mean - centre
    total = float(weight @ (variance + away**2))
    fourth = float(weight @ (3.0 * variance**2 + 6.0 * variance * away**2 + away**4))
    excess = fourth / total**2 - 3.0
    degrees = _NORMAL if excess <= 6.0 / (_NORMAL - 4.0) else max(_HEAVIEST_TAIL, 4.0 + 6.0 / excess)
    scatter = float(weight @ noise_variance)
    return LogPrediction(
        mean=centre,
        scale=math.sqrt(total * (degrees - 2.0) / degrees),
        degrees_of_freedom=degrees,
        level=math.sqrt(max(total - scatter, 0.0)),
        scatter=math.sqrt(scatter),
    )
