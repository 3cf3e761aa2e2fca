"""Zernike polynomials in Noll's order against his tables."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.special import gamma

from lapwright.metrology.shape_grid import Aperture, grid_axes
from lapwright.metrology.zernike import noll_indices, zernike_fit, zernike_surface, zernike_terms

LINES = (Path(__file__).parent / "data" / "noll1976_terms_1_22.csv").read_text(encoding="utf-8").splitlines()
ROWS = list(csv.DictReader(line for line in LINES if not line.startswith("#")))


def polar(row, radius, angle):
    """A row of the table worked out in polar coordinates."""
    powers = [pair.split(":") for pair in row["radial"].split()]
    radial = sum(float(factor) * radius ** int(power) for power, factor in powers)
    turn = {"-": np.ones_like(angle), "cos": np.cos(int(row["m"]) * angle), "sin": np.sin(int(row["m"]) * angle)}
    return math.sqrt(float(row["norm_squared"])) * radial * turn[row["trig"]]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"noll1976-table1-j{row['j']}")
def test_each_term_is_that_of_the_table(row):
    """Values at random places of the disc, 1e-12."""
    generator = np.random.default_rng(3)
    radius, angle = np.sqrt(generator.uniform(0, 1, 200)), generator.uniform(0, 2 * np.pi, 200)
    term = int(row["j"])
    ours = zernike_terms(radius * np.cos(angle), radius * np.sin(angle), terms=term)[-1]

    assert np.allclose(polar(row, radius, angle), ours, atol=1e-12)
    assert noll_indices(term) == (int(row["n"]), int(row["m"]) * (-1 if row["trig"] == "sin" else 1))


def test_the_terms_are_orthonormal_on_the_disc():
    """Gram matrix by Gauss quadrature in the square of the radius and even steps of the angle: identity to 1e-12."""
    nodes, weights = np.polynomial.legendre.leggauss(24)
    radius, share = np.sqrt((nodes + 1) / 2), weights / 2
    angle = 2 * np.pi * np.arange(48) / 48
    x, y = (np.outer(radius, turn(angle)).ravel() for turn in (np.cos, np.sin))
    values = zernike_terms(x, y, terms=66)
    gram = (values * np.repeat(share, 48) / 48) @ values.T

    assert np.allclose(gram, np.eye(66), atol=1e-12)


@pytest.mark.parametrize("row", ROWS[1:], ids=lambda row: f"j{row['j']}")
def test_peak_to_valley_of_each_term(row):
    """On a fine polar net, 1e-3."""
    radius, angle = np.meshgrid(np.linspace(0, 1, 201), np.linspace(0, 2 * np.pi, 721))
    x, y = (radius * np.cos(angle)).ravel(), (radius * np.sin(angle)).ravel()

    assert np.ptp(zernike_terms(x, y, terms=int(row["j"]))[-1]) == pytest.approx(float(row["pv"]), rel=1e-3)


@pytest.mark.parametrize(
    "row", [row for row in ROWS if row["noll_delta"]], ids=lambda row: f"noll1976-table4-j{row['j']}"
)
def test_residual_variances_of_turbulence(row):
    """Sum of the variances of all later terms, by our degrees and his covariance: table IV to 1 %."""
    later = (noll_indices(term)[0] for term in range(int(row["j"]) + 1, 232))
    listed = sum(variance(degree) for degree in later)
    beyond = sum((degree + 1) * variance(degree) for degree in range(21, 400))

    assert float(row["noll_delta"]) == pytest.approx(listed + beyond, rel=0.01)


def variance(degree):
    """Variance of a coefficient of that degree, in (D/r0)^(5/3): his eq. 25 with equal indices."""
    constant = 0.00716 * math.pi ** (8 / 3)
    return (
        constant * (degree + 1) * gamma(14 / 3) * gamma(degree - 5 / 6)
        / (gamma(17 / 6) ** 2 * gamma(degree + 23 / 6))
        if degree < 150
        else constant * (degree + 1) * gamma(14 / 3) * degree ** (-14 / 3) / gamma(17 / 6) ** 2
    )  # fmt: skip


def test_a_masked_aperture_is_fitted_exactly():
    """A surface of 22 terms with a hole, a flat and a bite: least squares finds them to 1e-9."""
    wanted = np.random.default_rng(5).normal(0.0, 1e-7, 22)
    aperture = Aperture(x=2e-3, y=-1e-3, radius=0.045)
    height = zernike_surface(wanted, shape=(180, 200), pixel_size=(0.6e-3, 0.5e-3), aperture=aperture)
    x, y = grid_axes(height.shape, pixel_size=(0.6e-3, 0.5e-3))
    height[np.hypot(x - 0.004, y[:, None]) < 0.008] = np.nan
    height[(y[:, None] < -0.035) | ((x > 0.03) & (y[:, None] > 0.01))] = np.nan
    found = zernike_fit(height, pixel_size=(0.6e-3, 0.5e-3), terms=22, aperture=aperture)

    assert np.allclose(wanted, found.coefficients, rtol=0, atol=1e-16)
    assert found.residual_rms < 1e-16
    assert found.condition > 1.0
