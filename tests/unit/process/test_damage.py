"""Depth of damage and roughness left, and where the figure comes from."""

import pytest

from lapwright.errors import OutOfValidRange
from lapwright.library import load
from lapwright.process.damage import damage_bounds, damage_left, damage_ratio, damage_remaining, roughness_left


@pytest.fixture(scope="module")
def library():
    """The shipped library."""
    return load()


@pytest.mark.parametrize(
    ("grain", "low", "high"),
    [(1, 0.30, 2.0), (3, 0.63, 5.1), (5, 0.90, 7.9), (9, 1.34, 12.9), (15, 1.89, 20.0), (30, 3.03, 36.0)],
)
def test_bounds_from_grain_size(grain, low, high):
    """0.3 L^0.68 and 2 L^0.85 in um (derived, three digits)."""
    found = damage_bounds(grain * 1e-6)

    assert found[0] * 1e6 == pytest.approx(low, abs=6e-3)
    assert found[1] * 1e6 == pytest.approx(high, abs=0.06)


@pytest.mark.parametrize(
    ("material", "expected"),
    [("Ge", 1.35), ("GaAs", 1.3), ("InP", 1.9), ("GaN", 1.3), ("4H-SiC", 0.7), ("sapphire", 1.0)],
)
def test_ratios_to_silicon(library, material, expected):
    """Square root of modulus over hardness, to 8 % (the table elsewhere prints two digits)."""
    silicon, other = library.material("Si"), library.material(material)
    ratio = damage_ratio(
        silicon.value("youngs_modulus"), silicon.value("hardness"),
        to_youngs_modulus=other.value("youngs_modulus"), to_hardness=other.value("hardness"),
    )  # fmt: skip

    assert ratio == pytest.approx(expected, rel=0.08)


def test_a_row_is_used_as_it_stands(library):
    """#1000 silicon carbide on LiTaO3: 12 um read in the source."""
    found = damage_left(library, "LiTaO3", library.abrasive("sic-jis1000"))

    assert found.expected == pytest.approx(12e-6)
    assert found.trust == "read"


def test_a_range_is_kept_as_the_band(library):
    """Silicon with 9-15 um alumina: 5 to 10 um, 7.5 expected."""
    found = damage_left(library, "Si", library.abrasive("al2o3-15"))

    assert (found.low, found.expected, found.high) == pytest.approx((5e-6, 7.5e-6, 10e-6))


def test_another_grain_is_in_proportion(library):
    """12 um at 11.5 um is 7.0 um at 6.7 um, with a wider band and a changed trust word."""
    found = damage_left(library, "LiTaO3", library.abrasive("sic-jis2000"))

    assert found.expected * 1e6 == pytest.approx(12 * 6.7 / 11.5)
    assert found.trust == "derived"
    assert found.high > 1.4 * found.expected


def test_another_material_is_scaled_and_named(library):
    """Borosilicate has no lapping row: scaled from one that has, by eq. 2.3."""
    found = damage_left(library, "quartz", library.abrasive("al2o3-9"))

    assert "eq. 2.3" in found.method
    assert found.origin is not None


def test_a_soft_crystal_gets_the_bounds_of_its_grain(library):
    """ZnSe is outside the scaling law: a factor of ten wide, and said so."""
    found = damage_left(library, "ZnSe", library.abrasive("al2o3-9"))

    assert (found.low, found.high) == damage_bounds(9e-6)
    assert "factor of ten" in found.method


def test_silicon_carbide_points_lie_inside_the_grain_bounds(library):
    """3 um left 1.56 um, 4 um left 2.16 um: both between the bounds."""
    for row in library.damage_of("4H-SiC"):
        if row.row_id in ("sic-diamond-3", "sic-diamond-4"):
            low, high = damage_bounds(row.grain)
            assert low < row.depth_high < high


@pytest.mark.parametrize(
    ("before", "removal", "left", "expected"), [(12, 20, 3, 3), (12, 5, 3, 7), (0, 5, 3, 3), (12, 12, 0, 0)]
)
def test_damage_after_a_stage(before, removal, left, expected):
    """What was not reached of the old, or what the stage leaves itself, whichever is deeper."""
    found = damage_remaining(before * 1e-6, removal=removal * 1e-6, left_by_stage=left * 1e-6)

    assert found == pytest.approx(expected * 1e-6, abs=1e-15)


def test_roughness_scales_with_grain_and_says_nothing_where_nothing_is_known(library):
    """Silicon 3 um alumina 80-150 nm; a polish of quartz is not known."""
    assert roughness_left(library, "Si", library.abrasive("al2o3-3")).high == pytest.approx(150e-9)
    assert roughness_left(library, "quartz", library.abrasive("silica-colloidal")) is None


def test_a_grain_of_no_size_is_refused():
    """Zero has no depth."""
    with pytest.raises(OutOfValidRange):
        damage_bounds(0.0)
