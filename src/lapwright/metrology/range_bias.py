"""How much gauge noise alone adds to a range such as TTV.

A range takes the largest and the smallest of several noisy values, so noise opens it: on a perfectly even wafer n
sites with noise s read d2(n) s apart on average, not nought. On a wedged wafer the ends are decided by the wedge and
noise adds less. The addition is computed for the shape that the readings themselves show, by numerical integration;
no random draws.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.metrology.distributions import f_tail
from lapwright.metrology.surface_fit import SurfaceFit, fitted_surface, surface_terms

_TABLE_Z = np.linspace(-8.0, 8.0, 8001)
_STEPS = 161  # over eight deviations to each side, one of them at nought
_DENSE = 1000  # sites from which on they are bundled
_BUNDLE = 0.02  # of the noise, width of a bundle
_TABLE_P = np.array([0.5 * math.erfc(-z / math.sqrt(2.0)) for z in _TABLE_Z])

#: Chance with which an even wafer is taken for a wedged one. Chosen by trial over five, nine and seventeen sites: the
#: mean error is nought on even wafers and small from a wedge of four standard uncertainties on.
_WEDGE_BY_CHANCE = 0.1
#: A wedge that is seen counts as at least so many standard uncertainties: just above the limit of detection the one
#: that is seen is too small as often as too large.
_LEAST_WEDGE = 4.0
_DOME_BY_CHANCE = 0.01
_FORM_BY_CHANCE = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class NoiseBiasBasis:
    """What a noise bias is made from: bias = sum of weight times (expected range less range) of each shape.

    `noise` [m] is that of each site mean, made unbiased; `shapes` [m] have shape (n,), `weights` [1] one each.
    """

    noise: NDArray[np.float64]
    shapes: tuple[NDArray[np.float64], ...]
    weights: tuple[float, ...]


def expected_range(means: NDArray[np.float64], *, noise: NDArray[np.float64]) -> float:
    r"""Expected range, largest less smallest, of independent normal values.

    Parameters
    ----------
    means : float array, shape (n,) [m]
        True value at each site.
    noise : float array, shape (n,) [m]
        Standard deviation at each site, above zero.

    Returns
    -------
    float [m]
        Never less than the range of the means.

    Notes
    -----
    .. math:: E[\max] = \max_i\mu_i + \int_{\max\mu}^\infty \Bigl(1 - \prod_i \Phi(\tfrac{z-\mu_i}{s_i})\Bigr) dz
              - \int_{-\infty}^{\max\mu} \prod_i \Phi(\tfrac{z-\mu_i}{s_i})\, dz

    and the same mirrored for the smallest, by the trapezium rule over eight deviations to each side. For equal means
    it is d2(n) times the noise.

    References
    ----------
    .. [1] L. H. C. Tippett, On the extreme individuals and the range of samples taken from a normal population,
       Biometrika 17 (1925) 364-387, doi:10.1093/biomet/17.3-4.364 (from memory). Key ``tippett1925``.

    Examples
    --------
    >>> round(expected_range(np.zeros(5), noise=np.ones(5)), 5)
    2.32593
    """
    return float(np.ptp(means)) + _excess(means, noise)


def range_weights(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """The range as a weighted sum: +1 at the largest value, -1 at the smallest, nought elsewhere.

    Parameters
    ----------
    values : float array, shape (n,) [m]
        No NaN.

    Returns
    -------
    float array, shape (n,) [1]
        The two ends are two different sites even when all values are equal.

    Examples
    --------
    >>> range_weights(np.array([2.0, 5.0, 1.0])).tolist()
    [0.0, 1.0, -1.0]
    """
    weights = np.zeros(len(values))
    weights[int(np.argmax(values))] += 1.0
    weights[len(values) - 1 - int(np.argmin(values[::-1]))] -= 1.0
    return weights


def range_noise_bias(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    thickness: NDArray[np.float64],
    *,
    noise: NDArray[np.float64],
    degrees_of_freedom: float,
    reach: float,
) -> float:
    """What noise has added on average to the range of site means, given the shape that they show.

    Parameters
    ----------
    x, y : float arrays, shape (n,) [m]
        Sites in the wafer frame.
    thickness : float array, shape (n,) [m]
        Site means, no NaN.
    noise : float array, shape (n,) [m]
        Standard deviation of each site mean; nought gives no bias.
    degrees_of_freedom : float [1]
        Of the noise.
    reach : float [m]
        Radius of the outline, or its furthest corner.

    Returns
    -------
    float [m]
        Zero or more.

    Notes
    -----
    A fitted wedge is itself opened by noise, so that to take it as it comes would call the bias of an even wafer too
    small. The wedge counts when it is significant at 10 %, and then as at least four of its standard uncertainties;
    otherwise the bias of a wafer without wedge is taken, raised by so much that the mean over even wafers is right.
    A dome counts when significant at 1 %, other form when significant at 0.1 %, shrunk by what noise explains. The
    noise is divided by c4 of its degrees of freedom, since an estimated standard deviation is low on average.

    No estimate can be right for every wedge, for the true range has a kink at no wedge. Seen over simulated wafers,
    in units of the noise of a site mean: within 0.02 on even wafers and from a wedge of about five up, and up to 0.75
    too much (five sites; 0.6 with nine) for wedges of one to two.

    Examples
    --------
    >>> angle = np.arange(8) * np.pi / 4
    >>> x, y = np.append(0.0, 0.045 * np.cos(angle)), np.append(0.0, 0.045 * np.sin(angle))
    >>> wedged = range_noise_bias(x, y, 5e-4 + 2e-4 * x, noise=np.full(9, 3e-7), degrees_of_freedom=18.0, reach=0.05)
    >>> even = range_noise_bias(x, y, np.full(9, 5e-4), noise=np.full(9, 3e-7), degrees_of_freedom=18.0, reach=0.05)
    >>> round(wedged * 1e6, 2), round(even * 1e6, 2)
    (0.0, 0.97)
    """
    basis = noise_bias_basis(x, y, thickness, noise=noise, degrees_of_freedom=degrees_of_freedom, reach=reach)
    if basis is None:
        return 0.0
    return sum(one * _excess(shape, basis.noise) for shape, one in zip(basis.shapes, basis.weights, strict=True))


def noise_bias_basis(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    thickness: NDArray[np.float64],
    *,
    noise: NDArray[np.float64],
    degrees_of_freedom: float,
    reach: float,
) -> NoiseBiasBasis | None:
    """The shapes that `range_noise_bias` rests on; None without noise.

    Parameters
    ----------
    x, y, thickness, noise : float arrays, shape (n,) [m]
        As there.
    degrees_of_freedom : float [1]
        Of the noise.
    reach : float [m]
        Radius of the outline, or its furthest corner.

    Returns
    -------
    NoiseBiasBasis or None

    Examples
    --------
    >>> angle = np.arange(8) * np.pi / 4
    >>> x, y = np.append(0.0, 0.045 * np.cos(angle)), np.append(0.0, 0.045 * np.sin(angle))
    >>> noise = np.full(9, 3e-7)
    >>> basis = noise_bias_basis(x, y, np.full(9, 5e-4), noise=noise, degrees_of_freedom=18.0, reach=0.05)
    >>> [round(one, 4) for one in basis.weights]
    [1.1111, -0.1111]
    """
    if not np.all(noise > 0.0):
        return None
    unbiased = noise / _c4(degrees_of_freedom)
    form = _form(x, y, thickness, noise, degrees_of_freedom, reach)
    plane = fitted_surface(x, y, thickness, surface="plane", reach=reach)
    if plane is None:
        return NoiseBiasBasis(noise=unbiased, shapes=(form,), weights=(1.0,))
    terms = surface_terms(x / reach, y / reach, surface="plane")[:, 1:]
    slopes = plane.coefficients[1:]
    length = _in_standard_uncertainties(plane, noise, slopes)
    if f_tail(length**2 / 2.0, 2.0, _finite(degrees_of_freedom)) < _WEDGE_BY_CHANCE:
        seen = form + terms @ slopes * max(1.0, _LEAST_WEDGE / length)
        return NoiseBiasBasis(noise=unbiased, shapes=(seen,), weights=(1.0,))
    if length == 0.0:
        slopes = np.array([1.0, 0.0])
        length = _in_standard_uncertainties(plane, noise, slopes)
    least = form + terms @ slopes * (_LEAST_WEDGE / length)
    kept = 1.0 - _WEDGE_BY_CHANCE
    return NoiseBiasBasis(noise=unbiased, shapes=(form, least), weights=(1.0 / kept, -_WEDGE_BY_CHANCE / kept))


# ----------------------------------------------------------------------------------------------------------------------


def _excess(means: NDArray[np.float64], noise: NDArray[np.float64]) -> float:
    """Expected range less the range of the means."""
    if len(means) > _DENSE:
        return sum(_rise(*_bundled(float(np.max(one)) - one, noise)) for one in (means, -means))
    return _rise(np.stack((np.max(means) - means, means - np.min(means))), noise, np.ones(len(means)))


def _rise(offsets: NDArray[np.float64], noise: NDArray[np.float64], counts: NDArray[np.float64]) -> float:
    """Expected largest value less the largest mean, from how far each mean lies below the largest; rows are added up.

    The trapezium rule converges as fast as the chances are smooth: the integrand leaps at nought and nowhere else.
    """
    steps = np.linspace(-8.0, 8.0, _STEPS) * np.max(noise)
    rising = (steps + offsets[..., None]) / noise[:, None]  # site by site, since the table is looked up faster in order
    chances = np.interp(rising, _TABLE_Z, _TABLE_P)
    below = np.prod(chances if np.all(counts == 1.0) else chances ** counts[:, None], axis=-2)
    integrand = np.where(steps > 0.0, 1.0 - below, -below)
    integrand[..., _STEPS // 2] += 0.5  # the leap counts half from either side
    return float(np.sum(integrand) - np.sum(integrand[..., [0, -1]]) / 2.0) * float(steps[1] - steps[0])


def _bundled(
    offsets: NDArray[np.float64], noise: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Sites of a dense scan bundled by how far they lie below the top; those too far below to matter left out."""
    near = offsets < 16.0 * noise
    steps = np.column_stack((np.round(offsets[near] / (_BUNDLE * noise[near])), noise[near]))
    bundles, counts = np.unique(steps, axis=0, return_counts=True)
    return bundles[:, 0] * _BUNDLE * bundles[:, 1], bundles[:, 1], counts.astype(float)


