"""The Fourier-transform method: Takeda's one-dimensional example in closed form, as a picture."""

import numpy as np
import pytest

from lapwright.metrology.fringes import height_from_carrier

SIDE = 512
X = np.arange(SIDE)
INNER = slice(SIDE // 10, SIDE - SIDE // 10)


def rms_error(carrier, amplitude):
    """Rms error in fringes over the inner 80 % of a picture whose rows are all alike, plane taken out."""
    bump = amplitude * np.exp(-(((X - 256) / 60.0) ** 2))
    row = 100.0 + 50.0 * np.cos(2.0 * np.pi * carrier * X / SIDE + 2.0 * np.pi * bump)
    picture = np.repeat(row[None], SIDE, axis=0)
    whole = np.ones((SIDE, SIDE), bool)
    result = height_from_carrier(picture, fringe_height=1.0, pixel_size=1.0, mask=whole, tilt_opens_toward=0.0)
    error = -result.height[INNER, INNER].mean(axis=0) - bump[INNER]
    error -= np.polyval(np.polyfit(X[INNER], error, 1), X[INNER])
    return float(np.sqrt(np.mean(error**2)))


def test_half_a_fringe_on_32_carrier_fringes():
    """Bump of 0.5 fringe, sigma 60/sqrt(2) pixels: 1/1000 fringe or better."""
    assert rms_error(32, 0.5) <= 1e-3


@pytest.mark.parametrize(("carrier", "amplitude"), [(16, 0.5), (32, 2.0)])
def test_error_grows_where_the_side_lobe_is_wide(carrier, amplitude):
    """A wider lobe (half the carrier, or four times the bump) costs accuracy, but no more than the plain method lost.

    The plain method with a rectangular window ends at 3.4e-3 and 1.7e-2 fringe.
    """
    plain = {(16, 0.5): 3.4e-3, (32, 2.0): 1.7e-2}[(carrier, amplitude)]
    assert rms_error(32, 0.5) < rms_error(carrier, amplitude) < plain
