"""Strength of faces and rims, handling and debonding."""

import pytest

from lapwright.errors import NotFound, OutOfValidRange
from lapwright.library import load
from lapwright.process.plate_stress import bend_stress
from lapwright.process.strength import (
    Stressing,
    breakage_chance,
    breakage_probability,
    face_strength,
    fracture_stress,
    rim_strength,
)
from lapwright.process.strength_debond import debond_choices
from lapwright.process.strength_handling import handling_breakage, handling_way, least_free_thickness

CRACKS = [  # toughness MPa m^0.5; MPa at 0.5, 1, 2, 5, 10, 20, 50 µm: derived table, to the digits printed
    (0.90, (1007, 712, 504, 318, 225, 159, 101)),
    (0.45, (504, 356, 252, 159, 113, 80, 50)),
    (0.40, (448, 317, 224, 142, 100, 71, 45)),
    (2.00, (2238, 1583, 1119, 708, 500, 354, 224)),
]


@pytest.mark.parametrize(("toughness", "stresses"), CRACKS)
def test_strength_from_the_depth_of_a_crack(toughness, stresses):
    """Half-penny crack, Y = 0.713."""
    for depth, stress in zip((0.5, 1, 2, 5, 10, 20, 50), stresses, strict=True):
        assert fracture_stress(toughness * 1e6, crack=depth * 1e-6) / 1e6 == pytest.approx(stress, rel=0.01)


def test_the_size_effect():
    """sigma1/sigma2 = (A2/A1)^(1/m) at equal chance."""
    one = breakage_probability(100e6, strength=2e8, weibull_modulus=5.0, area=1e-4)
    other = breakage_probability(100e6 * (1 / 16) ** (1 / 5), strength=2e8, weibull_modulus=5.0, area=16e-4)
    assert other == pytest.approx(one, rel=1e-9)
    assert breakage_probability(-5e6, strength=2e8, weibull_modulus=5.0, area=1e-4) == 0.0


def test_chances_grow_with_stress_and_lie_in_their_band():
    """More stress, more broken; expected between the ends; the worst is named."""
    strength = face_strength(load(), material="GaAs", finish="lapped_fine")
    chances = [
        breakage_chance(
            [Stressing(name="x", stress=s * 1e6, area=1e-4), Stressing(name="none", stress=0.0, area=1e-4)], strength
        )
        for s in (10, 40, 80, 160)
    ]
    assert [one.expected for one in chances] == sorted(one.expected for one in chances)
    assert all(one.low <= one.expected <= one.high and one.worst.name == "x" for one in chances)
    with pytest.raises(OutOfValidRange):
        breakage_chance([], strength)


def test_a_strength_is_carried_over_by_toughness_and_says_so():
    """LiTaO3 has no row: silicon's times 1.0/0.9, wider by 1.5 each way."""
    found, silicon = (face_strength(load(), material=one, finish="polished") for one in ("LiTaO3", "Si"))
    assert found.trust == "derived"
    assert "carried over" in found.method
    assert found.strength_high == pytest.approx(silicon.strength_high * 1.0 / 0.9 * 1.5)
    assert found.strength_low == pytest.approx(silicon.strength_low * 1.0 / 0.9 / 1.5)


def test_a_material_without_toughness_is_not_guessed():
    """Soda-lime glass has none in the library."""
    with pytest.raises(NotFound, match="toughness"):
        face_strength(load(), material="soda-lime", finish="polished")
    with pytest.raises(NotFound, match="toughness"):
        rim_strength(load(), material="soda-lime", chip=5e-5)


def test_thinner_breaks_sooner_and_a_support_helps():
    """Free in the hand with one over thickness squared; on a support hardly at all."""
    given = {"material": "GaAs", "finish": "lapped_fine", "diameter": 0.0508}
    free = [
        handling_breakage(load(), thickness=t * 1e-6, is_supported=False, **given).expected for t in (60, 100, 200, 400)
    ]
    held = [handling_breakage(load(), thickness=t * 1e-6, is_supported=True, **given).expected for t in (60, 100, 200)]
    assert free == sorted(free, reverse=True)
    assert free[0] > 0.3
    assert free[-1] < 1e-3
    assert all(h <= f for h, f in zip(held, free, strict=False))


def test_bending_by_hand():
    """E' t / (2 rho)."""
    assert bend_stress(200e9, thickness=1e-4, bend_radius=0.5) == pytest.approx(20e6)


@pytest.mark.parametrize(
    ("material", "thickness", "diameter", "way"),
    [
        ("Si", 90, 0.05, "carrier"),
        ("Si", 120, 0.1, "support"),
        ("Si", 120, 0.05, "wand"),
        ("Si", 400, 0.1, None),
        ("InP", 120, 0.051, "support"),
        ("GaAs", 250, 0.076, "wand"),
    ],
)
def test_the_limits_of_the_trade(material, thickness, diameter, way):
    """Common practice, no source."""
    assert handling_way(load(), material=material, thickness=thickness * 1e-6, diameter=diameter) == way


def test_the_least_free_thickness_keeps_both_limits():
    """The chance there is at most 1 %, and the trade's limit is kept."""
    for material, finish, diameter in (
        ("Si", "lapped_coarse", 0.1),
        ("InP", "lapped_fine", 0.0508),
        ("LiTaO3", "polished", 0.0508),
    ):
        least = least_free_thickness(load(), material=material, finish=finish, diameter=diameter)
        found = handling_breakage(
            load(), material=material, finish=finish, thickness=least, diameter=diameter, is_supported=False
        )
        assert found.expected <= 0.0101
        assert handling_way(load(), material=material, thickness=least, diameter=diameter) in ("wand", None)


def test_three_ways_for_a_wax_with_chance_and_time():
    """Slide, solvent at the edge, solvent through holes; thin GaAs on a support only; the tape lets go by heat."""
    given = {"material": "GaAs", "finish": "polished", "thickness": 110e-6, "diameter": 0.0508, "bond": 5e-6}
    found = debond_choices(load(), adhesive="mounting-wax", **given)
    assert sorted(one.way for one in found) == ["slide_hot", "solvent_edge", "solvent_holes"]
    assert all(one.needs_support and "support only" in one.sentence for one in found)
    assert [one.chance.expected for one in found] == sorted(one.chance.expected for one in found)
    edge = next(one for one in found if one.way == "solvent_edge")
    assert 12.0 <= edge.time_low / 3600.0 <= edge.time_high / 3600.0 <= 51.0  # 12 to 48 h are usual for 50 mm
    assert [one.way for one in debond_choices(load(), adhesive="release-tape", **given)] == ["release_heat"]


def test_a_thick_wafer_needs_no_support():
    """And its sentence does not ask for one."""
    found = debond_choices(
        load(), material="Si", finish="polished", thickness=400e-6, diameter=0.1, adhesive="mounting-wax", bond=5e-6
    )
    assert not any(one.needs_support or "support only" in one.sentence for one in found)
