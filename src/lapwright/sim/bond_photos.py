"""Photographs of a bond through its carrier, invented: an even film under uneven light, voids, blur and noise.

A disc counts in each pixel with the share of the pixel that it covers, by 4 × 4 points; blur is that of a Gaussian.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.sim.bonding import Void

POINTS = 4  # a side, in each pixel


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """How a bond is photographed.

    Size of a pixel [m]; voids' contrast, unevenness of the light and noise as shares of the film's brightness; blur as
    a standard deviation in pixels; plain ground around the wafer as a share of its diameter.
    """

    pixel: float = 0.08e-3
    contrast: float = 0.25
    shading: float = 0.2
    blur: float = 1.0
    noise: float = 0.01
    margin: float = 0.08


def bond_photo(
    diameter: float,
    voids: tuple[Void, ...],
    camera: Camera,
    *,
    rng: np.random.Generator,
    flat_length: float = 0.0,
) -> NDArray[np.uint8]:
    """A grey picture of a round wafer [m], its flat at the bottom, left and right swapped as through the carrier."""
    pixel = camera.pixel
    side = round(diameter * (1.0 + 2.0 * camera.margin) / pixel)
    middle = (side - 1) / 2.0
    places = (np.arange(side * POINTS) + 0.5) / POINTS - 0.5
    column, row = np.meshgrid(places, places)
    x, y = -(column - middle) * pixel, (middle - row) * pixel
    radius = diameter / 2.0
    face = np.hypot(x, y) <= radius
    if flat_length > 0.0:
        face &= y >= -np.sqrt(radius**2 - flat_length**2 / 4.0)
    holes = np.zeros_like(face)
    for one in voids:
        holes |= np.hypot(x - one.x, y - one.y) <= one.diameter / 2.0
    light = 1.0 + camera.shading * (0.6 * x / radius - 0.4 * (x**2 + y**2) / radius**2)
    bright = np.where(face, light * (1.0 + camera.contrast * holes), 0.15)
    fine = bright.reshape(side, POINTS, side, POINTS).mean(axis=(1, 3))
    seen = _blurred(fine, camera.blur) + camera.noise * rng.standard_normal(fine.shape)
    return np.asarray(np.clip(np.rint(130.0 * seen), 0.0, 255.0), dtype=np.uint8)


# ----------------------------------------------------------------------------------------------------------------------


def _blurred(image: NDArray[np.float64], sigma: float) -> NDArray[np.float64]:
    if sigma <= 0.0:
        return image
    reach = int(np.ceil(4.0 * sigma))
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    weights /= weights.sum()
    for axis in (0, 1):
        image = np.apply_along_axis(
            lambda line: np.convolve(np.pad(line, reach, "edge"), weights, "valid"), axis, image
        )
    return image
