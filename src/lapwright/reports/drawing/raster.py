"""Pixels inside a drawing: pictures and maps made small enough for a page and carried in the SVG itself."""

from __future__ import annotations

import base64
import io

import numpy as np
from numpy.typing import NDArray

from lapwright.reports.drawing.colour import ramp_pixels
from lapwright.reports.drawing.ink import element
from lapwright.reports.drawing.scale import Scale

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: Most pixels of a picture's longer side that a page gets.
LONGEST_SIDE = 640


def step_for(shape: tuple[int, ...], longest: int = LONGEST_SIDE) -> int:
    """How many pixels become one, so that the longer side keeps at most `longest`.

    >>> step_for((480, 640)), step_for((2000, 1000))
    (1, 4)
    """
    return max(1, -(-max(shape) // longest))


def thinned(values: NDArray[np.generic], step: int) -> NDArray[np.generic]:
    """Every n-th pixel both ways, from the middle of each block."""
    return values[step // 2 :: step, step // 2 :: step]


def grey_picture(intensity: NDArray[np.number], *, width: float, height: float) -> str:
    """A picture as an SVG image: darkest to brightest of what it holds, averaged down to the page."""
    step = step_for(intensity.shape)
    rows, columns = (side // step * step for side in intensity.shape)
    blocks = np.asarray(intensity[:rows, :columns], dtype=np.float64).reshape(rows // step, step, columns // step, step)
    small = np.nan_to_num(blocks).mean(axis=(1, 3))
    low, high = float(small.min()), float(small.max())
    grey = np.zeros(small.shape, np.uint8) if high <= low else (255.0 * (small - low) / (high - low)).astype(np.uint8)
    return _image(_encoded(grey, "JPEG"), "jpeg", width=width, height=height)


def colour_picture(values: Floats, scale: Scale, *, width: float, height: float) -> str:
    """Values as an SVG image in the even ramp; what was not measured is left out."""
    small = np.asarray(thinned(values, step_for(values.shape)), dtype=np.float64)
    share = (small - scale.low) / (scale.high - scale.low)
    alpha = np.where(np.isfinite(small), 255, 0).astype(np.uint8)
    pixels = np.dstack([ramp_pixels(share), alpha])
    return _image(_encoded(pixels, "PNG"), "png", width=width, height=height)


def veil(covered: Mask, *, colour: tuple[int, int, int], opacity: float, width: float, height: float) -> str:
    """An even colour over some pixels, as an SVG image."""
    small = np.asarray(thinned(covered, step_for(covered.shape)))
    pixels = np.zeros((*small.shape, 4), np.uint8)
    pixels[..., :3] = colour
    pixels[..., 3] = np.where(small, round(255 * opacity), 0)
    return _image(_encoded(pixels, "PNG"), "png", width=width, height=height)


# ----------------------------------------------------------------------------------------------------------------------


def _encoded(pixels: NDArray[np.uint8], kind: str) -> str:
    from PIL import Image

    held = io.BytesIO()
    options = {"quality": 82} if kind == "JPEG" else {"optimize": False}
    Image.fromarray(pixels).save(held, kind, **options)
    return base64.b64encode(held.getvalue()).decode("ascii")


def _image(data: str, kind: str, *, width: float, height: float) -> str:
    address = f"data:image/{kind};base64,{data}"
    return element("image", href=address, x=0, y=0, width=width, height=height, preserveAspectRatio="none")
