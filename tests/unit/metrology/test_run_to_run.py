"""The run-to-run controller proposes, shortens openly, and refuses nonsense."""

import math

import pytest

from lapwright.errors import OutOfValidRange
from lapwright.metrology.run_to_run import RunController, controller_stability, proposed_setting, updated_controller

START = RunController(slope=2.0, offset=1.0, target=9.0, weight=0.5)


def test_a_planted_shift_is_taken_out():
    """A lasting shift of 4 is down to an eighth after three runs with λ 0.5."""
    controller, setting, missed = START, 4.0, []
    for _ in range(4):
        outcome = 5.0 + 2.0 * setting
        missed.append(outcome - 9.0)
        controller = updated_controller(controller, setting=setting, outcome=outcome)
        setting = proposed_setting(controller).setting
    assert pytest.approx(missed) == [4.0, 2.0, 1.0, 0.5]


def test_a_shortened_step_says_so():
    """Not silent, and in the right direction."""
    found = proposed_setting(START, setting=10.0, largest_step=1.0)
    assert (found.setting, found.wanted, found.is_shortened) == (9.0, 4.0, True)
    assert "cut" in found.reason


def test_an_unstable_controller_has_no_gains():
    """λξ of two or more, or a slope of the wrong sign."""
    for ratio in (4.0, -0.1):
        found = controller_stability(0.5, slope_ratio=ratio)
        assert (found.is_stable, found.noise_gain, found.drift_gain) == (False, None, None)
    assert controller_stability(0.5).largest_ratio == 4.0


@pytest.mark.parametrize(
    "call",
    [
        lambda: RunController(slope=0.0, offset=0.0, target=0.0, weight=0.5),
        lambda: RunController(slope=1.0, offset=0.0, target=0.0, weight=0.0),
        lambda: updated_controller(START, setting=math.nan, outcome=1.0),
        lambda: proposed_setting(START, setting=1.0, largest_step=0.0),
        lambda: controller_stability(1.1),
    ],
)
def test_wrong_questions(call):
    """Refused."""
    with pytest.raises(OutOfValidRange):
        call()
