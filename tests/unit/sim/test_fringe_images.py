"""The maker of fringe pictures against what was asked of it."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.sim.fringe_images import (
    Camera,
    Sample,
    bumpy_form,
    fringe_picture,
    sample_mask,
    smooth_form,
    stepped_pictures,
    tilt_phase,
)

SIDE = 200


def rng():
    """The same numbers each time."""
    return np.random.default_rng(1)


def test_disc_with_hole_and_flat_has_its_area():
    """Diameter 0.9, hole 0.2, flat of a tenth of the radius: areas by the circle formulas within 1 %."""
    radius, cut = 90.0, np.arccos(0.9)
    area = np.pi * radius**2 - np.pi * 20.0**2 - radius**2 * (cut - 0.9 * np.sin(cut))
    assert area == pytest.approx(sample_mask((SIDE, SIDE), Sample(hole=0.2, flat=0.1)).sum(), rel=0.01)


@pytest.mark.parametrize("make", [smooth_form, bumpy_form])
def test_form_has_the_departure_asked_for_and_no_plane(make):
    """Peak to valley 3 and mean zero over the sample."""
    form = make(rng(), (SIDE, SIDE), departure=3.0)
    inside = sample_mask((SIDE, SIDE))

    assert pytest.approx(np.ptp(form[inside]), rel=1e-12) == 3.0
    assert abs(form[inside].mean()) < 1e-9


def test_tilt_opens_the_gap_where_it_is_said_to():
    """Ten fringes over the diameter, upward: the phase grows by 20 pi from the bottom to the top of the sample."""
    phase = tilt_phase((SIDE, SIDE), fringes=10.0, azimuth=np.pi / 2)
    assert 20.0 * np.pi * (SIDE - 1) / (0.9 * SIDE) == pytest.approx(phase[0, 0] - phase[-1, 0], rel=1e-9)


def test_sample_that_is_high_has_less_phase():
    """A step of one fringe height takes 2 pi off."""
    flat, high = np.zeros((SIDE, SIDE)), np.full((SIDE, SIDE), 2e-6)
    phases = [fringe_picture(rng(), height, fringe_height=2e-6, fringes=10.0).phase for height in (flat, high)]
    np.testing.assert_allclose(phases[1] - phases[0], -2.0 * np.pi, atol=1e-9)


def test_intensity_is_two_beam():
    """Without spoilers: mean (1 + contrast cos phase) on the sample, the background elsewhere."""
    camera = Camera(noise=0.0, mean=0.4, contrast=0.5)
    picture = fringe_picture(rng(), np.zeros((SIDE, SIDE)), fringe_height=1.0, fringes=10.0, camera=camera)
    expected = np.where(picture.inside, 0.4 * (1.0 + 0.5 * np.cos(picture.phase)), camera.background)
    np.testing.assert_allclose(picture.image, expected, atol=1e-12)


def test_noise_is_a_share_of_the_amplitude():
    """5 % of 0.4 x 0.6."""
    clean, noisy = (
        fringe_picture(rng(), np.zeros((SIDE, SIDE)), fringe_height=1.0, fringes=10.0, camera=Camera(noise=noise)).image
        for noise in (0.0, 0.05)
    )
    assert pytest.approx((noisy - clean).std(), rel=0.02) == 0.05 * 0.24


def test_digits_and_glare_clip_at_full_scale():
    """256 levels end at 255; glare without levels ends at 1."""
    eight_bit = fringe_picture(
        rng(), np.zeros((SIDE, SIDE)), fringe_height=1.0, fringes=10.0, camera=Camera(levels=256, mean=0.8)
    ).image
    burnt = fringe_picture(
        rng(), np.zeros((SIDE, SIDE)), fringe_height=1.0, fringes=10.0, camera=Camera(glare=0.3)
    ).image

    assert eight_bit.max() == 255
    assert np.all(eight_bit == np.round(eight_bit))
    assert burnt.max() == 1.0
    assert (burnt == 1.0).mean() > 0.01


def test_stepped_pictures_differ_by_the_step_only():
    """Light and dust stay, noise does not; a step of a whole turn gives the first picture again."""
    phase = tilt_phase((SIDE, SIDE), fringes=5.0, azimuth=0.2)
    frames = stepped_pictures(
        rng(), phase, np.array([0.0, 2.0 * np.pi]), camera=Camera(noise=0.0, dust=10, unevenness=0.5)
    )
    np.testing.assert_allclose(frames[0], frames[1], atol=1e-12)


def test_contrast_above_one_is_refused():
    """Two beams cannot do that."""
    with pytest.raises(OutOfValidRange):
        fringe_picture(
            rng(), np.zeros((SIDE, SIDE)), fringe_height=1.0, fringes=5.0, camera=Camera(contrast=1.2)
        )  # fmt: skip
