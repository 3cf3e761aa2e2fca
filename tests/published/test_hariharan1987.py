"""The five-picture formula forgives a wrong step, as published."""

import numpy as np
import pytest

from lapwright.metrology.fringes import five_frame_phase

PHASE = np.linspace(-3.0, 3.0, 2001)


def greatest_error(formula, count, degrees):
    """Largest error [degree] of a phase formula when each step is too long by some degrees."""
    middle = count // 2 if count % 2 else 0
    steps = (np.arange(count) - middle) * np.radians(90.0 + degrees)
    frames = np.array([100.0 + 50.0 * np.cos(PHASE + step) for step in steps])
    error = np.angle(np.exp(1j * (formula(frames) - PHASE)))
    return float(np.degrees(np.max(np.abs(error - (error.max() + error.min()) / 2.0))))


def test_two_degrees_cost_two_hundredths_of_a_degree():
    """Printed: 0.02 degree for 2 degrees; closed form eps^2 / 4 = 0.01746 degree."""
    found = greatest_error(five_frame_phase, 5, 2.0)

    assert found == pytest.approx(0.02, abs=0.005)
    assert found == pytest.approx(np.degrees(np.radians(2.0) ** 2 / 4.0), rel=0.01)


def test_four_pictures_do_not_forgive():
    """The four-picture arc tangent errs by half the step error, 1 degree, once its constant part is taken out."""
    found = greatest_error(lambda i: np.arctan2(i[3] - i[1], i[0] - i[2]), 4, 2.0)
    assert found == pytest.approx(1.0, rel=0.02)


def test_exact_steps_leave_no_error():
    """Quarter turns to 1e-12 degree."""
    assert greatest_error(five_frame_phase, 5, 0.0) < 1e-12
