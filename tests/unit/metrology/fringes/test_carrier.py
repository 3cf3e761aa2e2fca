"""One picture with tilt fringes, worked back to the height it was made from."""

import math

import numpy as np
import pytest

from lapwright.metrology.fringes import circle_mask, height_from_carrier
from lapwright.sim.fringe_images import Camera, Sample, fringe_picture, sample_mask, smooth_form, unit_coordinates

FRINGE = 1e-6
SIDE = 384


def pictured(*, fringes=24.0, azimuth=0.4, sample=None, camera=None, departure=1.5, seed=3):
    """A seeded picture of a smooth surface."""
    generator = np.random.default_rng(seed)
    sample = sample or Sample()
    height = smooth_form(generator, (SIDE, SIDE), departure=departure * FRINGE, sample=sample)
    return fringe_picture(
        generator, height, fringe_height=FRINGE, fringes=fringes, azimuth=azimuth, sample=sample, camera=camera or Camera()
    )  # fmt: skip


def rms_error(result, picture, *, sign=1.0):
    """Rms of the difference in fringes, plane taken out, over the pixels with a height."""
    known = np.isfinite(result.height) & picture.inside
    y, x = np.mgrid[-1 : 1 : SIDE * 1j, -1 : 1 : SIDE * 1j]
    columns = np.stack([np.ones_like(x), x, y], axis=-1)[known]
    error = (sign * result.height - picture.height)[known] / FRINGE
    plane, *_ = np.linalg.lstsq(columns, error, rcond=None)
    return float(np.sqrt(np.mean((error - columns @ plane) ** 2)))


def worked(picture, **given):
    """The map with the tilt's direction known."""
    return height_from_carrier(picture.image, fringe_height=FRINGE, pixel_size=1e-4, **given)


SPOILED = {
    "plain": {},
    "rectangle": {"sample": Sample(form="rectangle", size=0.85)},
    "rectangle along its side": {"sample": Sample(form="rectangle", size=0.85), "azimuth": 0.0},
    "hole": {"sample": Sample(hole=0.25)},
    "flat": {"sample": Sample(flat=0.15)},
    "small and off centre": {"sample": Sample(size=0.45, centre=(0.35, 0.6)), "fringes": 12.0, "departure": 0.8},
    "fills the picture": {"sample": Sample(size=1.6)},
    "uneven light": {"camera": Camera(unevenness=0.6, vignetting=0.6)},
    "weak contrast": {"camera": Camera(contrast=0.08, noise=0.15)},
    "second harmonic": {"camera": Camera(harmonic=0.2)},
    "camera curve": {"camera": Camera(gamma=0.45)},
    "8 bit with clipped crests": {"camera": Camera(mean=0.65, contrast=0.95, levels=256)},
    "bright surrounding": {"camera": Camera(background=0.9)},
    "dust": {"camera": Camera(dust=60)},
    "many fringes": {"fringes": 100.0},
    "six fringes": {"fringes": 6.3, "departure": 0.6},
    "other way": {"azimuth": 2.7},
}


@pytest.mark.parametrize("name", SPOILED)
def test_height_is_found_under_what_spoils_a_picture(name):
    """Within 1/100 fringe rms over at least 90 % of the sample, nothing off the sample, sign as told."""
    picture = pictured(**SPOILED[name])
    result = worked(picture, tilt_opens_toward=SPOILED[name].get("azimuth", 0.4))

    assert rms_error(result, picture) < 0.01
    assert np.isfinite(result.height)[picture.inside].mean() > 0.9
    assert np.count_nonzero(np.isfinite(result.height) & ~picture.inside) <= 2
    assert not result.sign_ambiguous


def test_burnt_patch_is_left_out_and_does_not_spoil_the_rest():
    """A glare spot is NaN, the rest stands within 1/50 fringe."""
    picture = pictured(camera=Camera(glare=0.25))
    result = worked(picture, tilt_opens_toward=0.4)
    burnt = picture.image >= 1.0

    assert not np.isfinite(result.height)[burnt & picture.inside].any()
    assert rms_error(result, picture) < 0.02


def test_sign_is_ambiguous_until_the_tilt_is_told():
    """Without a direction the map is right up to sign, and says so; azimuth of the tilt is not given."""
    picture = pictured()
    result = worked(picture)

    assert result.sign_ambiguous
    assert result.tilt_azimuth is None
    assert min(rms_error(result, picture), rms_error(result, picture, sign=-1.0)) < 0.005


def test_opposite_direction_turns_the_map_over():
    """Tilt told to open the other way gives the negative of the map."""
    picture = pictured()
    one = worked(picture, tilt_opens_toward=0.4)
    other = worked(picture, tilt_opens_toward=0.4 - math.pi)

    np.testing.assert_allclose(one.height, -other.height, rtol=0, atol=1e-15)


