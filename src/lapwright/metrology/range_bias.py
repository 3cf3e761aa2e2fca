"""How much gauge noise alone adds to a range such as TTV."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from lapwright.metrology.surface_fit import fitted_surface

_TABLE_Z = np.linspace(-8.0, 8.0, 8001)
_TABLE_P = np.array([0.5 * math.erfc(-z / math.sqrt(2.0)) for z in _TABLE_Z])


def expected_range(means: NDArray[np.float64], *, noise: NDArray[np.float64]) -> float:
    """Expected range (largest less smallest) of independent normal values with given means and deviations."""
    low = float(np.min(means - 8.0 * noise))
    high = float(np.max(means + 8.0 * noise))
    steps = int(min(20_000, max(400, 24 * (high - low) / float(np.min(noise)))))
    z = np.linspace(low, high, steps + 1)
    below = np.interp((z[:, None] - means) / noise, _TABLE_Z, _TABLE_P)
    inner = np.prod(below, axis=1) + np.prod(1.0 - below, axis=1)
    return float((high - low) - np.trapezoid(inner, z))


def range_noise_bias(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    thickness: NDArray[np.float64],
    *,
    noise: NDArray[np.float64],
    degrees_of_freedom: float,
    reach: float,
) -> float:
    """What noise has added on average to the range of site means (provisional plug-in)."""
    if not np.all(noise > 0.0):
        return 0.0
    plane = fitted_surface(x, y, thickness, surface="plane", reach=reach)
    shape = thickness - plane.residuals if plane is not None else np.full_like(thickness, thickness.mean())
    return expected_range(shape, noise=noise) - float(np.ptp(shape))
