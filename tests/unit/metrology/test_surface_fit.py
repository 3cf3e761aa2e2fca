"""Least squares surfaces against plain linear algebra."""

import numpy as np
import pytest

from lapwright.metrology.site_patterns import five_sites, nine_sites, seventeen_sites
from lapwright.metrology.surface_fit import fitted_surface, steepest_slope, surface_terms
from lapwright.model.wafer import Round

DISC = Round(diameter=0.1)
SITES = seventeen_sites(DISC)


@pytest.mark.parametrize("surface", ["plane", "dome", "saddle"])
def test_coefficients_equal_linear_algebra(surface):
    """To 1e-9 of the largest coefficient, on uneven thickness of 500 µm, sites moved about at random."""
    generator = np.random.default_rng(2)
    x, y = SITES.x + generator.normal(0, 1e-3, 17), SITES.y + generator.normal(0, 1e-3, 17)
    thickness = 5e-4 + generator.normal(0.0, 2e-6, 17)
    fit = fitted_surface(x, y, thickness, surface=surface, reach=0.05)
    terms = surface_terms(x / 0.05, y / 0.05, surface=surface)
    expected, *_ = np.linalg.lstsq(terms, thickness - 5e-4, rcond=None)
    assert np.allclose(expected, fit.coefficients - np.eye(1, len(expected))[0] * 5e-4, rtol=0, atol=1e-9 * 5e-6)
    assert np.allclose(thickness - 5e-4 - terms @ expected, fit.residuals, atol=1e-16)
    assert np.allclose(np.diag(terms @ np.linalg.pinv(terms)), fit.leverage)
    assert 17 - len(expected) == fit.degrees_of_freedom


@pytest.mark.parametrize("surface", ["plane", "dome", "saddle"])
def test_weights_give_the_covariance_of_linear_algebra(surface):
    """Weights times their transpose is the inverse of the normal matrix."""
    fit = fitted_surface(SITES.x, SITES.y, np.full(17, 5e-4), surface=surface, reach=0.05)
    terms = surface_terms(SITES.x / 0.05, SITES.y / 0.05, surface=surface)
    assert np.allclose(np.linalg.inv(terms.T @ terms), fit.weights @ fit.weights.T)


def test_what_the_sites_cannot_carry_is_none():
    """Two sites no plane; a ring no dome; five sites no saddle of both kinds."""
    nine, five = nine_sites(DISC), five_sites(DISC)
    assert fitted_surface(nine.x[:2], nine.y[:2], np.ones(2), surface="plane", reach=0.05) is None
    assert fitted_surface(nine.x[1:], nine.y[1:], np.ones(8), surface="dome", reach=0.05) is None
    assert fitted_surface(five.x, five.y, np.ones(5), surface="saddle", reach=0.05) is None


def test_as_many_sites_as_terms_leave_no_residual():
    """Three sites and a plane: nothing is left to judge by."""
    fit = fitted_surface(SITES.x[[1, 4, 6]], SITES.y[[1, 4, 6]], np.array([1.0, 2.0, 4.0]), surface="plane", reach=0.05)
    assert fit.residual_rms is None


def test_steepest_slope_of_a_plane():
    """3 along x and 4 along y: 5 along atan2(4, 3)."""
    thickness = 5e-4 + (3 * SITES.x + 4 * SITES.y) * 1e-6 / 0.05
    slope = steepest_slope(fitted_surface(SITES.x, SITES.y, thickness, surface="plane", reach=0.05))
    assert pytest.approx((5e-6, np.arctan2(4, 3))) == (slope.rise, slope.azimuth)
    assert pytest.approx(5e-6) == slope.weights @ thickness
