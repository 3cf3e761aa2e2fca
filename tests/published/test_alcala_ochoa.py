"""Height per fringe against published and tabulated values."""

import math

import pytest

from lapwright.metrology.fringes import fringe_height


def test_equivalent_wavelength_is_two_fringe_heights():
    """3.6441 µm printed; 632.8 nm at 80 degrees from the normal (inferred) gives it to half a unit of the last digit."""
    printed = 3.6441
    found = 2.0 * fringe_height(wavelength=0.6328e-6, incidence=math.radians(80.0)) * 1e6
    assert found == pytest.approx(printed, abs=0.5e-4)


@pytest.mark.parametrize(
    ("degrees", "micrometres"),
    [(0, 0.3164), (45, 0.4475), (60, 0.6328), (70, 0.9251), (75, 1.2225), (80, 1.8221), (82, 2.2734), (85, 3.6303)],
)
def test_red_laser_line_at_usual_angles(degrees, micrometres):
    """Closed form lambda / (2 cos theta) at 0.6328 µm, worked out by hand to four decimals."""
    found = fringe_height(wavelength=0.6328e-6, incidence=math.radians(degrees)) * 1e6
    assert found == pytest.approx(micrometres, abs=0.51e-4)


@pytest.mark.parametrize(
    ("wavelength", "step", "degrees"),
    [
        (0.6328, 0.5, 50.7430), (0.6328, 1.0, 71.5546), (0.6328, 2.0, 80.8976),
        (0.650, 0.5, 49.4584), (0.650, 1.0, 71.0344), (0.650, 2.0, 80.6480),
        (0.635, 0.5, 50.5800), (0.635, 1.0, 71.4882), (0.635, 2.0, 80.8657),
    ],
)  # fmt: skip
def test_angle_for_a_wanted_step(wavelength, step, degrees):
    """The angle that gives half, one or two micrometres, to four decimals of a degree."""
    assert fringe_height(wavelength=wavelength, incidence=math.radians(degrees)) == pytest.approx(step, rel=1e-5)


def test_angle_error_at_eighty_degrees():
    """A tenth of a degree is 0.99 % of the scale: tan(theta) d theta."""
    plain, off = (fringe_height(wavelength=0.6328, incidence=math.radians(angle)) for angle in (80.0, 80.1))
    assert off / plain - 1.0 == pytest.approx(0.0099, abs=2e-4)
