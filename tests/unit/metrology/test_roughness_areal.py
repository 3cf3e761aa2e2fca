"""Areal roughness: the chain, gaps, directions, refusals, tiles."""

import numpy as np
import pytest

from lapwright.errors import (
    HeightsClipped,
    OutOfValidRange,
    ProfileTooShort,
    SamplingTooCoarse,
    ShapeNotDetermined,
    SurfaceRefused,
    TooManyMissing,
)
from lapwright.metrology.autocorrelation import autocorrelation, autocorrelation_lengths
from lapwright.metrology.roughness_areal import ArealSettings, areal_parameters, measured_areal_roughness, tile_values
from lapwright.metrology.roughness_settings import UNKNOWN_INSTRUMENT, ProfileInstrument
from lapwright.metrology.roughness_uncertainty import sampled_uncertainty
from lapwright.metrology.surface_terms import fitted_terms

PIXEL = (1e-6, 1e-6)


def texture(shape=(200, 240), length=(6.0, 6.0), size=1e-9, seed=1):
    """Normal heights with autocorrelation lengths in pixels along y and x."""
    from scipy.ndimage import gaussian_filter

    smooth = gaussian_filter(np.random.default_rng(seed).normal(size=shape), [a / 2 for a in length], mode="wrap")
    return size * smooth / smooth.std()


def test_a_plane_is_form_and_a_quadric_when_asked():
    """Tilt and dome go; Sq of the texture stays."""
    y, x = np.mgrid[:200, :240] * 1e-6
    height = texture() + 1e-3 * x - 2e-3 * y + 1e-7
    domed = height + 0.5 * (x**2 + y**2)
    flat = measured_areal_roughness(texture(), pixel_size=PIXEL)
    tilted = measured_areal_roughness(height, pixel_size=PIXEL)
    bent = measured_areal_roughness(domed, pixel_size=PIXEL, settings=ArealSettings(form="quadric"))

    assert tilted.parameters.sq == pytest.approx(flat.parameters.sq, rel=1e-6)
    assert bent.parameters.sq == pytest.approx(flat.parameters.sq, rel=0.01)


def test_waviness_is_taken_out_by_the_cutoff():
    """A wave of 120 µm and 20 nm under a texture of 1 nm with a cutoff of 40 µm."""
    x = np.arange(240)
    wavy = texture() + 20e-9 * np.sin(2 * np.pi * x / 120)
    found = measured_areal_roughness(wavy, pixel_size=PIXEL, settings=ArealSettings(cutoff=40e-6))

    assert found.parameters.sq == pytest.approx(1.3e-9, rel=0.3)
    assert measured_areal_roughness(wavy, pixel_size=PIXEL).parameters.sq > 10e-9
    assert np.allclose(wavy, found.form + found.waviness + found.roughness, atol=1e-20)


def test_missing_pixels_change_little_and_are_said():
    """Five per cent at random: Sq within 2 %, slopes only where neighbours stand."""
    height = texture()
    holed = np.where(np.random.default_rng(3).uniform(size=height.shape) < 0.05, np.nan, height)
    whole, less = (measured_areal_roughness(z, pixel_size=PIXEL) for z in (height, holed))

    assert less.parameters.sq == pytest.approx(whole.parameters.sq, rel=0.02)
    assert less.parameters.sdq == pytest.approx(whole.parameters.sdq, rel=0.05)
    assert less.parameters.sal == pytest.approx(whole.parameters.sal, rel=0.05)
    assert less.n_missing == int(np.isnan(holed).sum())
    assert "surface.points_missing" in [code for code, _ in less.warnings]


def test_lay_shows_in_the_aspect_ratio():
    """Autocorrelation lengths of 4 and 12 pixels: Str a third, Sal along the short one; isotropic: near one."""
    lay = areal_parameters(texture((400, 400), (4.0, 12.0)), pixel_size=PIXEL)
    even = areal_parameters(texture((400, 400), (6.0, 6.0)), pixel_size=PIXEL)

    # a Gaussian of width s makes an autocorrelation exp(-r²/4s²): falls to 0.2 at 2 s √ln 5, here s = half the length
    assert lay.sal == pytest.approx(4.0e-6 * np.sqrt(np.log(5.0)), rel=0.1)
    assert lay.str_ratio == pytest.approx(1 / 3, rel=0.2)
    assert even.str_ratio > 0.8


def test_pixels_need_not_be_square():
    """Twice as wide pixels along x: lengths and slopes follow."""
    height = texture((300, 300))
    square = areal_parameters(height, pixel_size=(1e-6, 1e-6))
    both = areal_parameters(height, pixel_size=(2e-6, 2e-6))

    assert both.sal == pytest.approx(2 * square.sal, rel=1e-9)
    assert both.sdq == pytest.approx(square.sdq / 2, rel=1e-9)
    assert areal_parameters(height, pixel_size=(1e-6, 2e-6)).sdq < square.sdq


def test_a_flat_map_has_no_shape_of_heights():
    """None, not nought over nought."""
    found = areal_parameters(np.zeros((20, 20)), pixel_size=PIXEL)
    assert (found.sa, found.sz, found.sdq, found.sdr) == (0.0, 0.0, 0.0, 0.0)
    assert (found.ssk, found.sku, found.sal, found.str_ratio, found.core) == (None,) * 5


