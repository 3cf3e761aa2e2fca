"""Questions about a reading: when one is asked, and when not."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.app.plausibility import Known, question_about

RING = np.linspace(0.0, 2.0 * np.pi, 8, endpoint=False)
X, Y = 0.02 * np.cos(RING), 0.02 * np.sin(RING)


def known(thickness=(), *, pieces=(), nominal=None, noise=0.3e-6, sigmas=12.0):
    """What a reading is compared with; sites on a ring."""
    values = np.asarray(thickness, dtype=float)
    return Known(
        x=X[: len(values)],
        y=Y[: len(values)],
        thickness=values,
        pieces=pieces,
        noise=noise,
        nominal=nominal,
        sigmas=sigmas,
    )


def test_just_inside_the_distance_nothing_is_asked_and_just_outside_it_is():
    """12 sigma at 0.3 µm of noise are 3.6 µm."""
    even = known([500e-6] * 8)
    assert question_about(503.5e-6, 0.0, 0.0, even) is None
    assert "12 σ" in question_about(503.7e-6, 0.0, 0.0, even)


def test_the_first_readings_are_not_measured_against_a_plane():
    """Four readings and the new one carry no plane and a scatter about it."""
    assert question_about(510e-6, 0.0, 0.0, known([500e-6] * 4)) is None


def test_a_piece_among_others_is_questioned_at_its_first_reading():
    """0.508 mm against 0.500 ± 0.003 of the others: job of the copied number."""
    others = [np.array([500e-6 + offset]) for offset in (-3e-6, -1e-6, 0.0, 1e-6, 2e-6, 3e-6)]
    asked = question_about(508e-6, 0.0, 0.0, known(pieces=others))
    assert "508.0 µm" in asked
    assert "500.0 ± 3.5 µm" in asked or "500.5 ± 3.5 µm" in asked
    assert question_about(504e-6, 0.0, 0.0, known(pieces=others)) is None


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (0.5e-6, "millimetres typed as micrometres"), (19.7e-6, "thousandths of an inch typed as micrometres"),
        (5e-3, "one place too far right"), (50e-6, "one place too far left"),
    ],
)  # fmt: skip
def test_a_slip_is_named(value, words):
    """The factor between what was read and what is nominal tells the slip."""
    assert words in question_about(value, 0.0, 0.0, known(nominal=500e-6))


@given(
    slope_x=st.floats(-1e-3, 1e-3), slope_y=st.floats(-1e-3, 1e-3), level=st.floats(1e-4, 1e-2),
    x=st.floats(-0.02, 0.02), y=st.floats(-0.02, 0.02),
)  # fmt: skip
def test_what_lies_in_the_plane_of_the_others_is_never_questioned(slope_x, slope_y, level, x, y):
    """Shift and wedge of any size leave a reading plausible."""
    plane = known(level + slope_x * X + slope_y * Y)
    assert question_about(level + slope_x * x + slope_y * y, x, y, plane) is None


def test_a_zero_read_with_the_piece_under_the_probe_is_asked_about():
    """A zero as large as the piece, or one that left the set's own by more than warming does; common practice."""
    from lapwright.app.plausibility import question_about_zero

    assert question_about_zero(0.4e-6, before=None, size=500e-6) is None
    assert "under the probe" in question_about_zero(499.8e-6, before=None, size=500e-6)
    assert question_about_zero(12e-6, before=11e-6, size=None) is None
    assert "moved by -30.0 µm" in question_about_zero(-19e-6, before=11e-6, size=6e-3)
