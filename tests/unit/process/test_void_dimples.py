"""What a void leaves on the finished wafer."""

import pytest

from lapwright.errors import OutOfValidRange
from lapwright.process.void_dimples import dimple_height, void_verdict


def test_dimple_of_a_clamped_disc():
    """Roark's table for a clamped circular plate under uniform load (case 10b, from memory): y = q a^4 / (64 D)."""
    sag = dimple_height(thickness=1e-3, diameter=0.1, pressure=1000.0, youngs_modulus=70e9, poisson_ratio=0.0)
    assert sag == pytest.approx(1000.0 * 0.05**4 * 12.0 / (64.0 * 70e9 * 1e-9), rel=1e-12)


def test_dimple_grows_as_the_fourth_power_of_the_void_and_falls_as_the_cube_of_the_thickness():
    """Half the thickness eight times, twice the void sixteen times: the laws of a thin plate."""
    known = {"pressure": 10e3, "youngs_modulus": 230e9, "poisson_ratio": 0.25}
    one = dimple_height(thickness=1e-4, diameter=3e-3, **known)
    assert dimple_height(thickness=5e-5, diameter=3e-3, **known) == pytest.approx(8.0 * one)
    assert dimple_height(thickness=1e-4, diameter=6e-3, **known) == pytest.approx(16.0 * one)
    with pytest.raises(OutOfValidRange):
        dimple_height(thickness=1e-4, diameter=3e-3, pressure=1e4, youngs_modulus=1e11, poisson_ratio=0.5)


@pytest.mark.parametrize(
    ("lengths", "dimple", "limit", "outcome"),
    [
        ([], None, 2e-6, "none"),
        ([1.0e-3, 0.4e-3], 1e-9, 2e-6, "small"),
        ([3e-3], 0.1e-6, 2e-6, "watch"),
        ([6e-3], 1.0e-6, 2e-6, "rebond"),
        ([3e-3], None, 2e-6, "rebond"),
    ],
)
def test_a_millimetre_is_passed_and_a_third_of_the_limit_is_the_end(lengths, dimple, limit, outcome):
    """No void longer than 1 mm: common practice, no source."""
    found = void_verdict(lengths, dimple=dimple, ttv_limit=limit)
    assert found.outcome == outcome
    assert ("Bond again" in found.reason) == (outcome == "rebond")
