"""Flatness, site flatness, bow and warp of simple surfaces: exact closed forms on a 401 x 401 grid."""

import math

import numpy as np
import pytest

from lapwright.metrology.flatness import flatness, minimum_zone_flatness
from lapwright.metrology.shape import measured_shape
from lapwright.metrology.shape_bow import bow_and_warp
from lapwright.metrology.shape_grid import Aperture, grid_axes
from lapwright.metrology.shape_sites import SiteGrid, global_flatness, site_flatness

R = 0.05
PIXEL = 0.25e-3
X, Y = grid_axes((401, 401), pixel_size=(PIXEL, PIXEL))
XX, YY = np.broadcast_arrays(X, Y[:, None])
SQUARE = XX**2 + YY**2
ON_DISC = SQUARE <= R**2 * (1 + 1e-12)
DISC = Aperture(radius=R)
MAP = {"pixel_size": (PIXEL, PIXEL), "aperture": DISC}
SITES = SiteGrid(width=0.025, height=0.025)
NM = 1e-9


def disc(surface):
    """The surface on the disc only."""
    return np.where(ON_DISC, surface, np.nan)


def test_plane():
    """TTV = GBIR = 2 R g; GFLR = SFQR = 0; SBIR = a (|gx| + |gy|)."""
    gx, gy = 3e-6, -2e-6
    wedge = disc(5e-4 + gx * XX + gy * YY)
    overall = global_flatness(disc(5e-4 + gx * XX), **MAP)
    sites = site_flatness(wedge, sites=SITES, **MAP)

    assert overall.gbir == pytest.approx(2 * R * gx, rel=1e-9)
    assert overall.gflr == pytest.approx(0.0, abs=1e-15)
    assert overall.gf3r == pytest.approx(0.0, abs=1e-15)
    assert sites.sfqr == pytest.approx(0.0, abs=1e-15)
    assert sites.sbir == pytest.approx(0.025 * (abs(gx) + abs(gy)), rel=1e-9)


def test_one_arc_second_over_100_mm():
    """GBIR 0.4848137 µm."""
    found = global_flatness(disc(5e-4 + math.radians(1 / 3600) * XX), **MAP)
    assert found.gbir == pytest.approx(0.4848137e-6, rel=1e-6)


def test_bowl_of_thickness():
    """A bowl c r²: GBIR = GFLR = c R²; SFQR = c a²/2 = 0.125 µm in every whole site; SBIR = 2 c a (|x0| + |y0|)."""
    c = 4e-4  # 1/m: TTV 1 µm at R = 50 mm
    bowl = disc(5e-4 + c * SQUARE)
    overall = global_flatness(bowl, **MAP)
    sites = site_flatness(bowl, sites=SITES, **MAP)

    assert overall.gbir == pytest.approx(1e-6, rel=1e-9)
    assert overall.gflr == pytest.approx(1e-6, rel=1e-6)
    assert sites.sfqr == pytest.approx(0.125e-6, rel=1e-9)
    assert sites.sbir == pytest.approx(2 * c * 0.025 * (np.abs(sites.x) + np.abs(sites.y)), rel=1e-9)


def test_bowl_in_a_centred_site():
    """SBIR = SFQR = c a²/2 for the site in the middle."""
    sites = site_flatness(
        disc(4e-4 * SQUARE), sites=SiteGrid(width=0.025, height=0.025, corner_x=0.0125, corner_y=0.0125), **MAP
    )
    middle = int(np.argmin(np.hypot(sites.x, sites.y)))

    assert sites.sbir[middle] == pytest.approx(0.125e-6, rel=1e-9)
    assert sites.sfqr[middle] == pytest.approx(0.125e-6, rel=1e-9)


def test_saddle_of_thickness():
    """A saddle c (x² − y²): TTV = 2 c R²; SFQR = c a²/2."""
    c = 4e-4
    saddle = disc(5e-4 + c * (XX**2 - YY**2))

    assert global_flatness(saddle, **MAP).gbir == pytest.approx(2e-6, rel=1e-9)
    assert site_flatness(saddle, sites=SITES, **MAP).sfqr == pytest.approx(0.125e-6, rel=1e-9)


def test_dome_of_height():
    """A dome h (1 − r²/R²): FLTt = h = minimum zone, FLTq = h/√12, FLTp = FLTv = h/2, power h, no astigmatism."""
    h = 2e-6
    height = disc(h * (1 - SQUARE / R**2))
    found = flatness(XX[ON_DISC], YY[ON_DISC], height[ON_DISC])
    shape = measured_shape(height, **MAP)

    assert found.fltt == pytest.approx(h, rel=1e-9)
    assert found.fltq == pytest.approx(0.2886751 * h, rel=1e-3)
    assert found.fltp == pytest.approx(h / 2, rel=1e-3)
    assert minimum_zone_flatness(XX[ON_DISC], YY[ON_DISC], height[ON_DISC]) == pytest.approx(h, rel=1e-6)
    assert shape.power == pytest.approx(h, rel=1e-9)
    assert shape.astigmatism == pytest.approx(0.0, abs=1e-15)
    assert shape.rms == pytest.approx(0.2886751 * h, rel=1e-3)


def test_sphere():
    """Radius 1000 m over 100 mm: sagitta 1.25 µm (exact 1.24999997)."""
    shape = measured_shape(disc(np.sqrt(1000.0**2 - SQUARE) - 1000.0), **MAP)
    assert shape.power == pytest.approx(1.25e-6, rel=1e-6)


def test_bow_and_warp_of_a_sphere():
    """κ r²/2, H = κ R²/2: three-point bow −H and warp H; least squares −H/2 at the centre, warp H."""
    h = 10e-6
    found = bow_and_warp(h * SQUARE / R**2, **MAP)

    assert found.bow == pytest.approx(-h, rel=1e-3)
    assert found.warp_three_point == pytest.approx(h, rel=1e-3)
    assert found.bow_least_squares == pytest.approx(-h / 2, rel=1e-3)
    assert found.warp == pytest.approx(h, rel=1e-9)


@pytest.mark.parametrize("degrees", [0, 20, 45, 90])
def test_bow_and_warp_of_a_cylinder(degrees):
    """κ x²/2: three-point bow −H/2 in any orientation; least squares −H/4, warp H (to the rim pixels: 1e-2)."""
    h, turn = 10e-6, math.radians(degrees)
    across = XX * math.cos(turn) + YY * math.sin(turn)
    found = bow_and_warp(h * across**2 / R**2, **MAP)

    assert found.bow == pytest.approx(-h / 2, rel=1e-3)
    assert found.bow_least_squares == pytest.approx(-h / 4, rel=1e-3)
    assert found.warp == pytest.approx(h, rel=1e-2)


def test_bow_and_warp_of_a_saddle():
    """κ (x² − y²)/2: no three-point bow; least-squares warp 2 H; three-point warp larger."""
    h = 10e-6
    found = bow_and_warp(h * (XX**2 - YY**2) / R**2, **MAP)

    assert found.bow == pytest.approx(0.0, abs=1e-3 * h)
    assert found.warp == pytest.approx(2 * h, rel=1e-9)
    assert found.warp_three_point == pytest.approx(31.2e-6, rel=1e-2)
