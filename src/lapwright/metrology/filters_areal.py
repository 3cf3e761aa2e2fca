"""The areal Gaussian filter: the mean surface that separates large-scale form and waviness from texture.

The weights of the profile filter along both axes. Where they do not balance (borders, gaps) a weighted plane replaces
the weighted mean, so that a tilt goes through unharmed. Missing heights are NaN and carry no weight; the mean surface
is NaN where less than a quarter of its window was measured.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.metrology.filters import ALPHA

Array = NDArray[np.float64]

_LEAST_SUPPORT = 0.25  # share of a window's weight that must be measured; common practice, no source
_MOMENTS = ((0, 0), (0, 1), (1, 0), (0, 2), (1, 1), (2, 0))


def gaussian_mean_surface(height: Array, *, pixel_size: tuple[float, float], cutoff: float) -> Array:
    r"""Mean surface of a map by the areal Gaussian filter.

    Parameters
    ----------
    height : float array, shape (ny, nx) [m]
        Heights on an even grid; NaN = not measured.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    cutoff : float [m]
        Wavelength that the mean surface transmits to 50 %; more than two pixels.

    Returns
    -------
    float array, shape (ny, nx) [m]
        NaN where less than a quarter of the weight falls on measured heights.

    Raises
    ------
    OutOfValidRange
        The cutoff is not longer than two pixels.

    Notes
    -----
    .. math:: s(x, y) = \frac{1}{(\alpha\lambda_c)^2} e^{-\pi (x^2 + y^2) / (\alpha\lambda_c)^2}

    cut off at one cutoff on each side.

    References
    ----------
    .. [1] ISO 16610-61:2015, linear areal filters: Gaussian filters (from memory). Key ``iso16610_21``.

    Examples
    --------
    >>> tilted = np.add.outer(1e-6 * np.arange(30.0), 2e-6 * np.arange(40.0))
    >>> found = gaussian_mean_surface(tilted, pixel_size=(1e-6, 1e-6), cutoff=1e-5)
    >>> bool(np.allclose(found, tilted, atol=1e-15))
    True
    """
    for size in pixel_size:
        if not cutoff > 2.0 * size:
            expected = f"more than two pixels ({2.0 * size:g} m)"
            raise OutOfValidRange("cutoff", cutoff, expected, "Sample finer or take a longer cutoff.")
    known = np.isfinite(height)
    level = float(height[known].mean()) if known.any() else 0.0
    convolve = _Convolver(height.shape, pixel_size, cutoff)
    data = convolve(np.where(known, height - level, 0.0), ((0, 0), (0, 1), (1, 0)))
    moments = convolve.moments(known)
    return level + _plane_at_origin(moments, data)


# ----------------------------------------------------------------------------------------------------------------------


class _Convolver:
    """Sums over the window weighted with y^k x^l, by one transform forward and one back for each pair (k, l)."""

    def __init__(self, shape: tuple[int, ...], pixel_size: tuple[float, float], cutoff: float) -> None:
        from scipy.fft import next_fast_len, rfft

        self.shape = shape
        self.kernels: list[list[NDArray[np.complex128]]] = []
        halves = [min(int(cutoff / size), count - 1) for size, count in zip(pixel_size, shape, strict=True)]
        self.padded = [next_fast_len(count + half, real=True) for count, half in zip(shape, halves, strict=True)]
        for axis, (size, half) in enumerate(zip(pixel_size, halves, strict=True)):
            offsets = np.arange(-half, half + 1) * (size / cutoff)
            weights = np.exp(-math.pi * (offsets / ALPHA) ** 2)
            weights *= size / (ALPHA * cutoff)
            spectra = []
            for power in range(3):
                kernel = np.zeros(self.padded[axis])
                np.add.at(kernel, np.arange(-half, half + 1), (weights * offsets**power)[::-1])
                spectra.append(rfft(kernel) if axis else np.fft.fft(kernel))
            self.kernels.append(spectra)

    def moments(self, known: NDArray[np.bool_]) -> list[Array]:
        """Moments of the measured places; products of those along the axes when all are measured."""
        if not known.all():
            return self(known.astype(np.float64), _MOMENTS)
        from scipy.fft import irfft

        along = []
        for axis, count in enumerate(self.shape):
            ones = np.fft.fft(np.ones(count), self.padded[axis])
            full = [ones * k if axis == 0 else ones[: k.size] * k for k in self.kernels[axis]]
            along.append([irfft(f[: self.padded[axis] // 2 + 1], self.padded[axis])[:count] for f in full])
        return [np.outer(along[0][k], along[1][m]) for k, m in _MOMENTS]

    def __call__(self, values: Array, powers: tuple[tuple[int, int], ...]) -> list[Array]:
        from scipy.fft import irfft2, rfft2

        spectrum = rfft2(values, s=self.padded)
        rows, columns = self.shape
        return [
            np.asarray(
                irfft2(spectrum * self.kernels[0][k][:, None] * self.kernels[1][m][None, :], s=self.padded)[
                    :rows, :columns
                ]
            )
            for k, m in powers
        ]


def _plane_at_origin(moments: list[Array], data: list[Array]) -> Array:
    """Value at each place of the plane that fits the weighted heights around it, by Cramer's rule."""
    m00, m01, m10, m02, m11, m20 = moments
    d00, d01, d10 = data
    first, second, third = m02 * m20 - m11**2, m11 * m10 - m01 * m20, m01 * m11 - m02 * m10
    determinant = m00 * first + m01 * second + m10 * third
    safe = np.where((determinant > 0.0) & (m00 >= _LEAST_SUPPORT), determinant, np.nan)
    return np.asarray((first * d00 + second * d01 + third * d10) / safe)
