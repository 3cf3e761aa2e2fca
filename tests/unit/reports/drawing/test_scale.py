"""Scales that people can read."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.errors import OutOfValidRange
from lapwright.reports.drawing import Scale, common_scale, even_scale


@given(st.floats(-1e4, 1e4), st.floats(0.0, 1e4), st.integers(3, 14))
def test_scale_holds_its_range_in_steps_of_one_two_or_five(low, width, marks):
    """Both ends are on the scale, the step is round, and there are about as many marks as asked for."""
    scale = even_scale(low, low + width, marks=marks, least_step=1e-3)
    dust = 1e-6 * scale.step
    assert scale.low <= low + dust
    assert scale.high >= low + width - dust
    assert f"{scale.step:e}"[0] in "125"
    assert len(scale.ticks) <= marks + 3


def test_marks_have_no_binary_dust():
    """0.1 steps print as 0.1, 0.2, 0.3."""
    assert even_scale(0.0, 0.5, marks=5).ticks == (0.0, 0.1, 0.2, 0.3, 0.4, 0.5)


def test_common_scale_leaves_unmeasured_sites_out():
    """NaN does not widen a scale; nothing measured has no scale."""
    assert common_scale([np.array([1.0, np.nan]), np.array([2.0])]).low == 1.0
    assert common_scale([np.array([np.nan])]) is None


@pytest.mark.parametrize(("low", "high"), [(2.0, 1.0), (float("nan"), 1.0), (0.0, float("inf"))])
def test_impossible_range_is_refused(low, high):
    """A range must be finite and the right way round."""
    with pytest.raises(OutOfValidRange):
        even_scale(low, high)


def test_scale_without_width_is_refused():
    """A scale from one to one has no place for a value."""
    with pytest.raises(OutOfValidRange):
        Scale(low=1.0, high=1.0, step=0.1)
