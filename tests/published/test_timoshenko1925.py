"""Two bonded layers: his example, the effect of unequal moduli, and laminated-plate theory as a second route."""

import pytest

from lapwright.process.bonding_stress import Layer, bonded_plate, isotropic_layer, two_layer_curvature


def test_his_example():
    """4e-6 per kelvin, 200 K: h/rho = 0.0012, largest stress E h/(3 rho) = 10 800 lb/in2."""
    thickness = 1e-3
    bent = two_layer_curvature(thickness / 2, thickness / 2, modulus=27e6, other_modulus=27e6, mismatch=4e-6 * 200.0)
    assert bent * thickness == pytest.approx(0.0012, rel=1e-12)
    assert 27e6 * thickness * bent / 3.0 == pytest.approx(10800.0, rel=1e-9)


def test_his_largest_stress_from_the_layers():
    """The same stress in a strip, where Poisson's ratio plays no part, at the bonded faces."""
    psi = 6894.757
    layers = [
        Layer(name=name, thickness=0.5e-3, moduli=(27e6 * psi,) * 2, poisson_ratio=0.0, expansions=(expansion,) * 2)
        for name, expansion in (("low", 0.0), ("high", 4e-6))
    ]
    plate = bonded_plate(layers, temperature_change=200.0)
    assert plate.curvatures[0] * 1e-3 == pytest.approx(0.0012, rel=1e-9)
    assert abs(plate.stresses[1].bottom[0]) / psi == pytest.approx(10800.0, rel=1e-6)


@pytest.mark.parametrize(("ratio", "factor"), [(1.0, 1.5), (1.15, 1.498168), (1.5, 1.484536), (2.0, 1.454545)])
def test_unequal_moduli(ratio, factor):
    """Effect of n = E1/E2 on the factor 1.5 at equal thickness."""
    bent = two_layer_curvature(0.5e-3, 0.5e-3, modulus=ratio, other_modulus=1.0, mismatch=1e-3)
    assert bent * 1e-3 / 1e-3 == pytest.approx(factor, abs=1e-6)


def test_laminated_plate_theory():
    """t1/t2 = 0.3/0.7, 200 and 130 GPa, 1e-3: 1.369079 1/m by stiffness matrices; the strip formula agrees."""
    assert two_layer_curvature(0.3e-3, 0.7e-3, modulus=200e9, other_modulus=130e9, mismatch=1e-3) == pytest.approx(
        1.369079, rel=1e-6
    )
    layers = [
        Layer(name="1", thickness=0.3e-3, moduli=(200e9, 200e9), poisson_ratio=0.0, expansions=(0.0, 0.0)),
        Layer(name="2", thickness=0.7e-3, moduli=(130e9, 130e9), poisson_ratio=0.0, expansions=(1e-3, 1e-3)),
    ]
    assert bonded_plate(layers, temperature_change=1.0).curvatures[0] == pytest.approx(1.369079, rel=1e-6)


def test_wafer_on_carrier():
    """Si 525 µm on glass 1.1 mm, -80 K: 0.0468799 1/m, bow over 100 mm 58.600 µm."""
    glass = isotropic_layer("glass", thickness=1.1e-3, youngs_modulus=63e9, poisson_ratio=0.20, expansion=3.25e-6)
    wafer = isotropic_layer("Si", thickness=525e-6, youngs_modulus=130e9, poisson_ratio=0.28, expansion=2.6e-6)
    plate = bonded_plate([glass, wafer], temperature_change=-80.0)
    assert abs(plate.curvatures[0]) == pytest.approx(0.0468799, rel=1e-5)
    assert plate.bows(0.1)[0] * 1e6 == pytest.approx(58.600, abs=1e-3)  # glass shrinks more: domed
    force = [one.mean[0] * thickness for one, thickness in zip(plate.stresses, (1.1e-3, 525e-6), strict=True)]
    assert sum(force) == pytest.approx(0.0, abs=1e-6)


CARRIED = [  # derived table, 60 K, 100 mm: E', expansion, µm of wafer; of carrier; bow µm, mean and largest stress MPa
    ((180.6, 2.6, 525), (80.0, 3.25, 1000), 47.3, -0.84, 2.6),
    ((180.6, 2.6, 525), (80.0, 3.25, 5000), 7.3, -3.4, 3.6),
    ((180.6, 2.6, 525), (92.308, 8.5, 5000), 61.5, -32.7, 35.0),
    ((123.913, 5.73, 625), (563.38, 5.0, 1000), 32.1, 2.5, 3.5),
    ((123.913, 5.73, 100), (563.38, 5.0, 1000), 7.2, 4.9, 5.0),
    ((123.913, 5.73, 625), (80.0, 3.25, 5000), 25.2, 9.6, 10.4),
    ((180.6, 2.6, 100), (80.0, 3.25, 5000), 2.3, -5.9, 6.0),
]


@pytest.mark.parametrize(("wafer", "carrier", "bow", "mean", "largest"), CARRIED)
def test_table_of_pairs(wafer, carrier, bow, mean, largest):
    """Bow and stress of seven pairs, to the digits printed; the layer that shrinks more is in tension."""
    layers = [
        isotropic_layer(name, thickness=t * 1e-6, youngs_modulus=e * 1e9, poisson_ratio=0.0, expansion=a * 1e-6)
        for name, (e, a, t) in (("carrier", carrier), ("wafer", wafer))
    ]
    plate = bonded_plate(layers, temperature_change=-60.0)
    found = plate.stresses[1]
    assert abs(plate.bows(0.1)[0]) * 1e6 == pytest.approx(bow, abs=0.06)
    assert found.mean[0] / 1e6 == pytest.approx(mean, rel=0.02)
    assert abs(found.largest) / 1e6 == pytest.approx(largest, rel=0.03)
