"""Sliding speed of a turning wafer on a turning plate."""

import math

import numpy as np
import pytest
from scipy.special import ellipe

from lapwright.errors import OutOfValidRange
from lapwright.process.kinematics import (
    Motion,
    area_mean_speed,
    complete_elliptic_e,
    mean_over_disc,
    mean_relative_speed,
    speed_nonuniformity,
)

TURN = 2 * math.pi


def motion(ratio, *, offset=0.09):
    """60 rev/min of the plate, the jig at a ratio of it."""
    return Motion(offset=offset, plate_speed=TURN, jig_speed=ratio * TURN)


def test_the_elliptic_integral_agrees_with_an_independent_library():
    """Over the whole range, both ends included, to 1e-14."""
    m = np.concatenate([np.linspace(0.0, 1.0, 101), [1 - 1e-12, 1e-12]])

    assert complete_elliptic_e(m) == pytest.approx(ellipe(m), rel=2e-14)


def test_the_elliptic_integral_refuses_what_it_cannot_take():
    """Above one there is no real value."""
    with pytest.raises(OutOfValidRange):
        complete_elliptic_e(1.01)


def test_equal_speeds_slide_evenly():
    """With the jig as fast as the plate every point slides at plate speed times offset."""
    speeds = mean_relative_speed(np.linspace(0, 0.05, 7), motion(1.0))

    assert speeds == pytest.approx(np.full(7, 0.565487), abs=1e-6)


@pytest.mark.parametrize(
    ("ratio", "expected"), [(1.0, 1.0), (0.8, 1.00309), (0.5, 1.019385), (0.0, 1.078780), (-1.0, 1.351112)]
)
def test_edge_over_centre(ratio, expected):
    """Offset 90 mm, edge at 50 mm (derived; printed to six digits)."""
    centre, edge = mean_relative_speed([0.0, 0.05], motion(ratio))

    assert edge / centre == pytest.approx(expected, abs=5e-6)


@pytest.mark.parametrize(
    ("ratio", "share", "expected"),
    [
        (0.0, 0.25, 1.015687), (0.0, 0.5, 1.063544), (0.5, 0.25, 1.003910), (0.5, 0.5, 1.015687),
        (1.2, 0.25, 1.000625), (1.2, 0.5, 1.002502),
    ],
)  # fmt: skip
def test_mean_speed_at_shares_of_the_offset(ratio, share, expected):
    """Relative to plate speed times offset of 150 mm (derived; six digits)."""
    speed = mean_relative_speed(share * 0.15, motion(ratio, offset=0.15))

    assert float(speed) / 0.942478 == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize("ratio", [-0.7, 0.0, 0.3, 0.93, 1.4, 3.0])
def test_the_closed_form_is_the_mean_over_all_angles(ratio):
    """Brute force over 4000 angles of the velocity itself."""
    angle = (np.arange(4000) + 0.5) / 4000 * TURN
    r = 0.04
    along = TURN * 0.09 + (TURN - ratio * TURN) * r * np.cos(angle)
    across = (TURN - ratio * TURN) * r * np.sin(angle)

    assert float(mean_relative_speed(r, motion(ratio))) == pytest.approx(np.hypot(along, across).mean(), rel=1e-9)


def test_the_area_mean_is_the_mean_over_the_face():
    """A fine sum over rings of equal area."""
    rings = np.sqrt((np.arange(20_000) + 0.5) / 20_000) * 0.05

    assert area_mean_speed(0.05, motion(0.2)) == pytest.approx(mean_relative_speed(rings, motion(0.2)).mean(), rel=1e-8)


@pytest.mark.parametrize(
    ("offset", "ratio", "percent"), [(0.06, 0.5, 4.39), (0.09, 0.8, 0.31), (0.1, 0.5, 1.57), (0.12, 0.9, 0.04)]
)
def test_excess_of_edge_over_centre(offset, ratio, percent):
    """In percent of the centre, two decimals (derived); the share of the area mean is a little less."""
    moving = motion(ratio, offset=offset)
    centre, edge = mean_relative_speed([0.0, 0.05], moving)

    assert 100 * (edge / centre - 1) == pytest.approx(percent, abs=0.006)
    assert speed_nonuniformity(0.05, moving) < edge / centre - 1


