"""Maps brought into one frame."""

import math

import numpy as np
import pytest

from lapwright.errors import ShapeMismatch
from lapwright.metrology.frames import nearest_sites, transformed
from lapwright.model.wafer import Frame, ThicknessMap


def one_site(x, y, frame):
    """A map of one site."""
    return ThicknessMap(x=np.array([x]), y=np.array([y]), thickness=np.array([5e-4]), labels=("a",), frame=frame)


def test_seen_from_below_is_mirrored_in_x():
    """What stood right stands left, what stood up stays up."""
    found = transformed(one_site(0.01, 0.02, Frame(seen_from="bonded")))
    assert (found.x[0], found.y[0]) == (-0.01, 0.02)
    assert Frame() == found.frame


def test_a_turn_is_counter_clockwise():
    """A site at +x of a map taken with the piece turned by 90 degrees lies at +y."""
    found = transformed(one_site(0.01, 0.0, Frame(turn=math.pi / 2)))
    assert pytest.approx((0.0, 0.01), abs=1e-12) == (found.x[0], found.y[0])


def test_mirror_comes_before_turn():
    """(1, 0) seen from below, turned by 90 degrees: first to (-1, 0), then to (0, -1)."""
    found = transformed(one_site(0.01, 0.0, Frame(seen_from="bonded", turn=math.pi / 2)))
    assert pytest.approx((0.0, -0.01), abs=1e-12) == (found.x[0], found.y[0])


def test_the_same_frame_leaves_the_map_alone():
    """No copy, no rounding."""
    site = one_site(0.01, 0.02, Frame())
    assert transformed(site) is site


def test_nearest_site_and_its_distance():
    """3-4-5 mm."""
    index, distance = nearest_sites(one_site(0.003, 0.004, Frame()), one_site(0.0, 0.0, Frame()))
    assert (0, pytest.approx(0.005)) == (index[0], distance[0])


def test_a_map_without_sites_has_no_nearest():
    """Nothing to pair with."""
    empty = ThicknessMap(x=np.zeros(0), y=np.zeros(0), thickness=np.zeros(0))
    with pytest.raises(ShapeMismatch):
        nearest_sites(one_site(0.0, 0.0, Frame()), empty)
