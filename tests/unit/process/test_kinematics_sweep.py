"""Sweeps, and sliding distance followed through time."""

import math

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.process.kinematics import Motion, area_mean_speed, mean_relative_speed
from lapwright.process.kinematics_sweep import (
    Sweep,
    axis_course,
    sliding_distance,
    swept_area_mean_speed,
    swept_mean_speed,
)

TURN = 2 * math.pi
MOTION = Motion(offset=0.09, plate_speed=TURN, jig_speed=0.83 * TURN)
STROKE = Sweep(half_stroke=0.02, period=10.0)
ARM = Sweep(half_stroke=0.02, period=10.0, arm_length=0.2, pivot_distance=0.22)


def test_a_stroke_of_20_mm_hardly_changes_the_speed():
    """20 mm at 0.1 Hz under a plate of 60 rev/min: the radial speed of 0.0126 m/s adds about 0.01 % (derived)."""
    equal = Motion(offset=0.09, plate_speed=TURN, jig_speed=TURN)
    gain = float(swept_mean_speed(0.0, equal, STROKE)) / (TURN * 0.09) - 1.0
    radial = TURN * 0.1 * 0.02

    assert radial == pytest.approx(0.0126, abs=5e-5)
    assert gain == pytest.approx(0.25 * (radial / (TURN * 0.09)) ** 2, rel=0.1)


@pytest.mark.parametrize("sweep", [STROKE, ARM])
def test_the_mean_over_a_period_is_what_time_integration_finds(sweep):
    """1000 s in steps of 10 ms, followed point by point; ratio and period share no short beat."""
    speeds = swept_mean_speed([0.0, 0.05], MOTION, sweep)
    slid = sliding_distance([0.0, 0.05], [0.0, 0.0], MOTION, duration=1000.0, sweep=sweep, time_steps=100_000)

    assert slid / 1000.0 == pytest.approx(speeds, rel=1e-5)


def test_without_a_stroke_it_is_the_closed_form():
    """A sweep that goes nowhere changes nothing."""
    still = Sweep(half_stroke=0.0, period=10.0)

    assert swept_mean_speed([0.0, 0.03], MOTION, still) == pytest.approx(mean_relative_speed([0.0, 0.03], MOTION))
    assert swept_area_mean_speed(0.05, MOTION, still) == pytest.approx(area_mean_speed(0.05, MOTION), rel=1e-14)
    off = swept_area_mean_speed(0.0125, MOTION, still, wafer_offset=0.03)
    assert off == pytest.approx(area_mean_speed(0.0125, MOTION, wafer_offset=0.03), rel=1e-12)


def test_the_arm_swings_on_its_circle():
    """Every place is an arm's length from the pivot, and moving outward first."""
    course = axis_course(np.linspace(0.0, 10.0, 41), MOTION, ARM)
    outward = np.abs(course.axis_place)

    middle = course.axis_place[0]
    assert middle == pytest.approx(0.09)
    assert outward[1] > outward[0]
    pivots = [p for p in (0.22 * np.exp(1j * a) for a in np.linspace(0, TURN, 100_001))
              if abs(abs(p - middle) - 0.2) < 1e-5]  # fmt: skip
    spread = min(np.ptp(np.abs(course.axis_place - pivot)) for pivot in pivots)
    assert spread < 2e-5


@pytest.mark.parametrize("sweep", [STROKE, ARM])
def test_the_speed_of_the_axis_is_the_slope_of_its_place(sweep):
    """Central differences."""
    t = np.linspace(0.3, 9.0, 17)
    before, at, after = (axis_course(t + shift, MOTION, sweep) for shift in (-1e-5, 0.0, 1e-5))

    assert (after.axis_place - before.axis_place) / 2e-5 == pytest.approx(at.axis_velocity, abs=1e-9)


def test_a_jig_that_does_not_turn_slides_farther_outside():
    """Offset 90 mm, edges 50 mm off: 1.56 outside, 0.44 inside, of the middle (derived)."""
    rest = Motion(offset=0.09, plate_speed=TURN, jig_speed=0.0)
    outer, middle, inner = sliding_distance([0.05, 0.0, -0.05], [0.0] * 3, rest, duration=60.0)

    assert outer / middle == pytest.approx(1.56, abs=0.005)
    assert inner / middle == pytest.approx(0.44, abs=0.005)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Sweep(half_stroke=-1e-3, period=1.0),
        lambda: Sweep(half_stroke=1e-3, period=0.0),
        lambda: Sweep(half_stroke=1e-3, period=1.0, arm_length=0.2),
        lambda: axis_course(0.0, MOTION, Sweep(half_stroke=0.01, period=1.0, arm_length=0.05, pivot_distance=0.3)),
        lambda: sliding_distance(0.0, 0.0, MOTION, duration=-1.0),
        lambda: sliding_distance(0.0, 0.0, MOTION, duration=1.0, time_steps=0),
        lambda: swept_mean_speed(-0.01, MOTION, STROKE),
        lambda: swept_area_mean_speed(0.0, MOTION, STROKE),
        lambda: swept_area_mean_speed(0.05, MOTION, STROKE, wafer_offset=-0.01),
    ],
)
def test_what_cannot_be_is_refused(wrong):
    """Negative strokes, half an arm, an arm that does not reach, no time."""
    with pytest.raises(OutOfValidRange):
        wrong()
