"""Laws of several pieces on one carrier: turning, raising and naming them changes nothing that it should not."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.process.common_plane import best_levelling, common_wedge, levelling
from lapwright.process.piece_sites import MountedPiece

HEIGHTS = st.lists(st.integers(-200, 200), min_size=3, max_size=7)


def on_a_ring(heights, *, turn=0.0, raised=0.0):
    """Pieces evenly on a ring of 20 mm, heights in tenths of µm."""
    pieces = []
    for number, height in enumerate(heights):
        angle = turn + 2.0 * math.pi * number / len(heights)
        x, y = 0.02 * math.cos(angle), 0.02 * math.sin(angle)
        stack = 4e-3 + raised + height * 1e-7
        pieces.append(MountedPiece(name=f"P{number}", x=(x,), y=(y,), stack=(stack,), thickness=(5e-4,)))
    return pieces


@settings(max_examples=25)
@given(HEIGHTS, st.floats(-3.0, 3.0))
def test_turning_the_carrier_turns_the_wedge(heights, turn):
    """The wedge keeps its amount and turns along; what comes off stays; a thicker carrier changes nothing."""
    before, after = common_wedge(on_a_ring(heights)), common_wedge(on_a_ring(heights, turn=turn, raised=1e-5))
    assert after.amount == pytest.approx(before.amount, abs=1e-11)
    turned = complex(before.slope_x, before.slope_y) * np.exp(1j * turn)
    assert abs(complex(after.slope_x, after.slope_y) - turned) < 1e-9
    first, second = levelling(on_a_ring(heights)), levelling(on_a_ring(heights, turn=turn, raised=1e-5))
    assert second.until_all == pytest.approx(first.until_all, abs=1e-12)


@settings(max_examples=15)
@given(HEIGHTS)
def test_the_best_tilt_is_no_worse_than_none_nor_than_that_of_the_wedge(heights):
    """It is the least of all tilts; somebody is always touched first, at nothing."""
    pieces = on_a_ring(heights)
    wedge, best = common_wedge(pieces), best_levelling(pieces)
    others = (levelling(pieces), levelling(pieces, slope_x=wedge.slope_x, slope_y=wedge.slope_y))
    assert all(best.until_all <= one.until_all + 1e-11 for one in others)
    assert best.touches[0].first == pytest.approx(0.0, abs=1e-15)
    assert best.until_each <= best.until_all + 1e-15
