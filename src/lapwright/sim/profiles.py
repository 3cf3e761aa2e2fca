"""Profiles of a polished face as a stylus or light would trace them: roughness, waviness, slope, and the noise of both.

Roughness is a Gaussian process with a Gaussian autocorrelation, made by smoothing white noise; common practice, no
source. Left out: scratches, pits, and a tip that cannot reach the bottom of a valley.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """A face along a line.

    Root mean square of its roughness [m] and the length over which heights forget each other [m]; height and wavelength
    of its waviness [m]; slope under the instrument; noise of a point [m].
    """

    roughness: float
    correlation: float = 4e-6
    waviness: float = 3e-9
    wavelength: float = 0.9e-3
    slope: float = 1e-5
    noise: float = 0.0


def traced_profile(rng: np.random.Generator, finish: Finish, *, points: int, spacing: float) -> Array:
    """Heights [m] at even places.

    >>> flat = Finish(roughness=1e-9, waviness=0.0, slope=0.0)
    >>> traced = traced_profile(np.random.default_rng(1), flat, points=40000, spacing=0.5e-6)
    >>> round(float(traced.std()) * 1e9, 1)
    1.0
    """
    if points < 2 or not spacing > 0.0:
        raise OutOfValidRange("number of points", points, "2 or more, with a spacing above zero")
    x = spacing * np.arange(points)
    wave = finish.waviness * np.sin(2.0 * math.pi * (x / finish.wavelength + rng.uniform()))
    noise = finish.noise * rng.standard_normal(points)
    return np.asarray(_rough(rng, finish, points, spacing) + wave + finish.slope * x + noise)


# ----------------------------------------------------------------------------------------------------------------------


def _rough(rng: np.random.Generator, finish: Finish, points: int, spacing: float) -> Array:
    width = finish.correlation / spacing / 2.0
    reach = math.ceil(4.0 * width)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / max(width, 1e-9)) ** 2)
    white = rng.standard_normal(points + 2 * reach)
    return finish.roughness * np.convolve(white, kernel / math.sqrt(float(np.sum(kernel**2))), mode="valid")
