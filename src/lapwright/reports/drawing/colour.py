"""A ramp of colours whose steps look equally large, from dark ink blue over sea green to pale straw.

Computed in OKLab (B. Ottosson, "A perceptual color space for image processing", 2020, public formulas): lightness
rises in a straight line, so that the map also reads in grey print and with any colour vision; hue and chroma run
along a smooth curve, and the curve is walked at constant OKLab speed.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

_FLOATS = NDArray[np.float64]

# OKLab to linear sRGB, Ottosson 2020.
_TO_LMS = np.array(
    [[1.0, 0.3963377774, 0.2158037573], [1.0, -0.1055613458, -0.0638541728], [1.0, -0.0894841775, -1.2914855480]]
)
_TO_RGB = np.array(
    [
        [4.0767416621, -3.3077115913, 0.2309699292],
        [-1.2684380046, 2.6097574011, -0.3413193965],
        [-0.0041960863, -0.7034186147, 1.7076147010],
    ]
)

# Anchors of our ramp: lightness, chroma, hue [deg].
_LIGHTNESS = (0.32, 0.95)
_CHROMA = (0.085, 0.082, 0.085, 0.070)
_HUE = (268.0, 225.0, 165.0, 95.0)
_STEPS = 512


def ramp_colour(share: float) -> str:
    """The colour at a share of the ramp, 0 (least) to 1 (most), as ``#rrggbb``.

    >>> ramp_colour(0.0), ramp_colour(1.0)
    ('#202f5e', '#fdefba')
    """
    rgb = _ramp()[round(min(max(share, 0.0), 1.0) * (_STEPS - 1))]
    return "#" + "".join(f"{round(255 * float(channel)):02x}" for channel in rgb)


def ramp_pixels(share: _FLOATS) -> NDArray[np.uint8]:
    """The colours at shares of the ramp, shape (..., 3), as bytes of red, green and blue; NaN becomes black."""
    place = np.rint(np.clip(np.nan_to_num(share), 0.0, 1.0) * (_STEPS - 1)).astype(int)
    return np.asarray(np.rint(255.0 * _ramp())[place], dtype=np.uint8)


def linear_rgb(lab: _FLOATS) -> _FLOATS:
    """Linear sRGB of OKLab colours, shape (n, 3); outside 0 to 1 where no screen can show them."""
    lms = (lab @ _TO_LMS.T) ** 3
    rgb: _FLOATS = lms @ _TO_RGB.T
    return rgb


def encoded(rgb: _FLOATS) -> _FLOATS:
    """Screen values of linear sRGB (IEC 61966-2-1)."""
    return np.where(rgb <= 0.0031308, 12.92 * rgb, 1.055 * np.abs(rgb) ** (1.0 / 2.4) - 0.055)


# ----------------------------------------------------------------------------------------------------------------------


def _curve(share: _FLOATS) -> _FLOATS:
    """OKLab along the ramp: straight in lightness, smooth in chroma and hue."""
    knots = np.linspace(0.0, 1.0, len(_HUE))
    degree = len(_HUE) - 1
    chroma = np.polyval(np.polyfit(knots, _CHROMA, degree), share)
    hue = np.radians(np.polyval(np.polyfit(knots, _HUE, degree), share))
    lightness = _LIGHTNESS[0] + (_LIGHTNESS[1] - _LIGHTNESS[0]) * share
    return np.column_stack([lightness, chroma * np.cos(hue), chroma * np.sin(hue)])


@lru_cache(maxsize=1)
def _ramp() -> _FLOATS:
    fine = np.linspace(0.0, 1.0, 4 * _STEPS)
    walked = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(_curve(fine), axis=0), axis=1))])
    even = np.interp(np.linspace(0.0, walked[-1], _STEPS), walked, fine)
    return encoded(linear_rgb(_curve(even)))
