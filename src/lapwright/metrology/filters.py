"""Profile filters: the mean line that separates waviness and form from roughness.

Gaussian with a straight-line correction at the ends and over gaps, robust Gaussian regression, and the cubic smoothing
spline. Missing heights are NaN and carry no weight; the mean line is NaN where less than a quarter of its window was
measured. Areal maps: `areal_filters`.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import DidNotConverge, OutOfValidRange

Array = NDArray[np.float64]
FilterKind = Literal["gaussian", "robust_gaussian", "spline"]

ALPHA = math.sqrt(math.log(2.0) / math.pi)  # ISO 16610-21:2011, 4.1: 50 % transmission at the cutoff
_GAMMA = 0.7309  # the same for a parabola in place of a mean: (1 + πγ²) exp(−πγ²) = 1/2, ISO 16610-31:2016
_ROBUST_FACTOR = 4.4478  # times the median absolute residual: ISO 16610-31:2016 (from memory)
_ROBUST_STEPS = 60
_LEAST_SUPPORT = 0.25  # share of a window's weight that must be measured; common practice, no source
_LARGEST_STIFFNESS = 1e10  # of the spline: beyond it rounding would show in the mean line


def gaussian_mean_line(height: Array, *, spacing: float, cutoff: float) -> Array:
    r"""Mean line of a profile by the Gaussian filter, with a local straight line where the weight is one-sided.

    Parameters
    ----------
    height : float array, shape (n,) [m]
        Heights at even spacing; NaN = not measured.
    spacing : float [m]
        Distance between neighbours.
    cutoff : float [m]
        Wavelength that the mean line transmits to 50 %; more than two spacings.

    Returns
    -------
    float array, shape (n,) [m]
        NaN where less than a quarter of the weight falls on measured heights.

    Raises
    ------
    OutOfValidRange
        The cutoff is not longer than two spacings.

    Notes
    -----
    .. math:: s(x) = \frac{1}{\alpha\lambda_c} e^{-\pi (x / \alpha\lambda_c)^2}, \quad \alpha = \sqrt{\ln 2/\pi}

    cut off at one cutoff on each side (lost weight 9.5e-8) [1]_. Where the weights do not balance (the first and last
    cutoff, and beside gaps) a weighted straight line replaces the weighted mean, so that a tilt goes through
    unharmed [2]_.

    References
    ----------
    .. [1] ISO 16610-21:2011, linear profile filters: Gaussian filters, 4.1.
    .. [2] ISO 16610-28:2016, profile filters: end effects (from memory).

    Examples
    --------
    >>> tilted = 1e-6 * np.arange(50.0)
    >>> bool(np.allclose(gaussian_mean_line(tilted, spacing=1e-6, cutoff=1e-5), tilted, atol=1e-15))
    True
    """
    offsets, weights = _gaussian_weights(spacing, cutoff, width=ALPHA)
    known = np.isfinite(height)
    if not known.all() or height.size <= 2 * offsets.size:
        return _local_polynomial(height, known.astype(np.float64), offsets, weights, degree=1)
    line = _convolved(height, weights)
    half = offsets.size // 2
    for part, inner in ((slice(0, 3 * half), slice(0, half)), (slice(-3 * half, None), slice(-half, None))):
        piece = height[part]
        line[inner] = _local_polynomial(piece, np.ones(piece.size), offsets, weights, degree=1)[inner]
    return line


def robust_gaussian_mean_line(height: Array, *, spacing: float, cutoff: float) -> Array:
    """Mean line by robust Gaussian regression of second degree: deep scratches and pores hardly pull it.

    Parameters
    ----------
    height : float array, shape (n,) [m]
        Heights at even spacing; NaN = not measured.
    spacing : float [m]
        Distance between neighbours.
    cutoff : float [m]
        Nesting index; more than two spacings.

    Returns
    -------
    float array, shape (n,) [m]
        NaN where less than a quarter of the weight falls on heights that are measured and trusted.

    Raises
    ------
    DidNotConverge
        The weights still changed after 60 steps.
    OutOfValidRange
        The cutoff is not longer than two spacings.

    Notes
    -----
    A parabola with Gaussian weights of width γλc, γ = 0.7309, at each place, reweighted by (1 − (r/c)²)² with
    c = 4.4478 times the median absolute residual until c changes by less than a thousandth [1]_.

    References
    ----------
    .. [1] ISO 16610-31:2016, robust profile filters: Gaussian regression filters (from memory).

    Examples
    --------
    >>> bent = 1e-9 * np.arange(60.0) ** 2
    >>> line = robust_gaussian_mean_line(bent, spacing=1e-6, cutoff=1e-5)
    >>> bool(np.allclose(line, bent, atol=1e-12))
    True
    """
    offsets, weights = _gaussian_weights(spacing, cutoff, width=_GAMMA)
    known = np.isfinite(height)
    trust = known.astype(np.float64)
    size = float(np.ptp(height[known])) if known.any() else 0.0
    bound = math.inf
    for _ in range(_ROBUST_STEPS):
        line = _local_polynomial(height, trust, offsets, weights, degree=2)
        distance = np.abs(height - line)
        told = np.isfinite(distance)
        wanted = _ROBUST_FACTOR * float(np.median(distance[told])) if told.any() else 0.0
        if wanted <= 1e-12 * size or abs(wanted - bound) < 1e-3 * wanted:
            return line
        bound = wanted
        trust = np.where(told, np.clip(1.0 - (np.where(told, distance, bound) / bound) ** 2, 0.0, None) ** 2, 0.0)
    search = "The robust mean line"
    raise DidNotConverge(search, steps=_ROBUST_STEPS, last=abs(wanted - bound))


def spline_mean_line(height: Array, *, spacing: float, cutoff: float) -> Array:
    """Mean line by the cubic smoothing spline, free at both ends.

    Parameters
    ----------
    height : float array, shape (n,) [m]
        Heights at even spacing; NaN = not measured, and the spline bridges the gap.
    spacing : float [m]
        Distance between neighbours.
    cutoff : float [m]
        Wavelength that the mean line transmits to 50 %; more than two spacings.

    Returns
    -------
    float array, shape (n,) [m]

    Raises
    ------
    OutOfValidRange
        The cutoff is not longer than two spacings, or longer than about 2000 of them, where rounding would show.

    Notes
    -----
    Minimises Σ(z − w)² + a⁴ Σ(second differences of w)² with a = 1 / (2 sin(π Δx / λc)) [1]_; inside a long profile a
    wave is transmitted by 1 / (1 + (sin(πΔx/λ)/sin(πΔx/λc))⁴).

    References
    ----------
    .. [1] ISO 16610-22:2015, linear profile filters: spline filters, 4.2 (from memory).

    Examples
    --------
    >>> tilted = 1e-6 * np.arange(50.0)
    >>> bool(np.allclose(spline_mean_line(tilted, spacing=1e-6, cutoff=1e-5), tilted, atol=1e-12))
    True
    """
    from scipy.linalg import solveh_banded

    _need_cutoff(spacing, cutoff)
    count = height.size
    known = np.isfinite(height)
    stiffness = (0.5 / math.sin(math.pi * spacing / cutoff)) ** 4
    if stiffness > _LARGEST_STIFFNESS:
        longest = f"at most 1986 spacings ({1986.0 * spacing:g} m)"
        raise OutOfValidRange("cutoff", cutoff, longest, "Take every second height, or a Gaussian.")
    bands = np.zeros((3, count))
    bands[2] = known + stiffness * _outer_fixed(count, (1.0, 5.0), 6.0)
    bands[1, 1:] = stiffness * _outer_fixed(count - 1, (-2.0,), -4.0)
    bands[0, 2:] = stiffness
    return np.asarray(solveh_banded(bands, np.where(known, height, 0.0)), dtype=np.float64)


def gaussian_transmission(wavelength: Array | float, cutoff: float) -> Array:
    """Share of a wave's amplitude that the Gaussian mean line keeps: 2^-(cutoff/wavelength)².

    Parameters
    ----------
    wavelength : float array or float [m]
        Wavelength of the wave, above zero.
    cutoff : float [m]
        Cutoff of the filter.

    Returns
    -------
    float array [1]
        From 0 to 1.

    References
    ----------
    ISO 16610-21:2011, 4.2: a₁/a₀ = exp(−π(αλc/λ)²).

    Examples
    --------
    >>> float(gaussian_transmission(0.8e-3, 0.8e-3))
    0.5
    """
    return np.asarray(np.exp2(-((cutoff / np.asarray(wavelength, dtype=np.float64)) ** 2)))


# ----------------------------------------------------------------------------------------------------------------------


def _need_cutoff(spacing: float, cutoff: float) -> None:
    if not cutoff > 2.0 * spacing:
        expected = f"more than two spacings ({2.0 * spacing:g} m)"
        raise OutOfValidRange("cutoff", cutoff, expected, "Sample finer or take a longer cutoff.")


def _gaussian_weights(spacing: float, cutoff: float, *, width: float) -> tuple[Array, Array]:
    _need_cutoff(spacing, cutoff)
    half = int(cutoff * (width / ALPHA) / spacing)
    offsets = np.arange(-half, half + 1) * (spacing / cutoff)
    weights = np.exp(-math.pi * (offsets / width) ** 2)
    return np.asarray(offsets), np.asarray(weights / weights.sum())


def _convolved(values: Array, kernel: Array) -> Array:
    from scipy.signal import oaconvolve

    return np.asarray(oaconvolve(values, kernel[::-1], mode="same"), dtype=np.float64)


def _local_polynomial(height: Array, trust: Array, offsets: Array, weights: Array, *, degree: int) -> Array:
    """Value at each place of the polynomial (degree 1 or 2) that fits the weighted, trusted heights around it."""
    filled = np.where(trust > 0.0, height, 0.0) * trust
    count = height.size
    wide = offsets.size // 2
    padded_trust, padded = (np.concatenate((np.zeros(wide), a, np.zeros(wide))) for a in (trust, filled))
    moments = [_convolved(padded_trust, weights * offsets**k)[wide : wide + count] for k in range(2 * degree + 1)]
    data = [_convolved(padded, weights * offsets**k)[wide : wide + count] for k in range(degree + 1)]
    line = _line_at_origin(moments, data) if degree == 1 else _parabola_at_origin(moments, data)
    return np.where(moments[0] >= _LEAST_SUPPORT, line, np.nan)


def _line_at_origin(moments: list[Array], data: list[Array]) -> Array:
    m0, m1, m2 = moments
    determinant = m0 * m2 - m1 * m1
    safe = np.where(determinant > 0.0, determinant, np.inf)
    return np.asarray((m2 * data[0] - m1 * data[1]) / safe)


def _parabola_at_origin(moments: list[Array], data: list[Array]) -> Array:
    m0, m1, m2, m3, m4 = moments
    first, second, third = m2 * m4 - m3 * m3, m2 * m3 - m1 * m4, m1 * m3 - m2 * m2
    determinant = m0 * first + m1 * second + m2 * third
    safe = np.where(determinant > 0.0, determinant, np.inf)
    return np.asarray((first * data[0] + second * data[1] + third * data[2]) / safe)


def _outer_fixed(count: int, ends: tuple[float, ...], inner: float) -> Array:
    values = np.full(count, inner)
    for place, value in enumerate(ends):
        values[place] = values[-1 - place] = value
    return values
