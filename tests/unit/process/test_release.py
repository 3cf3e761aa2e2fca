"""What a wafer does once it is off its carrier."""

import pytest

from lapwright.errors import OutOfValidRange
from lapwright.library import load
from lapwright.process.bonding_stress import thin_film_curvature
from lapwright.process.release import finish_of, lapping_bow, released_bow, rim_after_thinning, springback_variation

SILICON = {"youngs_modulus": 130e9, "poisson_ratio": 0.28, "diameter": 0.1}


@pytest.mark.parametrize(
    ("force", "thickness", "bow"),
    [(10, 525, 1.5), (10, 200, 10.38), (10, 100, 41.5), (50, 525, 7.5), (50, 200, 51.9), (50, 100, 208)],
)
def test_bow_of_a_face_that_pushes(force, thickness, bow):
    """Silicon over 100 mm: derived table, to the digits printed."""
    assert lapping_bow(force, thickness=thickness * 1e-6, **SILICON) * 1e6 == pytest.approx(bow, rel=5e-3)


def test_it_is_stoney_with_a_force():
    """Stress times depth is the force; the pushing face is domed where a pulling film is concave."""
    bent = thin_film_curvature(-10.0 / 1e-6, film=1e-6, thickness=200e-6, modulus=130e9 / 0.72)
    assert lapping_bow(10.0, thickness=200e-6, **SILICON) == pytest.approx(-bent * 0.1**2 / 8.0, rel=1e-12)


def test_a_polished_face_over_a_lapped_one_is_dished():
    """The lapped face pushes; the same face twice gives no direction; thinner bows more, with one over t squared."""
    library = load()
    given = {"material": "Si", "diameter": 0.1}
    thin = released_bow(library, finish="polished", other_finish="lapped_coarse", thickness=100e-6, **given)
    thick = released_bow(library, finish="polished", other_finish="lapped_coarse", thickness=200e-6, **given)
    assert thin.expected < 0.0
    assert "dished" in thin.sentence
    assert thin.expected == pytest.approx(4.0 * thick.expected)
    assert thin.low <= thin.expected <= thin.high
    even = released_bow(library, finish="polished", other_finish="polished", thickness=100e-6, **given)
    assert even.expected == 0.0
    assert even.low == -even.high
    assert "evenly" in even.sentence


def test_a_domed_stack_takes_its_middle_off():
    """All of the bow where nothing presses it flat, none where it lies flat."""
    assert springback_variation(12e-6) == 12e-6
    assert springback_variation(12e-6, held_flat=1.0) == 0.0
    with pytest.raises(OutOfValidRange):
        springback_variation(12e-6, held_flat=1.1)


@pytest.mark.parametrize(
    ("edge", "thickness", "blade"),
    [
        ("bevelled", 100e-6, True),
        ("not_stated", 100e-6, True),
        ("square", 100e-6, False),
        ("bevelled", 250e-6, False),
        ("bevelled", 300e-6, False),
    ],
)
def test_a_bevel_thinned_past_its_middle_is_a_blade(edge, thickness, blade):
    """500 µm as it came; at the middle the edge is still there."""
    assert rim_after_thinning(500e-6, thickness, edge=edge).is_blade is blade


def test_the_blade_by_hand():
    """150 µm below the middle at 45 degrees: 0.3 mm of diameter."""
    found = rim_after_thinning(500e-6, 100e-6, edge="bevelled", bevel_angle=0.7853981634)
    assert found.diameter_loss == pytest.approx(0.3e-3)
    assert "blade" in found.sentence
    assert "not stated" in rim_after_thinning(500e-6, 100e-6, edge="not_stated").sentence


def test_finish_by_the_last_stage():
    """Nine micrometres count as coarse (common practice, no source)."""
    assert [finish_of("lap", 9e-6), finish_of("lap", 8.9e-6), finish_of("polish", 9e-6)] == [
        "lapped_coarse",
        "lapped_fine",
        "polished",
    ]
