"""Outlines to scale."""

import math

import numpy as np
import pytest

from lapwright.model.wafer import Polygon, Rectangle, Round
from lapwright.reports.drawing.rim import inner_rim, reach, rim


def area(corners):
    """Signed area of a polygon."""
    x, y = np.array(corners).T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def test_flat_cuts_at_its_published_height():
    """A flat of length f lies sqrt(r² − f²/4) below the centre."""
    _, low, _, high = reach(Round(diameter=100e-3, mark="flat", flat_length=32.5e-3))
    assert low == pytest.approx(-math.sqrt(50e-3**2 - 16.25e-3**2))
    assert high == pytest.approx(50e-3, rel=1e-3)


def test_notch_is_a_millimetre_deep_at_the_bottom():
    """The deepest corner lies 1 mm inside the rim at −y."""
    assert (0.0, pytest.approx(-99e-3)) == rim(Round(diameter=200e-3, mark="notch"))[-1]


@pytest.mark.parametrize(
    "outline",
    [
        Rectangle(width=20e-3, height=10e-3),
        Polygon(corners=((0.0, 0.0), (20e-3, 0.0), (20e-3, 10e-3), (0.0, 10e-3))),
        Polygon(corners=((0.0, 10e-3), (20e-3, 10e-3), (20e-3, 0.0), (0.0, 0.0))),
    ],
)
def test_exclusion_moves_every_edge_inward(outline):
    """20 × 10 mm with 1 mm taken off all round leaves 18 × 8 mm."""
    assert abs(area(inner_rim(outline, 1e-3))) == pytest.approx(18e-3 * 8e-3)


def test_exclusion_wider_than_the_piece_leaves_nothing():
    """No region, not an inverted one."""
    assert inner_rim(Rectangle(width=2e-3, height=10e-3), 1e-3) == []
    assert inner_rim(Round(diameter=4e-3), 2e-3) == []
