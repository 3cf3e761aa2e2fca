"""Laws that every surface must obey: scaling, shift, mirror, quarter turn."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.metrology.filters import gaussian_mean_line, robust_gaussian_mean_line, spline_mean_line
from lapwright.metrology.flatness import flatness, minimum_zone_flatness
from lapwright.metrology.roughness_areal import areal_parameters
from lapwright.metrology.roughness_parameters import profile_parameters
from lapwright.metrology.shape import measured_shape
from lapwright.metrology.shape_bow import bow_and_warp
from lapwright.metrology.shape_grid import Aperture, grid_axes
from lapwright.metrology.shape_sites import SiteGrid, global_flatness, site_flatness
from lapwright.metrology.zernike import noll_indices, zernike_fit

SEEDS = st.integers(0, 2**32 - 1)
FACTORS = st.floats(1e-3, 1e3)
SHIFTS = st.floats(-1e-3, 1e-3)
PIXEL = (1e-3, 1e-3)
X, Y = grid_axes((41, 41), pixel_size=PIXEL)
XX, YY = np.broadcast_arrays(X, Y[:, None])
DISC = Aperture(radius=0.02)
MAP = {"pixel_size": PIXEL, "aperture": DISC}
SITES = SiteGrid(width=0.01, height=0.01)
LAW = settings(max_examples=25, deadline=None)
HEIGHTS = ("ra", "rq", "rz", "rt", "rp", "rv")


def profile(seed):
    """A rough profile with a few missing heights."""
    generator = np.random.default_rng(seed)
    height = 1e-7 * np.convolve(generator.normal(size=620), np.hanning(21), mode="valid")
    height[generator.integers(0, 600, 8)] = np.nan
    return height - np.nanmean(height)


def face(seed):
    """A smooth face on a disc with a few missing pixels."""
    generator = np.random.default_rng(seed)
    terms = [XX, YY, XX**2, YY**2, XX * YY, XX**3, YY**3, XX**2 * YY, 0.02 * np.sin(300 * XX)]
    height = sum(1e-6 * a * t / np.abs(t).max() for a, t in zip(generator.normal(size=9), terms, strict=True))
    height = np.where(np.hypot(XX, YY) <= 0.02, height, np.nan)
    height[generator.integers(3, 38, 5), generator.integers(3, 38, 5)] = np.nan
    return height


@LAW
@given(SEEDS, FACTORS)
def test_heights_of_a_profile_scale(seed, factor):
    """Heights times k: lengths times k, shapes of heights the same, slope times k."""
    one, other = (profile_parameters(k * profile(seed), spacing=1e-6) for k in (1.0, factor))

    for name in HEIGHTS:
        assert getattr(other, name) == pytest.approx(factor * getattr(one, name), rel=1e-9)
    assert other.rsk == pytest.approx(one.rsk, rel=1e-6, abs=1e-9)
    assert other.rku == pytest.approx(one.rku, rel=1e-6)
    assert other.rdq == pytest.approx(factor * one.rdq, rel=1e-9)
    assert other.rsm == pytest.approx(one.rsm, rel=1e-6)
    assert other.core.rk == pytest.approx(factor * one.core.rk, rel=1e-9)


@LAW
@given(SEEDS)
def test_a_profile_upside_down_changes_peaks_for_valleys(seed):
    """Rp and Rv, Rpk and Rvk change places, Rsk its sign, the rest stays."""
    one, other = (profile_parameters(sign * profile(seed), spacing=1e-6) for sign in (1.0, -1.0))

    assert other.ra == pytest.approx(one.ra)
    assert (other.rp, other.rv) == pytest.approx((one.rv, one.rp))
    assert other.rsk == pytest.approx(-one.rsk)
    assert other.core.rk == pytest.approx(one.core.rk, rel=0.02)


@LAW
@given(SEEDS)
def test_a_profile_traced_backwards_has_the_same_heights(seed):
    """Mirror: all heights, slope and core stay."""
    one, other = (profile_parameters(z, spacing=1e-6) for z in (profile(seed), profile(seed)[::-1]))

    for name in (*HEIGHTS, "rsk", "rku", "rdq"):
        assert getattr(other, name) == pytest.approx(getattr(one, name), rel=1e-9)
    assert other.core.rk == pytest.approx(one.core.rk)


@pytest.mark.parametrize("line", [gaussian_mean_line, spline_mean_line, robust_gaussian_mean_line])
@LAW
@given(seed=SEEDS, shift=SHIFTS, slope=st.floats(-1e-2, 1e-2))
def test_a_mean_line_goes_with_the_line_that_is_added(line, seed, shift, slope):
    """Filter(z + a + b x) = filter(z) + a + b x, to both ends and over gaps; backwards likewise."""
    height = profile(seed)
    added = shift + slope * 1e-6 * np.arange(height.size)
    plain, lifted, back = (line(z, spacing=1e-6, cutoff=50e-6) for z in (height, height + added, height[::-1].copy()))
    size = 1e-7 + np.ptp(added) + abs(shift)

    assert np.nanmax(np.abs(lifted - plain - added)) < 2e-5 * size
    assert np.nanmax(np.abs(back[::-1] - plain)) < 2e-5 * size


@LAW
@given(SEEDS, FACTORS)
def test_a_face_scales(seed, factor):
    """Heights times k: every figure of form times k, angles the same."""
    one, other = (measured_shape(k * face(seed), **MAP) for k in (1.0, factor))

    for name in ("tilt", "pv", "rms", "robust_pv", "power", "astigmatism", "residual_rms", "residual_pv"):
        assert getattr(other, name) == pytest.approx(factor * getattr(one, name), rel=1e-6)
    assert other.tilt_azimuth == pytest.approx(one.tilt_azimuth)


@LAW
@given(SEEDS, SHIFTS, st.floats(-1e-4, 1e-4))
def test_level_and_tilt_change_only_the_tilt(seed, shift, slope):
    """Form after the plane stays."""
    one, other = (measured_shape(z, **MAP) for z in (face(seed), face(seed) + shift + slope * XX))

    for name in ("pv", "rms", "robust_pv", "power", "astigmatism", "residual_rms"):
        assert getattr(other, name) == pytest.approx(getattr(one, name), rel=1e-6, abs=1e-14)


@LAW
@given(SEEDS)
def test_a_quarter_turn_turns_the_angles_only(seed):
    """np.rot90 turns counter-clockwise: azimuths grow by 90°, sizes stay."""
    one, other = (measured_shape(z, **MAP) for z in (face(seed), np.rot90(face(seed))))

    for name in ("tilt", "pv", "rms", "power", "astigmatism", "residual_rms"):
        assert getattr(other, name) == pytest.approx(getattr(one, name), rel=1e-9)
    turned = other.tilt_azimuth - one.tilt_azimuth - math.pi / 2
    assert math.cos(turned) == pytest.approx(1.0)
    axis = 2 * (other.astigmatism_azimuth - one.astigmatism_azimuth - math.pi / 2)
    assert math.cos(axis) == pytest.approx(1.0)


@LAW
@given(SEEDS)
def test_a_mirror_in_x_turns_the_signs_of_the_odd_terms(seed):
    """Zernike cosines of odd m and sines of even m change sign; the rest stays."""
    one, other = (zernike_fit(z, **MAP, terms=15).coefficients for z in (face(seed), face(seed)[:, ::-1]))
    frequencies = [noll_indices(term)[1] for term in range(1, 16)]
    signs = np.array([-1.0 if (m > 0 and m % 2) or (m < 0 and m % 2 == 0) else 1.0 for m in frequencies])

    assert np.allclose(signs * one, other, atol=1e-16)


@LAW
@given(SEEDS, SHIFTS)
def test_flatness_obeys_shift_and_order(seed, shift):
    """Added planes, places in another order: nothing changes; the minimum zone is never the larger."""
    height = face(seed)
    known = np.isfinite(height)
    x, y, z = XX[known], YY[known], height[known]
    order = np.random.default_rng(seed).permutation(z.size)
    one = flatness(x, y, z)
    other = flatness(x[order], y[order], (z + shift + 0.1 * shift * x)[order])

    assert other.fltt == pytest.approx(one.fltt, rel=1e-6, abs=1e-15)
    assert other.fltq == pytest.approx(one.fltq, rel=1e-6, abs=1e-15)
    assert minimum_zone_flatness(x, y, z) <= one.fltt * (1 + 1e-9)


@LAW
@given(SEEDS)
def test_sites_turn_with_the_wafer(seed):
    """A quarter turn permutes the sites; mirror likewise; sorted figures stay."""
    thickness = 5e-4 + face(seed)
    turned, flipped = np.rot90(thickness), thickness[:, ::-1]
    rule = {"sites": SITES, "min_measured": 0.5}
    one, two, three = (site_flatness(t, **MAP, **rule) for t in (thickness, turned, flipped))

    for name in ("sbir", "sfqr", "sflr", "sfqd"):
        assert np.allclose(np.sort(getattr(one, name)), np.sort(getattr(two, name)), rtol=0, atol=1e-15)
        assert np.allclose(np.sort(getattr(one, name)), np.sort(getattr(three, name)), rtol=0, atol=1e-15)
    assert np.all(one.sfqr <= 2 * one.sfqd + 1e-18)
    assert global_flatness(turned, **MAP).gflr == pytest.approx(global_flatness(thickness, **MAP).gflr)


@LAW
@given(SEEDS)
def test_a_wafer_turned_over_has_the_opposite_bow_and_the_same_warp(seed):
    """The median surface mirrored and its sign changed."""
    surface = face(seed)
    filled = np.where(np.isfinite(surface), surface, 0.0)
    one, over = (bow_and_warp(z, **MAP) for z in (filled, -filled[:, ::-1]))

    assert over.bow == pytest.approx(-one.bow, abs=1e-15)
    assert over.warp == pytest.approx(one.warp)


@LAW
@given(SEEDS, FACTORS)
def test_areal_figures_scale_and_turn(seed, factor):
    """Heights times k; a quarter turn changes nothing."""
    height = np.random.default_rng(seed).normal(size=(30, 30))
    height = height + np.roll(height, 1, axis=0) + np.roll(height, 1, axis=1)
    height[3, 4] = np.nan
    one, larger, turned = (areal_parameters(z, pixel_size=PIXEL) for z in (height, factor * height, np.rot90(height)))

    for name in ("sa", "sq", "sz", "sp", "sv", "sdq"):
        assert getattr(larger, name) == pytest.approx(factor * getattr(one, name), rel=1e-9)
        assert getattr(turned, name) == pytest.approx(getattr(one, name), rel=1e-9)
    assert larger.ssk == pytest.approx(one.ssk, abs=1e-9)
    assert larger.sal == pytest.approx(one.sal, rel=1e-6)
    assert turned.sal == pytest.approx(one.sal, rel=1e-6)
