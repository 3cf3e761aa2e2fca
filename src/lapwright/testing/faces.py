"""Files of measured faces for tests, made by the simulator: fringe photographs and a profile, all invented."""

from __future__ import annotations

import io
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lapwright.sim.fringe_images import Camera, fringe_picture, sample_mask, stepped_pictures, unit_coordinates
from lapwright.units import find_unit, to_unit

FRINGE = 0.5e-6
DIAMETER = 0.0508
SIDE = 320


def dome(height: float, side: int = SIDE) -> NDArray[Any]:
    """A sphere-like face, high in the middle by `height` [m] over the rim."""
    u, v = unit_coordinates((side, side))
    return np.asarray(height * (1.0 - u * u - v * v))


def fringe_file(
    *, height: float = 0.4e-6, fringes: float = 20.0, contrast: float = 0.6, mean: float = 0.4, side: int = SIDE
) -> bytes:
    """A PNG of a domed sample under a tilted reference that opens towards +x."""
    camera = Camera(contrast=contrast, mean=mean, noise=0.05)
    made = fringe_picture(
        np.random.default_rng(3), dome(height, side), fringe_height=FRINGE, fringes=fringes, azimuth=0.0, camera=camera
    )
    return _png(made.image)


def dark_file() -> bytes:
    """A PNG in which noise drowns the fringes."""
    camera = Camera(contrast=0.01, mean=0.02, noise=80.0)
    made = fringe_picture(np.random.default_rng(4), dome(0.4e-6), fringe_height=FRINGE, fringes=20.0, camera=camera)
    return _png(made.image)


def step_files(*, height: float = 0.4e-6) -> list[bytes]:
    """Five PNGs a quarter turn apart."""
    phase = -2.0 * math.pi * dome(height) / FRINGE
    frames = stepped_pictures(np.random.default_rng(5), phase, np.arange(5, dtype=np.float64) * (math.pi / 2.0))
    return [_png(frame) for frame in frames]


def profile_file(*, ra: float = 0.8e-9, wave: float = 5e-9, points: int = 3000, spacing: float = 0.5e-6) -> bytes:
    """A CSV of a Gaussian profile with this Ra [m] before filtering, on a slow wave and a slope."""
    rng = np.random.default_rng(6)
    x = np.arange(points) * spacing
    rough = np.convolve(rng.standard_normal(points + 8), np.ones(9) / 9.0, mode="valid")
    height = ra * rough / np.abs(rough).mean() + wave * np.sin(2.0 * math.pi * x / 0.9e-3) + 2e-5 * x
    nm = find_unit("nm", "length")
    rows = [f"{a * 1e3:.6f},{to_unit(float(b), nm):.5f}" for a, b in zip(x, height, strict=True)]
    return "\n".join(["x_mm,z_nm", *rows, ""]).encode()


def disc(side: int = SIDE) -> NDArray[Any]:
    """Where the sample is in these pictures."""
    return np.asarray(sample_mask((side, side)))


# ----------------------------------------------------------------------------------------------------------------------


def _png(image: NDArray[Any]) -> bytes:
    from PIL import Image

    held = io.BytesIO()
    Image.fromarray(np.clip(np.rint(255.0 * image), 0, 255).astype(np.uint8)).save(held, "PNG")
    return held.getvalue()
