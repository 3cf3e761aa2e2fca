"""Repeating paths and how evenly grains draw."""

import math
from fractions import Fraction

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.process.kinematics import Motion
from lapwright.process.kinematics_paths import grain_paths, nearest_simple_ratio, path_repeat, path_unevenness
from lapwright.process.sliding import sliding

TURN = 2 * math.pi


def motion(ratio, *, offset=0.09):
    """60 rev/min of the plate."""
    return Motion(offset=offset, plate_speed=TURN, jig_speed=ratio * TURN)


@pytest.mark.parametrize(
    ("ratio", "plate", "jig"), [(1.0, 1, 1), (6 / 7, 7, 6), (0.5, 2, 1), (-1.0, 1, -1), (0.0, 1, 0), (13 / 12, 12, 13)]
)
def test_a_simple_ratio_closes_after_its_denominator(ratio, plate, jig):
    """Both have come round when the plate has made as many turns as the denominator says."""
    found = path_repeat(motion(ratio), 0.05, track_width=1e-5)

    assert (found.plate_turns, found.jig_turns) == (plate, jig)


@pytest.mark.parametrize(("ratio", "turns"), [(6 / 7, 7), (0.75, 4), (-0.4, 5)])
def test_a_grain_is_back_where_it_was(ratio, turns):
    """The place on the wafer, computed here from the two angles, is the same after that time and not before."""
    m = motion(ratio)

    def place(t):
        return (0.1 * np.exp(1j * (m.plate_speed * t + 0.4)) - m.offset) * np.exp(-1j * m.jig_speed * t)

    start = place(0.123)
    back = [n for n in range(1, turns + 1) if abs(place(0.123 + n) - start) < 1e-9]
    assert back == [turns]
    assert path_repeat(m, 0.05, track_width=1e-6).plate_turns == turns


def test_the_published_ratio_does_not_close_soon():
    """1.0772 closes within no 200 turns at a width of 20 µm, and simple fractions lie away from it."""
    assert path_repeat(motion(1.0772), 0.05, track_width=2e-5) is None
    assert nearest_simple_ratio(motion(1.0772)) == Fraction(12, 11) or nearest_simple_ratio(motion(1.0772)) == Fraction(
        13, 12
    )


@pytest.mark.parametrize("offset", [0.07, 0.09, 0.12])
def test_lines_are_more_even_at_1_0772_than_at_1(offset):
    """The order published for lapped silicon: better form at 1.0772 than at 1 (Wang, Lei, Wu 2022, abstract)."""
    assert path_unevenness(motion(1.0772, offset=offset), 0.05) < 0.3 * path_unevenness(
        motion(1.0, offset=offset), 0.05
    )


@pytest.mark.parametrize(("ratio", "offset"), [(1.0, 0.09), (0.73, 0.03), (-1.31, 0.12), (0.0, 0.05)])
def test_the_lines_of_one_turn_stand_for_those_of_all(ratio, offset):
    """Unevenness over all turns is that of the lines followed here step by step, counted out on the wafer's cells."""
    tracks = grain_paths(motion(ratio, offset=offset), 0.05, turns=9, grains=11)
    middle, step = 0.5 * (tracks[:, 1:] + tracks[:, :-1]), np.abs(np.diff(tracks))
    cells = {}
    for place, length in zip(middle.ravel(), step.ravel(), strict=True):
        if abs(place) < 0.05:
            sector = math.floor(math.atan2(place.imag, place.real) / TURN % 1.0 * 24)
            cell = (math.floor(6 * (abs(place) / 0.05) ** 2), sector)
            cells[cell] = cells.get(cell, 0.0) + length
    lengths = np.array([*cells.values(), *[0.0] * (144 - len(cells))])

    found = path_unevenness(motion(ratio, offset=offset), 0.05, turns=9, grains=11)
    assert found == pytest.approx(lengths.std() / lengths.mean(), rel=1e-9)


def test_equal_ratios_are_equally_even_at_any_speed():
    """Only the ratio counts."""
    slow = Motion(offset=0.09, plate_speed=1.0, jig_speed=0.9)
    fast = Motion(offset=0.09, plate_speed=-8.0, jig_speed=-7.2)

    assert path_unevenness(slow, 0.05) == pytest.approx(path_unevenness(fast, 0.05))


def test_what_to_think_of_it_is_said():
    """Seven turns; a jig that rests; an edge that slides farther."""
    assert "every 7 turns" in sliding(motion(6 / 7), 0.05).sentences[0]
    assert "does not turn" in sliding(motion(0.0), 0.05).sentences[0]
    assert "more than the centre" in sliding(motion(-1.0), 0.05).sentences[1]
    assert "do not close" in sliding(motion(1.0772), 0.05).sentences[0]
    assert "every turn" in sliding(motion(1.0), 0.05).sentences[0]


def test_a_resting_plate_has_no_ratio():
    """Nothing is divided by it."""
    found = sliding(Motion(offset=0.09, plate_speed=0.0, jig_speed=1.0), 0.05)

    assert (found.speed_ratio, found.repeat, found.unevenness) == (None, None, None)
    with pytest.raises(OutOfValidRange):
        nearest_simple_ratio(Motion(offset=0.09, plate_speed=0.0, jig_speed=1.0))
    with pytest.raises(OutOfValidRange):
        path_unevenness(Motion(offset=0.09, plate_speed=0.0, jig_speed=1.0), 0.05)
