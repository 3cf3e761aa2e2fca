"""Phase-stepped pictures, worked back to the height they were made from."""

import math

import numpy as np
import pytest

from lapwright.errors import BadInput, FringesRefused
from lapwright.metrology.fringes import height_from_steps
from lapwright.sim.fringe_images import Camera, Sample, sample_mask, smooth_form, stepped_pictures, tilt_phase

SIDE = 256
QUARTER = math.pi / 2


def stepped(steps, *, noise=0.01, fringes=4.0, seed=2, sample=None, camera=None):
    """A stack of pictures, and the height in fringes behind them."""
    generator = np.random.default_rng(seed)
    sample = sample or Sample()
    height = smooth_form(generator, (SIDE, SIDE), departure=2.0, sample=sample)
    phase = tilt_phase((SIDE, SIDE), fringes=fringes, azimuth=0.4, sample=sample) - 2 * math.pi * height
    camera = camera or Camera(noise=noise)
    return stepped_pictures(generator, phase, np.asarray(steps, float), sample=sample, camera=camera), height


def rms_error(result, height, sample, *, either=False):
    """Rms of the difference in fringes, plane taken out; with `either` the map may be upside down."""
    known = np.isfinite(result.height) & sample_mask((SIDE, SIDE), sample)
    y, x = np.mgrid[-1 : 1 : SIDE * 1j, -1 : 1 : SIDE * 1j]
    columns = np.stack([np.ones_like(x), x, y], axis=-1)[known]
    errors = []
    for sign in (1.0, -1.0) if either else (1.0,):
        error = (sign * result.height - height)[known]
        errors.append(error - columns @ np.linalg.lstsq(columns, error, rcond=None)[0])
    return min(float(np.sqrt(np.mean(error**2))) for error in errors)


@pytest.mark.parametrize("count", [3, 4, 5, 7, 8])
def test_known_quarter_turns_reach_the_noise_bound(count):
    """Within 1.3 (three and seven pictures: uneven on the circle) or 1.1 of noise sqrt(2/n)."""
    steps = np.arange(count) * QUARTER
    frames, height = stepped(steps)
    result = height_from_steps(frames, fringe_height=1.0, pixel_size=1e-4, steps=steps, steps_open_gap=True)
    bound = 0.01 * math.sqrt(2 / count) / (2 * math.pi)

    assert rms_error(result, height, Sample()) < (1.3 if count % 2 and count != 5 else 1.1) * bound
    assert not result.sign_ambiguous
    assert result.coverage > 0.99


def test_uneven_known_steps_are_taken_as_they_are():
    """Steps of 0, 1, 2.5, 4, 5.5 and 7 rad."""
    steps = np.array([0.0, 1.0, 2.5, 4.0, 5.5, 7.0])
    frames, height = stepped(steps)
    result = height_from_steps(frames, fringe_height=1.0, pixel_size=1e-4, steps=steps, steps_open_gap=True)

    assert rms_error(result, height, Sample()) < 0.0015


def test_falling_steps_give_the_same_map():
    """The same motion the other way round."""
    steps = -np.arange(5) * QUARTER
    frames, height = stepped(steps)
    result = height_from_steps(frames, fringe_height=1.0, pixel_size=1e-4, steps=steps, steps_open_gap=True)

    assert rms_error(result, height, Sample()) < 0.0015


@pytest.mark.parametrize(
    ("steps", "equal"), [([0, 1.2, 2.9, 4.1, 6.3, 7.0], False), (np.arange(5) * 1.4, True), (np.arange(4) * 1.6, False)]
)
def test_unknown_steps_are_found(steps, equal):
    """Steps within 0.01 rad, map up to sign within 1/500 fringe."""
    frames, height = stepped(steps)
    result = height_from_steps(frames, fringe_height=1.0, pixel_size=1e-4, equal_steps=equal)

    np.testing.assert_allclose(result.steps, steps, atol=0.01)
    assert result.sign_ambiguous
    assert rms_error(result, height, Sample(), either=True) < 0.002


def test_sign_needs_the_sense_of_the_steps():
    """Known steps whose sense is not told leave the sign open; telling the opposite turns the map over."""
    steps = np.arange(4) * QUARTER
    frames, _ = stepped(steps)
    given = {"fringe_height": 1.0, "pixel_size": 1e-4, "steps": steps}

    assert height_from_steps(frames, **given).sign_ambiguous
    opened = height_from_steps(frames, steps_open_gap=True, **given)
    closed = height_from_steps(frames, steps_open_gap=False, **given)
    np.testing.assert_allclose(opened.height, -closed.height, atol=1e-12)


def test_five_quarter_turns_forgive_a_wrong_step():
    """Steps 2 % too long cost less than 1/1000 fringe."""
    steps = np.arange(5) * QUARTER
    frames, height = stepped(steps * 1.02, noise=0.0)
    result = height_from_steps(frames, fringe_height=1.0, pixel_size=1e-4, steps=steps, steps_open_gap=True)

    assert rms_error(result, height, Sample()) < 1e-3


def test_pixels_at_the_top_of_the_camera_are_left_out():
    """8-bit pictures with a burnt-out spot: NaN there."""
    steps = np.arange(5) * QUARTER
    frames, _ = stepped(steps)
    frames = np.round(frames * 255).astype(np.uint8)
    frames[:, 100:110, 100:110] = 255
    result = height_from_steps(frames, fringe_height=1.0, pixel_size=1e-4, steps=steps)

    assert not np.isfinite(result.height[100:110, 100:110]).any()


def test_islands_are_left_out_and_told():
    """A sample in two parts keeps the larger."""
    steps = np.arange(4) * QUARTER
    frames, _ = stepped(steps)
    frames[:, :, 80:90] = 0.03
    result = height_from_steps(frames, fringe_height=1.0, pixel_size=1e-4, steps=steps)

    assert len(result.islands) == 1
    assert not np.isfinite(result.height[:, :80]).any()


def test_steps_must_fit_the_pictures():
    """Two steps for four pictures, and a step that is no number, are both told."""
    frames, _ = stepped(np.arange(4) * QUARTER)
    with pytest.raises(BadInput) as caught:
        height_from_steps(frames, fringe_height=1.0, pixel_size=1e-4, steps=np.array([0.0, np.nan]))
    assert len(caught.value.faults) == 2


def test_unknown_half_turns_are_refused():
    """Steps of half a turn leave one component."""
    frames, _ = stepped(np.arange(5) * math.pi, noise=0.001)
    with pytest.raises(FringesRefused):
        height_from_steps(frames, fringe_height=1.0, pixel_size=1e-4)
