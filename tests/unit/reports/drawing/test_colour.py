"""The colour ramp: even to the eye, readable in grey, within what a screen can show."""

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from lapwright.reports.drawing.colour import linear_rgb, ramp_colour


def screen_values(steps):
    """Colours of the ramp as red, green, blue from 0 to 1."""
    colours = [ramp_colour(share) for share in np.linspace(0.0, 1.0, steps)]
    return np.array([[int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)] for colour in colours])


def test_equal_steps_look_equal():
    """CIEDE2000 (CIE 142-2001, scikit-image) between neighbours varies by less than a quarter."""
    lab = rgb2lab(screen_values(17)[None])[0]
    steps = deltaE_ciede2000(lab[1:], lab[:-1])
    assert steps.std() / steps.mean() < 0.15
    assert np.abs(steps / steps.mean() - 1.0).max() < 0.25


def test_lightness_rises_in_a_straight_line():
    """CIE L* rises all the way and bends by less than 3 units of 100: the map reads in grey print."""
    lightness = rgb2lab(screen_values(33)[None])[0, :, 0]
    straight = np.linspace(lightness[0], lightness[-1], 33)
    assert (np.diff(lightness) > 0.0).all()
    assert np.abs(lightness - straight).max() < 3.0


def test_white_and_black_come_out_of_the_formulas():
    """OKLab (1, 0, 0) is white and (0, 0, 0) black, as the published definition says."""
    rgb = linear_rgb(np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 0.0]]))
    assert rgb[0] == pytest.approx([1.0, 1.0, 1.0], abs=1e-4)
    assert rgb[1] == pytest.approx([0.0, 0.0, 0.0], abs=1e-12)


def test_every_colour_can_be_shown():
    """No channel is cut off at the end of the screen's range."""
    values = screen_values(257)
    assert values.min() > 0.02
    assert values.max() < 1.0


def test_beyond_the_ends_stay_the_end_colours():
    """Shares are held to the ramp; callers see to it that no value lies outside."""
    assert ramp_colour(-0.5) == ramp_colour(0.0)
    assert ramp_colour(1.5) == ramp_colour(1.0)
