"""Profile and areal filters: tilt goes through, gaps carry no weight, deep scratches do not pull the robust line."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.metrology.filters import gaussian_mean_line, robust_gaussian_mean_line, spline_mean_line
from lapwright.metrology.filters_areal import gaussian_mean_surface

SPACING, CUTOFF = 1e-6, 80e-6
X = np.arange(1200) * SPACING
LINES = {"gaussian": gaussian_mean_line, "robust": robust_gaussian_mean_line, "spline": spline_mean_line}


def gaps(height):
    """The same with a gap of one cutoff and every eleventh height missing."""
    holed = height.copy()
    holed[400:480] = np.nan
    holed[::11] = np.nan
    return holed


@pytest.mark.parametrize("name", LINES)
def test_a_tilt_goes_through_every_filter_to_both_ends(name):
    """The mean line of a straight line is that line, also over gaps."""
    tilt = 2e-4 * X + 1e-6
    line = LINES[name](gaps(tilt), spacing=SPACING, cutoff=CUTOFF)

    assert np.nanmax(np.abs(line - tilt)) < 1e-8 * np.ptp(tilt)
    assert np.isfinite(line[[0, -1]]).all()


def test_the_robust_line_keeps_a_parabola():
    """A parabola goes through, also over gaps."""
    bent = 0.3 * X**2
    line = robust_gaussian_mean_line(gaps(bent), spacing=SPACING, cutoff=CUTOFF)

    assert np.nanmax(np.abs(line - bent)) < 1e-9 * np.ptp(bent)


def test_a_scratch_pulls_the_gaussian_but_not_the_robust_line():
    """One micrometre deep, 20 µm wide in a profile of 10 nm noise."""
    height = 1e-8 * np.random.default_rng(1).normal(size=X.size)
    height[600:620] -= 1e-6
    near = slice(590, 630)
    plain, robust = (line(height, spacing=SPACING, cutoff=CUTOFF)[near] for line in
                     (gaussian_mean_line, robust_gaussian_mean_line))  # fmt: skip

    assert np.abs(plain).max() > 2e-7
    assert np.abs(robust).max() < 2e-8


@pytest.mark.parametrize("ratio", [0.5, 1.0, 2.0, 5.0])
def test_the_spline_transmits_as_its_closed_form(ratio):
    """1 / (1 + (sin(πΔx/λ)/sin(πΔx/λc))⁴) inside a long profile: 50 % at the cutoff."""
    wavelength = ratio * CUTOFF
    wave = np.sin(2 * np.pi * X / wavelength)
    line = spline_mean_line(wave, spacing=SPACING, cutoff=CUTOFF)
    kept = 1 / (1 + (np.sin(np.pi * SPACING / wavelength) / np.sin(np.pi * SPACING / CUTOFF)) ** 4)

    assert np.allclose(kept * wave[300:-300], line[300:-300], atol=2e-4)


def test_far_from_measured_heights_there_is_no_mean_line():
    """Inside a gap of three cutoffs."""
    height = np.zeros(1200)
    height[400:640] = np.nan
    line = gaussian_mean_line(height, spacing=SPACING, cutoff=CUTOFF)

    assert np.isnan(line[520])
    assert np.isfinite(line[[399, 640]]).all()


def test_a_missing_height_changes_little_and_infects_nothing():
    """One hole in noise."""
    noise = np.random.default_rng(2).normal(size=1200)
    holed = noise.copy()
    holed[700] = np.nan
    whole, less = (gaussian_mean_line(z, spacing=SPACING, cutoff=CUTOFF) for z in (noise, holed))

    assert np.isfinite(less).all()
    assert np.abs(whole - less).max() < 0.06
    assert np.array_equal(np.abs(whole - less)[:600] < 1e-12, np.ones(600, dtype=bool))


@pytest.mark.parametrize("name", LINES)
def test_a_cutoff_of_two_spacings_is_refused(name):
    """The filter would be one point wide."""
    with pytest.raises(OutOfValidRange, match="two spacings"):
        LINES[name](np.zeros(100), spacing=1e-6, cutoff=2e-6)


def test_a_cutoff_that_the_spline_cannot_carry_is_refused():
    """Two thousand spacings."""
    with pytest.raises(OutOfValidRange, match="1986"):
        spline_mean_line(np.zeros(10_000), spacing=1e-6, cutoff=2e-3)


def test_a_tilted_map_goes_through_the_areal_filter():
    """With gaps, unequal pixels, to all borders."""
    tilt = np.add.outer(3e-8 * np.arange(120), -2e-8 * np.arange(150))
    holed = tilt.copy()
    holed[40:60, 70:100] = np.nan
    surface = gaussian_mean_surface(holed, pixel_size=(1e-6, 2e-6), cutoff=40e-6)

    assert np.nanmax(np.abs(surface - tilt)) < 1e-9 * np.ptp(tilt)
    assert np.isfinite(surface[[0, 0, -1, -1], [0, -1, 0, -1]]).all()


def test_an_areal_cutoff_longer_than_the_map_still_fits_a_plane():
    """The kernel is wider than the map: what is supported keeps the tilt."""
    tilt = np.add.outer(3e-8 * np.arange(40), 1e-8 * np.arange(50))
    surface = gaussian_mean_surface(tilt, pixel_size=(1e-6, 1e-6), cutoff=45e-6)

    assert np.nanmax(np.abs(surface - tilt)) < 1e-9 * np.ptp(tilt)


def test_an_areal_cutoff_of_two_pixels_is_refused():
    """Along either axis."""
    with pytest.raises(OutOfValidRange):
        gaussian_mean_surface(np.zeros((20, 20)), pixel_size=(1e-6, 3e-6), cutoff=5e-6)
