"""Changes suggested from run to run."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.process.run_corrections import suggested_change

NOISE = 0.3 * np.array([0.4, -1.1, 0.9, -0.3, 1.2, -0.8, 0.1, -0.5, 0.7, -0.2, 1.0, -1.3])


def test_a_planted_shift_is_removed_in_three_runs():
    """2.0 µm of overshoot appear; each run uses the correction suggested: after three the miss is under 0.3 µm."""
    seen, applied = list(NOISE * 1e-6), 0.0
    for number in range(4):
        outcome = 2.0e-6 + 0.1e-6 * (-1) ** number
        rest = outcome + applied
        seen.append(outcome)
        applied += suggested_change(seen, applied=applied).change
    assert abs(rest) < 0.3e-6


def test_steps_are_capped_and_said_to_be():
    """A miss of 5 µm with steps of 2: the change is -2 and the rest is still wanted."""
    found = suggested_change([5.0e-6, 5.1e-6, 4.9e-6, 5.0e-6], largest_step=2e-6)
    assert (found.change, found.is_shortened) == (-2e-6, True)
    assert found.wanted == pytest.approx(-5e-6, rel=0.01)
    assert "cut to the largest step" in found.sentence


def test_scatter_alone_changes_nothing():
    """Misses about none: not worth it."""
    found = suggested_change(list(NOISE * 1e-6))
    assert (found.change, found.is_worth_it) == (0.0, False)


def test_two_runs_are_too_few():
    """A correction needs three."""
    assert suggested_change([5e-6, 5e-6]).change == 0.0


def test_a_correction_that_is_set_already_is_not_asked_for_twice():
    """The miss of 2 µm with -2 applied: nothing more."""
    assert suggested_change([2e-6] * 6, applied=-2e-6).change == pytest.approx(0.0, abs=1e-12)


def test_shift_and_scale_laws():
    """Misses k times as large ask for k times the change; mirrored misses for the opposite."""
    misses = [1.9e-6, 2.2e-6, 2.0e-6, 2.1e-6]
    one = suggested_change(misses).change
    assert suggested_change([3 * miss for miss in misses]).change == pytest.approx(3 * one)
    assert suggested_change([-miss for miss in misses]).change == pytest.approx(-one)


def test_bad_questions():
    """A weight of nothing, a step of nothing."""
    with pytest.raises(OutOfValidRange, match="weight"):
        suggested_change([1e-6] * 3, weight=0.0)
    with pytest.raises(OutOfValidRange, match="largest_step"):
        suggested_change([1e-6] * 3, largest_step=0.0)
