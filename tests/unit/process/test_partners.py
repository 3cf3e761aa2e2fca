"""The best turn of a carrier under a wafer."""

import math

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.model.wafer import Wedge
from lapwright.process.partners import best_partner, wedge_scatter


def _brute_force(wafer: Wedge, carrier: Wedge, bond: Wedge) -> tuple[float, float]:
    """Smallest difference of the plane over the diameter, by trying every tenth of a degree; no vectors added."""
    angles = np.radians(np.arange(0.0, 360.0, 0.1))
    place = np.radians(np.arange(0.0, 360.0, 0.5))[:, None]
    rim = sum(0.5 * one.amount * np.cos(place - one.azimuth) for one in (wafer, bond))
    rim = rim + 0.5 * carrier.amount * np.cos(place - carrier.azimuth - angles)
    across = rim.max(axis=0) - rim.min(axis=0)
    best = int(across.argmin())
    return float(across[best]), float(angles[best])


@pytest.mark.parametrize("seed", range(4))
def test_the_best_turn_is_that_of_trying_them_all(seed):
    """Minimum over the angle equals brute force over the height of the rim."""
    rng = np.random.default_rng(seed)
    wafer, carrier, bond = (
        Wedge(amount=float(amount), azimuth=float(azimuth))
        for amount, azimuth in zip(rng.uniform(0.5e-6, 4e-6, 3), rng.uniform(0.0, 2.0 * math.pi, 3), strict=True)
    )
    (found,) = best_partner(wafer, {"C": carrier}, bond=bond)
    least, angle = _brute_force(wafer, carrier, bond)
    assert found.wedge.amount == pytest.approx(least, rel=1e-3, abs=1e-9)
    assert abs((found.turn - angle + math.pi) % (2.0 * math.pi) - math.pi) < math.radians(0.6)


def test_the_carrier_whose_wedge_is_most_like_the_wafers_comes_first():
    """A wedge can only be cancelled by one as large: |3.1 - 2.2| = 0.9 beats a carrier without any."""
    wafer = Wedge(amount=3.1e-6, azimuth=0.4)
    carriers = {"flat": Wedge(amount=0.0, azimuth=None), "alike": Wedge(amount=2.2e-6, azimuth=1.0)}
    first, second = best_partner(wafer, carriers)
    assert (first.carrier_id, second.carrier_id) == ("alike", "flat")
    assert [first.wedge.amount, second.wedge.amount] == pytest.approx([0.9e-6, 3.1e-6])


def test_turning_everything_turns_the_answer_and_scaling_scales_it():
    """Symmetry and scaling laws; the scatter of the bond adds twice its square (two components)."""
    wafer, carrier = Wedge(amount=3e-6, azimuth=0.2), Wedge(amount=1e-6, azimuth=1.1)
    (plain,) = best_partner(wafer, {"C": carrier})
    (turned,) = best_partner(Wedge(amount=6e-6, azimuth=0.7), {"C": Wedge(amount=2e-6, azimuth=1.6)}, bond_wedge=1e-6)
    assert turned.turn == pytest.approx(plain.turn)
    assert turned.wedge.amount == pytest.approx(2.0 * plain.wedge.amount)
    assert turned.expected == pytest.approx(math.sqrt(turned.wedge.amount**2 + 2e-12))


def test_scatter_of_bonds_needs_three_and_is_that_of_their_components():
    """Two say nothing; for four on a cross the mean is none and each component scatters by sqrt(2/3)."""
    cross = [Wedge(amount=1e-6, azimuth=k * math.pi / 2.0) for k in range(4)]
    assert wedge_scatter(cross[:2], bond_wedge=2e-6)[1] == 2e-6
    mean, deviation = wedge_scatter(cross, bond_wedge=2e-6)
    assert mean.amount < 1e-20
    assert deviation == pytest.approx(math.sqrt(2.0 / 3.0) * 1e-6)


def test_a_negative_scatter_is_refused():
    """A wrong question."""
    with pytest.raises(OutOfValidRange):
        best_partner(Wedge(amount=1e-6, azimuth=0.0), {}, bond_wedge=-1e-6)
