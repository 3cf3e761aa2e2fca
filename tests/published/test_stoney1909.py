"""A thin stressed film on a thick plate, and the limit of two layers."""

import pytest

from lapwright.process.bonding_stress import bonded_plate, isotropic_layer, thin_film_curvature, two_layer_curvature


@pytest.mark.parametrize(
    ("thickness", "film", "radius", "stress", "bow"),
    [(525, 1.0, 50.0, 165.834, 25.0), (725, 0.5, 100.0, 316.251, 12.5), (300, 1.0, 20.0, 135.375, 62.5)],
)
def test_three_films_on_silicon(thickness, film, radius, stress, bow):
    """Biaxial modulus 180.5 GPa; bow over 100 mm."""
    bent = thin_film_curvature(stress * 1e6, film=film * 1e-6, thickness=thickness * 1e-6, modulus=180.5e9)
    assert 1.0 / bent == pytest.approx(radius, rel=1e-5)
    assert bent * 0.1**2 / 8.0 * 1e6 == pytest.approx(bow, rel=1e-5)


def test_two_layers_become_stoney():
    """1 µm on 500 µm: 2.38566e-3 against Stoney's 2.4e-3 1/m, 0.6 % low as of first order; thinner still, within 0.1 %."""
    equal = two_layer_curvature(1e-6, 500e-6, modulus=1e11, other_modulus=1e11, mismatch=2e-4 / 2.0)
    assert thin_film_curvature(1e11 * 1e-4, film=1e-6, thickness=500e-6, modulus=1e11) == pytest.approx(2.4e-3)
    assert equal == pytest.approx(2.38566e-3, rel=1e-5)
    thinner = two_layer_curvature(0.1e-6, 500e-6, modulus=1e11, other_modulus=1e11, mismatch=1e-4)
    assert thinner == pytest.approx(2.4e-4, rel=1e-3)


@pytest.mark.parametrize("film", [0.1e-6, 0.5e-6, 1e-6])
def test_a_thinned_wafer_bends_its_carrier_as_stoney_says(film):
    """Layers axis by axis, t1 to zero: within 1 % of Stoney with the film's stress E' d(alpha) dT."""
    carrier = isotropic_layer("c", thickness=500e-6, youngs_modulus=64e9, poisson_ratio=0.2, expansion=3.3e-6)
    wafer = isotropic_layer("w", thickness=film, youngs_modulus=64e9, poisson_ratio=0.2, expansion=5.3e-6)
    found = bonded_plate([carrier, wafer], temperature_change=-60.0).curvatures[0]
    stress = 64e9 / 0.8 * 2e-6 * 60.0
    expected = thin_film_curvature(stress, film=film, thickness=500e-6, modulus=64e9 / 0.8)
    assert -found == pytest.approx(expected, rel=0.01)  # the wafer is in tension: dished
