"""Height per fringe."""

import math

import pytest

from lapwright.errors import OutOfValidRange
from lapwright.metrology.fringes import fringe_height


def test_straight_on_it_is_half_a_wavelength():
    """632.8 nm: 0.3164 µm."""
    assert pytest.approx(fringe_height(wavelength=0.6328e-6), rel=1e-12) == 0.3164e-6


@pytest.mark.parametrize("incidence", [math.pi / 2, -0.1, math.nan])
def test_angle_must_lie_below_ninety_degrees(incidence):
    """Grazing along the surface, or no number, is refused."""
    with pytest.raises(OutOfValidRange):
        fringe_height(wavelength=0.6328e-6, incidence=incidence)


@pytest.mark.parametrize("wavelength", [0.0, -1e-6, math.inf])
def test_wavelength_must_be_a_length(wavelength):
    """Zero, negative or endless is refused."""
    with pytest.raises(OutOfValidRange):
        fringe_height(wavelength=wavelength)
