"""Thin discs: own weight, even load, a load in the middle."""

import numpy as np
import pytest
from scipy.integrate import quad

from lapwright.process.plate_stress import (
    own_weight_sag,
    own_weight_stress,
    push_stress,
    push_stress_at_rim,
    suction_stress,
)

SILICON = {"density": 2329.0, "youngs_modulus": 130e9, "poisson_ratio": 0.28}


@pytest.mark.parametrize(("diameter", "thickness", "sag"), [(100, 525, 2.83972), (300, 775, 105.554)])
def test_own_weight_on_an_edge_ring(diameter, thickness, sag):
    """Silicon on a ring at its rim, µm."""
    found = own_weight_sag(thickness=thickness * 1e-6, radius=diameter / 2e3, **SILICON)
    assert found * 1e6 == pytest.approx(sag, rel=1e-5)


@pytest.mark.parametrize(("thickness", "sag", "stress"), [(525, 2.84, 0.134), (100, 78.3, 0.702), (50, 313.0, 1.40)])
def test_own_weight_stresses_little(thickness, sag, stress):
    """Gravity never breaks a wafer: MPa beside µm, silicon over 100 mm."""
    given = {"thickness": thickness * 1e-6, "radius": 0.05}
    assert own_weight_sag(**given, **SILICON) * 1e6 == pytest.approx(sag, rel=3e-3)
    weight = own_weight_stress(**given, density=2329.0, poisson_ratio=0.28)
    assert weight / 1e6 == pytest.approx(stress, rel=5e-3)


def test_a_push_in_the_middle_by_integrating_the_moments():
    """Moment at the centre of a simply supported disc: integral of the shear's slope, by quadrature."""
    force, contact, radius, thickness, nu = 0.5, 2e-3, 25e-3, 100e-6, 0.28

    def shear(r):  # force inside r over its circumference
        return force * min(1.0, (r / contact) ** 2) / (2.0 * np.pi * r)

    def inner(r):
        return quad(shear, 0.0, r, points=[contact] if r > contact else None, limit=200)[0]

    # D (1/r)(r f)' = D C - inner(r); M_r(a) = 0 gives C; at the centre M = D C (1 + nu)/2
    bent = quad(lambda s: s * inner(s), 0.0, radius, points=[contact], limit=200)[0] / radius**2
    centre = inner(radius) - (1.0 - nu) * bent
    found = push_stress(force, contact=contact, radius=radius, thickness=thickness, poisson_ratio=nu)
    assert found == pytest.approx(6.0 * centre / thickness**2, rel=1e-4)


def test_the_rim_under_a_push():
    """Tangential moment at a simply supported rim: F (1 - nu)/(4 pi)."""
    moment = 0.5 * (1.0 - 0.28) / (4.0 * np.pi)
    found = push_stress_at_rim(0.5, thickness=100e-6, poisson_ratio=0.28)
    assert found == pytest.approx(6.0 * moment / 1e-8, rel=1e-12)


def test_suction_over_an_opening():
    """Clamped edge moment q b^2/8."""
    assert suction_stress(30e3, opening=2e-3, thickness=1e-4) == pytest.approx(6.0 * 30e3 * 4e-6 / 8.0 / 1e-8)