def _form(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    thickness: NDArray[np.float64],
    noise: NDArray[np.float64],
    degrees_of_freedom: float,
    reach: float,
) -> NDArray[np.float64]:
    """Shape other than the wedge, as far as it stands out of the noise."""
    form = np.zeros_like(thickness)
    degrees = _finite(degrees_of_freedom)
    fit = fitted_surface(x, y, thickness, surface="dome", reach=reach)
    if fit is not None:
        variance = float(np.sum((fit.weights[3] * noise) ** 2))
        if f_tail(float(fit.coefficients[3]) ** 2 / variance, 1.0, degrees) < _DOME_BY_CHANCE:
            form = form + surface_terms(x / reach, y / reach, surface="dome")[:, 3] * fit.coefficients[3]
    else:
        fit = fitted_surface(x, y, thickness, surface="plane", reach=reach)
    if fit is None or fit.degrees_of_freedom < 1:
        return form
    ratio = float(np.sum((fit.residuals / noise) ** 2)) / fit.degrees_of_freedom
    if f_tail(ratio, float(fit.degrees_of_freedom), degrees) < _FORM_BY_CHANCE:
        form = form + fit.residuals * math.sqrt(1.0 - 1.0 / ratio)
    return form


def _in_standard_uncertainties(plane: SurfaceFit, noise: NDArray[np.float64], slopes: NDArray[np.float64]) -> float:
    """Length of a slope vector, each direction measured in its own standard uncertainty."""
    covariance = (plane.weights[1:] * noise**2) @ plane.weights[1:].T
    return math.sqrt(float(slopes @ np.linalg.solve(covariance, slopes)))


def _c4(degrees_of_freedom: float) -> float:
    """Mean of an estimated standard deviation over the true one (from memory: ASTM MNL 7, table of c4)."""
    if degrees_of_freedom > 1000.0:
        return 1.0 - 1.0 / (4.0 * degrees_of_freedom)
    half = degrees_of_freedom / 2.0
    return math.exp(math.lgamma(half + 0.5) - math.lgamma(half)) / math.sqrt(half)


def _finite(degrees_of_freedom: float) -> float:
    """Degrees of freedom so many that F is as good as chi-squared, where there are more."""
    return min(degrees_of_freedom, 1e4)
