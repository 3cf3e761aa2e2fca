"""Several pieces on one carrier: closed forms of the plane through three points and of levelled steps.

Analytic geometry: the plane through three points has the normal (p2 - p1) x (p3 - p1); computed by hand below.
"""

import math

import numpy as np
import pytest

from lapwright.process.common_end import carrier_advice, common_end
from lapwright.process.common_plane import best_levelling, common_wedge, levelling
from lapwright.process.piece_sites import MountedPiece

TRIANGLE = [(0.02, 0.0), (-0.01, 0.01), (0.0, -0.02)]


def mounted(name, places, stack, thickness):
    """A piece, heights given over a carrier of 3 mm."""
    x, y = zip(*places, strict=True)
    return MountedPiece(
        name=name, x=x, y=y, stack=tuple(3e-3 + one for one in stack), thickness=tuple(thickness for _ in places)
    )


def test_the_plane_through_three_points():
    """Slopes from the cross product of two edges."""
    heights = [504e-6, 500e-6, 509e-6]
    points = np.array([(x, y, h) for (x, y), h in zip(TRIANGLE, heights, strict=True)])
    normal = np.cross(points[1] - points[0], points[2] - points[0])
    pieces = [mounted(str(n), [at], [h], 5e-4) for n, (at, h) in enumerate(zip(TRIANGLE, heights, strict=True))]
    found = common_wedge(pieces)
    assert found.determined
    assert (found.slope_x, found.slope_y) == pytest.approx(tuple(-normal[:2] / normal[2]), rel=1e-6)
    assert found.amount == pytest.approx(math.hypot(found.slope_x, found.slope_y) * 0.04, rel=1e-9)


def test_three_points_always_touch_at_once_when_tilted():
    """One plane goes through any three points: nothing comes off before all touch."""
    pieces = [mounted(str(n), [at], [5e-4 + n * 3e-6], 5e-4) for n, at in enumerate(TRIANGLE)]
    assert levelling(pieces).until_all == pytest.approx(6e-6, abs=1e-12)
    found = best_levelling(pieces)
    assert found.until_all == pytest.approx(0.0, abs=1e-11)
    wedge = common_wedge(pieces)
    assert (found.slope_x, found.slope_y) == pytest.approx((wedge.slope_x, wedge.slope_y), rel=1e-5)


def test_four_corners_twisted():
    """Corners of a square at +1, -1, +1, -1 µm: no plane does better than 2 µm, by symmetry; the flat one does it."""
    corners = [(0.02, 0.02), (-0.02, 0.02), (-0.02, -0.02), (0.02, -0.02)]
    pieces = [mounted(str(n), [at], [5e-4 + (-1) ** n * 1e-6], 5e-4) for n, at in enumerate(corners)]
    assert best_levelling(pieces).until_all == pytest.approx(2e-6, abs=1e-11)


def test_a_wedge_of_the_carrier_becomes_ttv_and_a_tilt_takes_it_out():
    """A carrier 4 µm thicker over 40 mm: pieces at ±20 mm, sites 5 mm either way: 1 µm of TTV each, ±2 µm between."""
    pieces = [
        mounted(name, [(at - 0.005, 0.0), (at + 0.005, 0.0), (at, 0.005)],
                [5e-4 + 1e-4 * one for one in (at - 0.005, at + 0.005, at)], 5e-4)
        for name, at in (("A", -0.02), ("B", 0.02))
    ]  # fmt: skip
    flat = common_end(pieces, lower=99e-6, upper=101e-6, ttv=2e-6, tilted=False)
    assert [one.ttv * 1e6 for one in flat.pieces] == pytest.approx([1.0, 1.0], abs=1e-6)
    assert flat.used == pytest.approx(2.5, rel=1e-6)  # 2 µm between the middles and half of the TTV, over 1 µm
    found = carrier_advice(pieces, lower=99e-6, upper=101e-6, ttv=2e-6)
    assert found.advice == "tilt"
    assert found.tilted.used == pytest.approx(0.0, abs=1e-5)
    assert found.tilted.slope_x == pytest.approx(1e-4, rel=1e-5)


def test_a_piece_that_is_too_thin_cannot_be_reached():
    """What is not there does not come back: a piece of 97 µm, 99 wanted, whatever the plane."""
    places = [(0.02, 0.0), (-0.01, 0.0173), (-0.01, -0.0173)]
    pieces = [mounted(str(n), [at], [t], t) for n, (at, t) in enumerate(zip(places, (5e-4, 5e-4, 97e-6), strict=True))]
    found = carrier_advice(pieces, lower=99e-6, upper=101e-6)
    assert found.advice == "rebond"
    assert [one.conforms for one in found.tilted.pieces][2] is False
    assert min(one.least_removal for one in found.tilted.pieces) >= -1e-11


def test_within_the_limits_the_thickness_is_brought_to_the_middle():
    """One piece whose bond makes 1.9 of 2 µm TTV: the middle of its faces still ends at 100 µm."""
    piece = mounted("A", [(-0.005, 0.0), (0.0, 0.0), (0.005, 0.0)], [5e-4, 5e-4 + 1.9e-6, 5e-4], 5e-4)
    found = common_end([piece], lower=95e-6, upper=105e-6, ttv=2e-6, tilted=False)
    (one,) = found.pieces
    assert (one.thinnest + one.thickest) / 2 == pytest.approx(100e-6, abs=1e-10)
    assert found.used == pytest.approx(0.95, rel=1e-4)
