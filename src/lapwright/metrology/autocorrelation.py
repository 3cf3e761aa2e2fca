"""Autocorrelation of a map: how far apart two places must be to know nothing of each other, and in which direction.

Missing heights carry no weight: each lag is averaged over the pairs that are both measured.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_FALLEN = 0.2  # ISO 25178-2:2021: default value to which the autocorrelation falls
_DIRECTIONS = 180
_LEAST_PAIRS = 0.1  # share of all pixels that must pair up at a lag


def autocorrelation(height: Array) -> Array:
    """Autocorrelation of a map at all lags of up to half its size, 1 at lag nought, which is in the middle.

    Parameters
    ----------
    height : float array, shape (ny, nx) [m]
        Heights from their mean; NaN = not measured.

    Returns
    -------
    float array, shape (2 (ny // 2) + 1, 2 (nx // 2) + 1) [1]
        NaN at lags where less than a tenth of the pixels find a partner.

    Examples
    --------
    >>> steps = 2 * np.pi * np.arange(64) / 16
    >>> found = autocorrelation(np.tile(np.sin(steps), (64, 1)))
    >>> round(float(found[32, 32 + 8]), 6)
    -1.0
    """
    from scipy.fft import irfft2, next_fast_len, rfft2

    known = np.isfinite(height)
    ny, nx = height.shape
    padded = [next_fast_len(count + count // 2, real=True) for count in height.shape]
    power = [np.abs(rfft2(a, s=padded)) ** 2 for a in (np.where(known, height, 0.0), known.astype(np.float64))]
    sums, pairs = (np.roll(irfft2(p, s=padded), (ny // 2, nx // 2), axis=(0, 1)) for p in power)
    part = np.s_[: 2 * (ny // 2) + 1, : 2 * (nx // 2) + 1]
    enough = np.where(pairs[part] >= _LEAST_PAIRS * height.size, pairs[part], np.nan)
    found = sums[part] / enough
    return np.asarray(found / found[ny // 2, nx // 2])


def autocorrelation_lengths(height: Array, *, pixel_size: tuple[float, float]) -> tuple[float | None, float | None]:
    """Shortest and longest distance over which the autocorrelation falls to a fifth (Sal, and what Str divides by).

    Parameters
    ----------
    height : float array, shape (ny, nx) [m]
        Heights from their mean, not all nought; NaN = not measured.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.

    Returns
    -------
    tuple of two (float or None) [m]
        Shortest; None when it falls so far in no direction. Longest; None when in some direction it does not fall so
        far within half the map.

    Notes
    -----
    Read along rays one degree apart, linear between lags.

    References
    ----------
    .. [1] ISO 25178-2:2021, autocorrelation length Sal and texture aspect ratio Str, threshold 0.2 (from memory).

    Examples
    --------
    >>> steps = 2 * np.pi * np.arange(200) / 20
    >>> groove = np.tile(np.sin(steps), (200, 1))
    >>> shortest, longest = autocorrelation_lengths(groove, pixel_size=(1e-6, 1e-6))
    >>> round(shortest * 1e6, 1), longest
    (4.4, None)
    """
    from scipy.ndimage import map_coordinates

    correlation = autocorrelation(height)
    middle = np.array(correlation.shape) // 2
    reach = min(half * size for half, size in zip(middle, pixel_size, strict=True))
    step = min(pixel_size)
    radii = np.arange(0.0, reach, step)
    angles = np.arange(_DIRECTIONS) * (math.pi / _DIRECTIONS)
    rows = middle[0] + np.outer(np.sin(angles), radii) / pixel_size[0]
    columns = middle[1] + np.outer(np.cos(angles), radii) / pixel_size[1]
    along = map_coordinates(correlation, [rows, columns], order=1, mode="nearest")
    below = along < _FALLEN
    falls = below.any(axis=1)
    first = np.argmax(below, axis=1)[falls]
    if not first.size:
        return None, None
    rays = np.flatnonzero(falls)
    before, after = along[rays, first - 1], along[rays, first]
    lengths = step * (first - 1 + (before - _FALLEN) / (before - after))
    return float(lengths.min()), float(lengths.max()) if falls.all() else None
