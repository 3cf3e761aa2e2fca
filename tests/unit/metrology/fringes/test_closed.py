"""One picture with closed fringes, worked back up to sign."""

import numpy as np
import pytest

from lapwright.errors import BadInput
from lapwright.metrology.fringes import height_from_closed
from lapwright.sim.fringe_images import Camera, fringe_picture, sample_mask, unit_coordinates

SIDE = 320
U, V = unit_coordinates((SIDE, SIDE))
INSIDE = sample_mask((SIDE, SIDE))


def pictured(height, camera=None):
    """A picture without tilt of a height in fringes."""
    return fringe_picture(
        np.random.default_rng(4), height, fringe_height=1.0, fringes=0.0, camera=camera or Camera()
    ).image  # fmt: skip


@pytest.mark.parametrize("moves", ["outward", "inward"])
def test_way_the_fringes_move_tells_domed_from_dished(moves):
    """A dome of 4 fringes: pressed fringes run outward; told inward, the same picture is a dish."""
    result = height_from_closed(
        pictured(-4.0 * (U**2 + V**2)), fringe_height=1.0, pixel_size=1e-4, pressed_fringes_move=moves
    )
    middle = result.height[SIDE // 2, SIDE // 2] - np.nanmin(np.abs(result.height))

    assert not result.sign_ambiguous
    assert abs(middle) == pytest.approx(2.0, abs=0.1)
    assert (middle > 0) == (moves == "outward")


def test_dome_is_found_up_to_sign():
    """Four fringes of dome within 1/100 fringe; the sign is said to be open."""
    height = -4.0 * (U**2 + V**2)
    result = height_from_closed(pictured(height), fringe_height=1.0, pixel_size=1e-4)
    known = np.isfinite(result.height) & INSIDE
    error = [sign * result.height[known] - height[known] for sign in (1, -1)]

    assert result.sign_ambiguous
    assert min(np.std(one) for one in error) < 0.01
    assert result.coverage > 0.99


def test_camera_curve_does_no_harm():
    """Gamma 0.45 leaves the map within 1/50 fringe."""
    height = -4.0 * (U**2 + 0.5 * V**2)
    result = height_from_closed(pictured(height, Camera(gamma=0.45)), fringe_height=1.0, pixel_size=1e-4)
    known = np.isfinite(result.height) & INSIDE

    assert min(np.std(sign * result.height[known] - height[known]) for sign in (1, -1)) < 0.02


def test_saddle_has_no_outward():
    """A saddle is neither domed nor dished: the way the fringes move cannot settle the sign."""
    with pytest.raises(BadInput, match="neither domed nor dished"):
        height_from_closed(
            pictured(2.0 * (U**2 - V**2)), fringe_height=1.0, pixel_size=1e-4, pressed_fringes_move="outward"
        )


def test_noise_is_told():
    """Noise 5 % of the amplitude is read back within a fifth."""
    result = height_from_closed(pictured(-4.0 * (U**2 + V**2)), fringe_height=1.0, pixel_size=1e-4)
    assert result.noise == pytest.approx(0.05, rel=0.2)
