"""Inside, extent and reach of outlines."""

import math

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.metrology.outlines import extent, furthest_reach, is_inside, reach
from lapwright.model.wafer import Polygon, Rectangle, Round

FLAT = Round(diameter=50.8e-3, mark="flat", flat_length=15.88e-3)
TRIANGLE = Polygon(corners=((-0.02, -0.01), (0.02, -0.01), (0.0, 0.03)))


def test_the_rim_itself_counts_as_inside():
    """A site exactly on the limit is inside, a micrometre further out is not."""
    disc = Round(diameter=0.1)
    assert is_inside(disc, [0.047, 0.047001], [0.0, 0.0], edge_exclusion=0.003).tolist() == [True, False]


def test_a_flat_cuts_the_disc_at_minus_y():
    """The flat of 15.88 mm lies sqrt(25.4^2 - 7.94^2) = 24.127 mm from the centre."""
    assert is_inside(FLAT, [0, 0, 0], [-0.02412, -0.02414, 0.0253]).tolist() == [True, False, True]


def test_the_exclusion_is_measured_from_the_flat_too():
    """2 mm off the flat: 22.127 mm from the centre."""
    assert is_inside(FLAT, [0, 0], [-0.02212, -0.02214], edge_exclusion=0.002).tolist() == [True, False]


def test_a_notch_takes_its_surroundings_out():
    """The tip of the notch lies 1 mm inside the rim; a site nearer to it than the exclusion is out."""
    notched = Round(diameter=0.2, mark="notch")
    assert is_inside(notched, [0, 0, 0], [-0.0995, -0.0985, 0.0995]).tolist() == [False, True, True]
    assert not is_inside(notched, 0.0, -0.0965, edge_exclusion=0.003)
    assert is_inside(notched, 0.0, -0.0955, edge_exclusion=0.003)


def test_rectangle_and_polygon_shrink_by_the_exclusion():
    """Half a width less the exclusion; the triangle's base lies at y = -10 mm."""
    assert is_inside(Rectangle(width=0.02, height=0.01), [0.008, 0.0081], [0, 0], edge_exclusion=2e-3).tolist() == [True, False]  # fmt: skip
    assert is_inside(TRIANGLE, [0, 0, 0.019], [-0.0079, -0.0081, 0.0], edge_exclusion=2e-3).tolist() == [True, False, False]  # fmt: skip


def test_a_place_that_is_no_number_is_outside():
    """NaN is nowhere."""
    assert not is_inside(FLAT, math.nan, 0.0)


@pytest.mark.parametrize("edge_exclusion", [-1e-3, math.nan, math.inf])
def test_nonsense_exclusion_is_refused(edge_exclusion):
    """An exclusion is a finite length."""
    with pytest.raises(OutOfValidRange, match="edge_exclusion"):
        is_inside(FLAT, 0.0, 0.0, edge_exclusion=edge_exclusion)


def test_extent_is_the_shadow_along_a_direction():
    """A disc is as wide as its diameter, a rectangle along its diagonal direction w cos + h sin."""
    assert extent(FLAT, azimuth=-math.pi / 2) == 50.8e-3
    assert pytest.approx((0.03 + 0.02) / math.sqrt(2)) == extent(
        Rectangle(width=0.03, height=0.02), azimuth=math.pi / 4
    )
    assert pytest.approx(0.04) == extent(TRIANGLE, azimuth=0.0)


def test_reach_ends_at_the_outline():
    """Towards the flat 24.127 mm, across 25.4 mm; the corner of a square at half its diagonal."""
    assert pytest.approx(math.sqrt(25.4**2 - 7.94**2) * 1e-3, rel=1e-6) == reach(FLAT, azimuth=-math.pi / 2)
    assert pytest.approx(25.4e-3, rel=1e-6) == reach(FLAT, azimuth=0.0)
    square = Rectangle(width=0.02, height=0.02)
    assert pytest.approx(0.01 * math.sqrt(2), rel=1e-6) == reach(square, azimuth=math.pi / 4)
    assert furthest_reach(square) == pytest.approx(0.01 * math.sqrt(2))
    assert pytest.approx(0.03) == furthest_reach(TRIANGLE)


def test_reach_stops_at_the_first_edge():
    """A hook that comes back further out is not reached through the gap."""
    hook = Polygon(corners=((-1, -1), (3, -1), (3, 1), (2, 1), (2, -0.5), (1, -0.5), (1, 1), (-1, 1)))
    assert pytest.approx(1.0, abs=1e-6) == reach(hook, azimuth=0.0)


def test_an_exclusion_that_leaves_nothing_is_refused():
    """More than the radius."""
    with pytest.raises(OutOfValidRange, match="Nothing is left"):
        reach(FLAT, azimuth=0.0, edge_exclusion=0.026)


def test_many_places_at_once():
    """Arrays of any shape keep it."""
    assert is_inside(FLAT, np.zeros((2, 3)), np.zeros((2, 3))).shape == (2, 3)
