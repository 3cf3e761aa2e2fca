"""Power spectral density of a profile or a map: how much height lies at which spatial frequency.

One-sided, so that its integral over frequency is the mean square height. Averaged over overlapping, tapered pieces
(Welch), which trades resolution for a steadier curve.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import TooManyMissing

Array = NDArray[np.float64]

_PIECES = 4  # pieces along the profile, each overlapping its neighbours by half


@dataclass(frozen=True, slots=True, kw_only=True)
class Spectrum:
    """One-sided power spectral density: spatial frequency [1/m], density [m3], pieces averaged."""

    frequency: Array
    density: Array
    pieces: int

    def __post_init__(self) -> None:
        self.frequency.setflags(write=False)
        self.density.setflags(write=False)


def power_spectral_density(height: Array, *, spacing: float) -> Spectrum:
    r"""One-sided power spectral density of a profile.

    Parameters
    ----------
    height : float array, shape (n,) [m]
        Heights at even spacing; NaN = not measured, and pieces that hold one are left out.
    spacing : float [m]
        Distance between neighbours.

    Returns
    -------
    Spectrum

    Raises
    ------
    TooManyMissing
        No piece is whole.

    Notes
    -----
    .. math:: \int_0^{1/2\Delta x} S(f) \, df = \overline{z^2}

    Four pieces' worth of length with a Hann taper, half overlapping; the line through each piece is taken out.

    References
    ----------
    .. [1] P. D. Welch, IEEE Trans. Audio Electroacoust. AU-15 (1967) 70-73, doi:10.1109/TAU.1967.1161901 (from memory).
       Key ``welch1967``.

    Examples
    --------
    >>> wave = 1e-6 * np.sin(2 * np.pi * np.arange(4000) / 20)
    >>> found = power_spectral_density(wave, spacing=1e-6)
    >>> round(float(found.frequency[np.argmax(found.density)]))
    50000
    """
    size = max(8, 2 * height.size // (_PIECES + 1))
    starts = range(0, height.size - size + 1, max(1, size // 2))
    pieces = [height[start : start + size] for start in starts]
    whole = np.array([piece for piece in pieces if np.isfinite(piece).all()])
    if not whole.size:
        raise TooManyMissing(
            f"No stretch of {size} points is whole; one is needed for a spectrum. Evaluate a part without gaps."
        )
    taper = np.hanning(size + 1)[:-1]
    places = np.arange(size) - 0.5 * (size - 1)
    slopes = (whole @ places) / (places @ places)
    level = whole - whole.mean(axis=1, keepdims=True) - slopes[:, None] * places
    power = np.abs(np.fft.rfft(level * taper, axis=1)) ** 2
    density = power.mean(axis=0) * 2.0 * spacing / float(taper @ taper)
    density[0] *= 0.5
    if size % 2 == 0:
        density[-1] *= 0.5
    frequency = np.asarray(np.fft.rfftfreq(size, spacing), dtype=np.float64)
    return Spectrum(frequency=frequency, density=density, pieces=len(whole))