def test_the_autocorrelation_is_that_of_direct_sums():
    """A small map with holes, lag by lag."""
    height = np.random.default_rng(4).normal(size=(12, 10))
    height[3, 4] = np.nan
    found = autocorrelation(height)
    for lag_y, lag_x in ((0, 0), (2, 3), (-4, 1), (6, -5)):
        pairs = [
            (height[i, j], height[i + lag_y, j + lag_x])
            for i in range(12)
            for j in range(10)
            if 0 <= i + lag_y < 12 and 0 <= j + lag_x < 10
        ]
        products = [a * b for a, b in pairs if np.isfinite(a * b)]
        assert found[6 + lag_y, 5 + lag_x] == pytest.approx(np.mean(products) / np.nanmean(height**2))


def test_a_map_that_never_falls_has_no_length():
    """A plane wave longer than the map."""
    slope = np.tile(np.cos(np.linspace(0, 0.1, 50)), (50, 1))
    assert autocorrelation_lengths(slope, pixel_size=PIXEL) == (None, None)


@pytest.mark.parametrize("degree", [0, 1, 2, 3])
def test_fitted_terms_are_those_of_plain_least_squares(degree):
    """Against numpy.linalg.lstsq on monomials of the measured pixels."""
    height = np.random.default_rng(5).normal(size=(30, 25))
    height[5:9, 3:20] = np.nan
    y, x = np.meshgrid(np.linspace(-1, 1, 30), np.linspace(-1, 1, 25), indexing="ij")
    terms = np.stack([y**k * x**m for k in range(degree + 1) for m in range(degree + 1 - k)], axis=-1)
    known = np.isfinite(height)
    theirs = terms @ np.linalg.lstsq(terms[known], height[known], rcond=None)[0]

    assert np.allclose(theirs, fitted_terms(height, degree=degree), atol=1e-10)


def test_pixels_on_one_line_carry_no_plane():
    """Nor do none at all."""
    line = np.full((20, 20), np.nan)
    line[7] = 1.0
    for height in (line, np.full((20, 20), np.nan)):
        with pytest.raises(ShapeNotDetermined):
            fitted_terms(height, degree=1)


def test_refusals():
    """Too small, too coarse, clipped, full of holes: each with its class, together with all reasons."""
    height = texture()
    with pytest.raises(ProfileTooShort, match=r"shorter side of the map is 0\.2 mm"):
        measured_areal_roughness(height, pixel_size=PIXEL, settings=ArealSettings(cutoff=0.25e-3))
    with pytest.raises(SamplingTooCoarse):
        measured_areal_roughness(height, pixel_size=PIXEL, settings=ArealSettings(short_cutoff=4e-6))
    with pytest.raises(HeightsClipped):
        measured_areal_roughness(np.minimum(height, 0.5e-9), pixel_size=PIXEL)
    holed = np.where(np.random.default_rng(3).uniform(size=height.shape) < 0.2, np.nan, height)
    with pytest.raises(TooManyMissing):
        measured_areal_roughness(holed, pixel_size=PIXEL)
    with pytest.raises(SurfaceRefused) as caught:
        measured_areal_roughness(holed, pixel_size=PIXEL, settings=ArealSettings(cutoff=0.25e-3, short_cutoff=4e-6))
    assert len(caught.value.faults) == 3
    with pytest.raises(OutOfValidRange):
        measured_areal_roughness(height, pixel_size=(0.0, 1e-6))
    with pytest.raises(TooManyMissing):
        areal_parameters(np.full((9, 9), np.nan), pixel_size=PIXEL)


def test_tiles_give_the_uncertainty_of_sq():
    """Sixteen tiles; noise taken out in squares; nothing left when all is noise."""
    found = measured_areal_roughness(texture((320, 320)), pixel_size=PIXEL)
    tiles = tile_values(found.roughness, tiles=4, parameter="sq")
    quiet = sampled_uncertainty(tiles, parameter="sq", instrument=UNKNOWN_INSTRUMENT)
    noisy = sampled_uncertainty(tiles, parameter="sq", instrument=ProfileInstrument(noise=0.6e-9))
    drowned = sampled_uncertainty(tiles, parameter="sq", instrument=ProfileInstrument(noise=1.2e-9))

    assert tiles.size == 16
    assert quiet.measured == pytest.approx(found.parameters.sq, rel=1e-6)
    assert noisy.combined.value == pytest.approx(np.sqrt(quiet.measured**2 - 0.36e-18), rel=1e-9)
    assert noisy.combined.expanded_uncertainty > quiet.combined.expanded_uncertainty
    assert drowned.combined is None
    assert [code for code, _ in drowned.warnings] == ["surface.hidden_in_noise"]
    with pytest.raises(OutOfValidRange):
        sampled_uncertainty(tiles[:1], parameter="sa", instrument=UNKNOWN_INSTRUMENT)


def test_fine_detail_is_left_out_by_the_short_cutoff():
    """White noise on a texture goes, the texture stays."""
    height = texture(length=(20.0, 20.0))
    noisy = height + 0.5e-9 * np.random.default_rng(9).normal(size=height.shape)
    found = measured_areal_roughness(noisy, pixel_size=PIXEL, settings=ArealSettings(short_cutoff=8e-6))

    assert found.parameters.sq == pytest.approx(1e-9, rel=0.1)
    assert found.parameters.sdq < 0.2 * measured_areal_roughness(noisy, pixel_size=PIXEL).parameters.sdq


def test_infinite_heights_are_a_wrong_question():
    """Infinity is no height."""
    with pytest.raises(OutOfValidRange):
        measured_areal_roughness(np.full((20, 20), np.inf), pixel_size=PIXEL)


def test_where_no_pixel_has_its_neighbours_there_is_no_slope():
    """Every third column missing."""
    height = np.random.default_rng(4).normal(size=(30, 30))
    height[:, ::3] = np.nan
    found = areal_parameters(height, pixel_size=PIXEL)
    assert (found.sdq, found.sdr) == (None, None)
