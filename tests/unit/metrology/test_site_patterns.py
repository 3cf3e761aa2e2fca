"""Site patterns, counted and measured by hand."""

import math

import numpy as np
import pytest

from lapwright.errors import BadInput, OutOfValidRange
from lapwright.metrology.site_patterns import (
    custom_sites,
    five_sites,
    is_inside,
    line_scan,
    named_pattern,
    nine_sites,
    polar_rings,
    seventeen_sites,
    square_grid,
    thirteen_sites,
)
from lapwright.model.wafer import Polygon, Rectangle, Round

DISC = Round(diameter=0.1)
FLAT = Round(diameter=50.8e-3, mark="flat", flat_length=15.88e-3)


def test_five_sites_stand_at_nine_tenths_of_the_radius():
    """Centre, then +x, +y, -x, -y, 45 mm out on a 100 mm disc."""
    pattern = five_sites(DISC)
    assert pattern.labels == ("C", "A1", "A2", "A3", "A4")
    assert np.allclose([0, 45, 0, -45, 0], pattern.x * 1e3)
    assert np.allclose([0, 0, 45, 0, -45], pattern.y * 1e3)


def test_a_wide_exclusion_brings_the_outer_sites_in():
    """8 mm of exclusion: the outer sites stand at 42 mm."""
    pattern = nine_sites(DISC, edge_exclusion=0.008)
    assert np.allclose(42.0, np.hypot(pattern.x, pattern.y)[1:] * 1e3)


@pytest.mark.parametrize(
    ("pattern", "count", "rings"),
    [(five_sites, 5, [4]), (nine_sites, 9, [8]), (thirteen_sites, 13, [4, 8]), (seventeen_sites, 17, [8, 8])],
)
def test_counts_ring_by_ring(pattern, count, rings):
    """Centre and rings add up to the name."""
    labels = pattern(DISC).labels
    assert count == len(labels) == 1 + sum(rings)
    assert rings == [sum(label.startswith(letter) for label in labels) for letter in "AB"[: len(rings)]]


def test_a_site_on_the_flat_moves_in_and_keeps_its_label():
    """The flat lies 24.127 mm out; less 2 mm the lowest site stands at 22.127 mm, the others at 22.86 mm."""
    pattern = five_sites(FLAT, edge_exclusion=2e-3)
    assert pytest.approx(-22.127e-3, abs=1e-6) == pattern.y[pattern.labels.index("A4")]
    assert pytest.approx(22.86e-3) == pattern.y[pattern.labels.index("A2")]


def test_a_site_that_would_move_in_too_far_refuses_the_pattern():
    """A flat as near as 4 mm leaves the lowest site less than half of its 22.86 mm."""
    half = Round(diameter=50.8e-3, mark="flat", flat_length=2 * math.sqrt(25.4**2 - 4**2) * 1e-3)
    with pytest.raises(OutOfValidRange, match="more than half its distance"):
        five_sites(half)


def test_a_rectangle_is_read_at_corners_and_middles():
    """Nine sites on 30 x 20 mm: three by three, nine tenths of the way to each side."""
    pattern = nine_sites(Rectangle(width=0.03, height=0.02))
    assert {-13.5, 0.0, 13.5} == set(np.round(pattern.x * 1e3, 6) + 0.0)
    assert {-9.0, 0.0, 9.0} == set(np.round(pattern.y * 1e3, 6) + 0.0)


def test_five_sites_of_a_rectangle_are_centre_and_corners():
    """No site in the middle of a side."""
    pattern = five_sites(Rectangle(width=0.03, height=0.02))
    assert np.allclose(13.5, np.abs(pattern.x[1:]) * 1e3)
    assert np.allclose(9.0, np.abs(pattern.y[1:]) * 1e3)


def test_an_odd_outline_is_followed():
    """Every site of seventeen lies inside a triangle less 1 mm."""
    triangle = Polygon(corners=((-0.03, -0.015), (0.03, -0.015), (0.0, 0.03)))
    pattern = seventeen_sites(triangle, edge_exclusion=1e-3)
    assert is_inside(triangle, pattern.x, pattern.y, edge_exclusion=1e-3).all()


def test_rings_are_evenly_spaced():
    """Three rings of twelve at 15, 30 and 45 mm."""
    pattern = polar_rings(DISC, rings=3, per_ring=12)
    assert len(pattern.labels) == 37
    assert {0.0, 15.0, 30.0, 45.0} == set(np.round(np.hypot(pattern.x, pattern.y) * 1e3, 6))


def test_a_grid_leaves_out_what_lies_outside():
    """Pitch 20 mm on a 100 mm disc less 3 mm: rows of 3, 5, 5, 5, 3 crossings, hand counted."""
    pattern = square_grid(DISC, pitch=0.02, edge_exclusion=0.003)
    assert [int(np.sum(np.isclose(pattern.y, y))) for y in (-0.04, -0.02, 0, 0.02, 0.04)] == [3, 5, 5, 5, 3]
    assert pytest.approx(pattern.y[0]) == -0.04  # row by row from the mark upwards
    assert pattern.x[0] < pattern.x[1]
    assert pattern.x[3] > pattern.x[4]  # every second row backwards


def test_a_line_runs_from_edge_to_edge():
    """Five sites along 90 degrees on a 100 mm disc less 5 mm."""
    pattern = line_scan(DISC, sites=5, azimuth=math.pi / 2, edge_exclusion=0.005)
    assert np.allclose([-45, -22.5, 0, 22.5, 45], pattern.y * 1e3)
    assert np.allclose(0.0, pattern.x)


def test_named_patterns_are_the_four():
    """A name gives the same sites as its function; an unknown name is refused with those that exist."""
    assert np.array_equal(thirteen_sites(DISC).x, named_pattern("thirteen", DISC).x)
    with pytest.raises(BadInput, match="five, nine, thirteen, seventeen"):
        named_pattern("eleven", DISC)


def test_own_sites_off_the_piece_are_all_named():
    """Two of three outside and one label twice: three faults at once."""
    with pytest.raises(BadInput) as caught:
        custom_sites(["a", "b", "a"], [0.06, 0.0, 0.0], [0.0, 0.0, -0.06], outline=DISC)
    assert [fault.row for fault in caught.value.faults] == [1, 3, 3]


def test_own_sites_keep_their_order():
    """Nothing is sorted."""
    pattern = custom_sites(["q", "b"], [0.01, 0.0], [0.0, 0.02], outline=DISC, name="mine")
    assert (pattern.name, pattern.labels) == ("mine", ("q", "b"))


@pytest.mark.parametrize(
    "ask",
    [
        lambda: custom_sites([], [], [], outline=DISC),
        lambda: custom_sites(["a"], [0.0, 0.1], [0.0], outline=DISC),
        lambda: polar_rings(DISC, rings=0, per_ring=8),
        lambda: polar_rings(DISC, rings=2, per_ring=2),
        lambda: square_grid(DISC, pitch=0.0),
        lambda: line_scan(DISC, sites=1),
        lambda: nine_sites(DISC, edge_exclusion=0.05),
        lambda: five_sites(Rectangle(width=0.02, height=0.004), edge_exclusion=0.003),
        lambda: square_grid(Rectangle(width=0.02, height=0.004), pitch=0.001, edge_exclusion=0.003),
    ],
)
def test_impossible_patterns_are_refused(ask):
    """No site, unequal lengths, no ring, no pitch, one site, or an exclusion that leaves nothing."""
    with pytest.raises((BadInput, OutOfValidRange)):
        ask()
