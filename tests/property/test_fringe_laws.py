"""Laws that a height map from fringes obeys whatever the picture is."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.metrology.fringes import height_from_carrier, height_from_steps
from lapwright.metrology.unwrap import unwrapped_phase
from lapwright.sim.fringe_images import Camera, Sample, fringe_picture, smooth_form

SIDE = 256
LAW = settings(max_examples=8, deadline=None)
seeds = st.integers(min_value=0, max_value=2**20)
QUIET = Camera(noise=0.02)


def pictured(seed, *, fringes=18.0, azimuth=0.5):
    """A seeded picture of a surface of 1.5 fringes."""
    generator = np.random.default_rng(seed)
    height = smooth_form(generator, (SIDE, SIDE), departure=1.5)
    return fringe_picture(generator, height, fringe_height=1.0, fringes=fringes, azimuth=azimuth, camera=QUIET)


def worked(image, azimuth=0.5, *, fringe_height=1.0, mask=None):
    """The map with a known sign."""
    return height_from_carrier(
        image, fringe_height=fringe_height, pixel_size=1e-4, tilt_opens_toward=azimuth, mask=mask
    ).height


def gap(one, other):
    """Rms difference over the pixels that both know, less its plane."""
    known = np.isfinite(one) & np.isfinite(other)
    assert known.mean() > 0.5
    y, x = np.mgrid[-1 : 1 : SIDE * 1j, -1 : 1 : SIDE * 1j]
    columns = np.stack([np.ones_like(x), x, y], axis=-1)[known]
    difference = (one - other)[known]
    return float(np.std(difference - columns @ np.linalg.lstsq(columns, difference, rcond=None)[0]))


@LAW
@given(seeds, st.floats(min_value=1e-8, max_value=1e-4))
def test_height_scales_with_the_fringe_height(seed, scale):
    """Twice the height per fringe is twice the map."""
    image = pictured(seed).image
    np.testing.assert_allclose(worked(image, fringe_height=scale), scale * worked(image), rtol=1e-12)


@LAW
@given(seeds, st.floats(min_value=0.5, max_value=200.0), st.floats(min_value=-50.0, max_value=50.0))
def test_brightness_and_gain_do_not_matter(seed, gain, offset):
    """A picture in other units gives the same map within 1/1000 fringe."""
    image = pictured(seed).image
    assert gap(worked(image), worked(gain * image + offset)) < 1e-3


@LAW
@given(seeds, st.integers(min_value=-9, max_value=9), st.integers(min_value=-9, max_value=9))
def test_map_moves_with_the_picture(seed, down, right):
    """Shifted by whole pixels, shifted by as much, within 1/250 fringe."""
    image = pictured(seed).image
    moved = worked(np.roll(image, (down, right), axis=(0, 1)))
    assert gap(worked(image), np.roll(moved, (-down, -right), axis=(0, 1))) < 4e-3


@LAW
@given(seeds)
def test_map_turns_with_the_picture(seed):
    """A quarter turn of the picture turns the map, within 1/250 fringe."""
    image = pictured(seed).image
    turned = worked(np.rot90(image), 0.5 + math.pi / 2)
    assert gap(worked(image), np.rot90(turned, -1)) < 4e-3


@LAW
@given(seeds)
def test_map_mirrors_with_the_picture(seed):
    """Left and right exchanged, within 1/250 fringe."""
    image = pictured(seed).image
    mirrored = worked(image[:, ::-1], math.pi - 0.5)
    assert gap(worked(image), mirrored[:, ::-1]) < 4e-3


@LAW
@given(seeds, st.floats(min_value=14.0, max_value=40.0), st.floats(min_value=-3.0, max_value=3.0))
def test_carrier_does_not_matter(seed, fringes, azimuth):
    """The same surface under another tilt gives the same map within 1/100 fringe."""
    one = pictured(seed)
    other = pictured(seed, fringes=fringes, azimuth=azimuth)
    np.testing.assert_array_equal(one.height, other.height)
    assert gap(worked(one.image), worked(other.image, azimuth)) < 0.01


@LAW
@given(seeds)
def test_darker_half_of_the_fringes_is_as_good_as_the_brighter(seed):
    """The negative of a picture has the same fringes, moved by half a turn: the same map within 1/250 fringe."""
    image = pictured(seed).image
    assert gap(worked(image), worked(image.max() - image)) < 4e-3


@LAW
@given(seeds, st.floats(min_value=-10.0, max_value=10.0))
def test_zero_of_the_steps_does_not_matter(seed, zero):
    """Steps counted from elsewhere give the same map."""
    generator = np.random.default_rng(seed)
    phase = 2 * math.pi * smooth_form(generator, (64, 64), departure=1.5, sample=Sample(size=1.5))
    steps = np.array([0.0, 1.3, 2.9, 4.4])
    frames = 100 + 50 * np.cos(phase + steps[:, None, None])
    maps = [
        height_from_steps(frames, fringe_height=1.0, pixel_size=1e-4, steps=steps + start, steps_open_gap=True).height
        for start in (0.0, zero)
    ]
    np.testing.assert_allclose(maps[0], maps[1], atol=1e-5)


@LAW
@given(seeds, st.floats(min_value=-6.0, max_value=6.0))
def test_unwrapping_forgets_a_constant(seed, constant):
    """A constant added before wrapping shifts the sheet by it and whole turns."""
    sheet = 2 * math.pi * smooth_form(np.random.default_rng(seed), (40, 50), departure=3.0)
    mask = np.ones(sheet.shape, bool)
    plain, _ = unwrapped_phase(np.angle(np.exp(1j * sheet)), mask=mask)
    shifted, _ = unwrapped_phase(np.angle(np.exp(1j * (sheet + constant))), mask=mask)
    turns = (shifted - plain - constant) / (2 * math.pi)
    np.testing.assert_allclose(turns, np.round(turns.flat[0]), atol=1e-9)