def test_fringes_that_move_when_pressed_tell_the_same_as_the_tilt():
    """Pressing closes the gap, so fringes run to where it is wide."""
    picture = pictured()
    assert rms_error(worked(picture, pressed_fringes_toward=0.4), picture) < 0.005


def test_tilt_is_reported_as_the_set_up_s():
    """24 fringes across the diameter of 24 µm of tilt, opening towards 0.4 rad."""
    result = worked(pictured(), tilt_opens_toward=0.4)

    assert result.carrier.fringes_across == pytest.approx(24.0, abs=0.3)
    assert result.tilt == pytest.approx(24.0 * FRINGE, rel=0.015)
    assert result.tilt_azimuth == pytest.approx(0.4, abs=0.01)


def test_least_squares_plane_is_out():
    """Mean and both slopes of the map are zero to a ten-thousandth of a fringe."""
    result = worked(pictured())
    known = np.isfinite(result.height)
    y, x = np.mgrid[-1 : 1 : SIDE * 1j, -1 : 1 : SIDE * 1j]
    columns = np.stack([np.ones_like(x), x, y], axis=-1)[known]
    plane, *_ = np.linalg.lstsq(columns, result.height[known], rcond=None)

    assert np.max(np.abs(plane)) < 1e-4 * FRINGE


def test_noise_and_contrast_are_told():
    """Noise 10 % of the amplitude and contrast 0.5 are read back within a tenth."""
    result = worked(pictured(camera=Camera(noise=0.1, contrast=0.5)))

    assert result.noise == pytest.approx(0.1, rel=0.1)
    assert result.contrast == pytest.approx(0.5, rel=0.1)


def test_mask_by_hand_is_kept():
    """Outside the given circle nothing is measured."""
    picture = pictured(sample=Sample(size=1.6))
    circle = circle_mask((SIDE, SIDE), centre=(200.0, 180.0), radius=120.0)
    result = worked(picture, mask=circle)

    np.testing.assert_array_equal(result.mask, circle)
    assert np.isfinite(result.height).sum() > 0.98 * circle.sum()
    assert not np.isfinite(result.height[~circle]).any()


def test_parts_that_nothing_joins_are_left_out_and_told():
    """Two parts under one mask: the smaller is NaN and named with its middle."""
    picture = pictured(sample=Sample(size=1.6))
    halves = np.zeros((SIDE, SIDE), bool)
    halves[40:340, 30:210] = True
    halves[40:340, 260:350] = True
    result = worked(picture, mask=halves)

    assert len(result.islands) == 1
    assert result.islands[0].centre[1] == pytest.approx(305, abs=12)
    assert not np.isfinite(result.height[:, 260:350]).any()
    assert any("not joined" in warning for warning in result.warnings)


def test_pixels_that_are_no_numbers_are_left_out():
    """A NaN patch stays NaN and harms nothing."""
    picture = pictured()
    image = picture.image.copy()
    image[180:200, 180:200] = np.nan
    result = worked(type(picture)(image=image, height=picture.height, phase=picture.phase, inside=picture.inside))

    assert not np.isfinite(result.height[183:197, 183:197]).any()
    assert min(rms_error(result, picture), rms_error(result, picture, sign=-1.0)) < 0.005


def test_pixels_need_not_be_square():
    """A grazing view that shortens x by four: the azimuth is that on the sample, not in the picture."""
    picture = pictured(azimuth=math.pi / 4.0)
    result = worked(picture, tilt_opens_toward=math.atan2(1.0, 0.25))
    stretched = height_from_carrier(
        picture.image, fringe_height=FRINGE, pixel_size=(1e-4, 4e-4), tilt_opens_toward=math.atan2(1.0, 0.25)
    )

    assert stretched.tilt_azimuth == pytest.approx(math.atan2(1.0, 0.25), abs=0.02)
    np.testing.assert_allclose(stretched.height, result.height, rtol=0, atol=1e-15)


def test_result_cannot_be_changed():
    """Arrays of the result are read-only."""
    result = worked(pictured())
    with pytest.raises(ValueError, match="read-only"):
        result.height[0, 0] = 0.0


def test_local_dimple_is_seen():
    """A dimple of 0.2 fringe and 4 fringe widths across is found within a fifth of its depth."""
    generator = np.random.default_rng(8)
    u, v = unit_coordinates((SIDE, SIDE))
    dimple = -0.2 * FRINGE * np.exp(-0.5 * ((u - 0.2) ** 2 + v**2) / 0.08**2)
    picture = fringe_picture(generator, dimple, fringe_height=FRINGE, fringes=40.0)
    result = worked(picture, tilt_opens_toward=0.3)
    middle = np.nanargmin(np.where(sample_mask((SIDE, SIDE)), (u - 0.2) ** 2 + v**2, np.nan))

    assert result.height.flat[middle] - np.nanmedian(result.height) == pytest.approx(-0.2 * FRINGE, rel=0.2)