def test_a_wafer_on_the_plates_axis_slides_by_the_difference_alone():
    """Offset zero: speed is the difference of speeds times the radius."""
    assert float(mean_relative_speed(0.02, motion(0.5, offset=0.0))) == pytest.approx(0.5 * TURN * 0.02)


def test_nothing_moves():
    """Zero speeds give zero, and no share of it can be told."""
    still = Motion(offset=0.09, plate_speed=0.0, jig_speed=0.0)

    assert float(mean_relative_speed(0.02, still)) == 0.0
    with pytest.raises(OutOfValidRange):
        speed_nonuniformity(0.02, still)


@pytest.mark.parametrize("speed_rpm", [70.0, 61.3, -33.0])
def test_equal_speeds_slide_at_plate_speed_times_offset_to_the_last_bit(speed_rpm):
    """Nothing of the closed form is left in the sum: every point and the whole face slide at the product itself."""
    speed = speed_rpm * TURN / 60.0
    both = Motion(offset=0.1, plate_speed=speed, jig_speed=speed)

    assert area_mean_speed(0.05, both) == abs(speed) * 0.1
    assert list(mean_relative_speed([0.0, 0.02, 0.05], both)) == [abs(speed) * 0.1] * 3
    assert speed_nonuniformity(0.05, both) == 0.0


@pytest.mark.parametrize("ratio", [-3.0, -1.0, -0.81, 0.0, 0.5, 0.9, 1.3, 2.8])
def test_the_mean_over_the_face_is_the_mean_over_its_points(ratio):
    """Brute force: the velocity at the middles of 400 x 720 cells of equal area."""
    r = 0.05 * np.sqrt((np.arange(400) + 0.5) / 400)[:, None]
    angle = (np.arange(720) + 0.5) / 720 * TURN
    slip = TURN * (1.0 - ratio) * r
    speeds = np.hypot(TURN * 0.09 + slip * np.cos(angle), slip * np.sin(angle))

    assert area_mean_speed(0.05, motion(ratio)) == pytest.approx(speeds.mean(), rel=2e-6)


@pytest.mark.parametrize(("radius", "centre"), [(0.0, 2.0 / 3.0), (1.0, 32.0 / (9.0 * math.pi))])
def test_mean_distance_in_a_disc(radius, centre):
    """A plate that turns under a resting pole at the centre or the rim of a unit disc (textbook mean distances)."""
    assert float(mean_over_disc(radius, 1.0)) == pytest.approx(centre, rel=1e-14)


def test_a_wafer_beside_the_axis_is_a_mean_over_its_turn():
    """Brute force over the face and over all angles, pole inside the path of the wafer."""
    off = Motion(offset=0.05, plate_speed=TURN, jig_speed=-TURN)
    rng = np.random.default_rng(5)
    spot = 0.03 + 0.0125 * np.sqrt(rng.random(200_000)) * np.exp(1j * TURN * rng.random(200_000))
    speeds = np.abs(TURN * 0.05 + 2.0 * TURN * spot * np.exp(1j * TURN * rng.random(200_000)))

    assert area_mean_speed(0.0125, off, wafer_offset=0.03) == pytest.approx(
        speeds.mean(), abs=6 * speeds.std() / math.sqrt(200_000)
    )


def test_a_wafer_beside_the_axis_takes_a_wedge_of_distance():
    """Ratio 0.8, offset 90 mm, 30 mm off the axis, radius 12.5 mm: 0.37 µm of 200 µm (derived, small-slip formula)."""
    off = motion(0.8)

    wedge = 200e-6 * speed_nonuniformity(0.0125, off, wafer_offset=0.03)

    assert wedge == pytest.approx(0.37e-6, rel=0.01)


def test_nothing_that_moves_has_no_spread():
    """Plate and jig at rest: there is no share of nothing."""
    with pytest.raises(OutOfValidRange):
        speed_nonuniformity(0.05, Motion(offset=0.1, plate_speed=0.0, jig_speed=0.0))
