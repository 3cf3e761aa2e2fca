"""Shape of a plate from what is read on it and from what was lapped on it."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange, ShapeMismatch, TooFewSites
from lapwright.process.plate import (
    bridge_shape,
    dome_limit,
    map_shape,
    shape_from_lapped,
    straightedge_shape,
    wafer_sagitta,
)

R = 0.15
PLACES = np.array([-0.14, -0.1, -0.06, 0.06, 0.1, 0.14])


@pytest.mark.parametrize(
    ("dome_um", "diameter_mm", "sagitta_um"),
    [
        (10, 25, -0.069), (10, 50.8, -0.287), (10, 76.2, -0.645), (10, 100, -1.111), (10, 150, -2.5),
        (5, 100, -0.556), (1, 150, -0.25), (-10, 100, 1.111),
    ],
)  # fmt: skip
def test_what_a_wafer_takes(dome_um, diameter_mm, sagitta_um):
    """A plate of 300 mm; three decimals (derived from s = c²/8R)."""
    found = wafer_sagitta(dome_um * 1e-6, diameter_mm * 1e-3, plate_radius=R) * 1e6

    assert found == pytest.approx(sagitta_um, abs=5e-4)


@pytest.mark.parametrize("form", ["cap", "torus"])
def test_what_was_lapped_tells_the_plate(form):
    """There and back."""
    taken = wafer_sagitta(8e-6, 0.0762, plate_radius=R, plate_form=form)
    found = shape_from_lapped(taken, 0.0762, plate_radius=R, sagitta_uncertainty=1e-8, plate_form=form)

    assert found.dome == pytest.approx(8e-6)
    assert found.dome_uncertainty > 0.3 * 8e-6


@pytest.mark.parametrize("tilt", [0.0, 4e-4])
@pytest.mark.parametrize("level", [0.0, -1e-3])
def test_level_and_tilt_of_the_bar_do_not_count(level, tilt):
    """The bar may lie as it likes, each time anew."""
    cap = -6e-6 * (PLACES / R) ** 2
    heights = np.concatenate([cap + level + tilt * PLACES, cap + 1e-5 - 2e-5 * PLACES])
    found = straightedge_shape(
        np.tile(PLACES, 2), heights, np.repeat([1, 2], 6), plate_radius=R, reading_uncertainty=5e-7
    )

    assert found.dome == pytest.approx(6e-6, abs=1e-14)
    assert found.residual == pytest.approx(0.0, abs=1e-14)


def test_the_uncertainty_is_that_of_many_repeats():
    """4000 simulated layings scatter as stated."""
    rng = np.random.default_rng(3)
    heights = 5e-7 * rng.standard_normal((4000, 6))
    domes = [straightedge_shape(PLACES, h, [0] * 6, plate_radius=R, reading_uncertainty=5e-7).dome for h in heights]
    stated = straightedge_shape(PLACES, heights[0], [0] * 6, plate_radius=R, reading_uncertainty=5e-7)

    assert np.std(domes) == pytest.approx(stated.dome_uncertainty, rel=0.06)  # 5 sigma of 1/sqrt(2 n)


def test_a_trough_is_told_beside_the_dome():
    """2 µm deep along the middle of the land."""
    heights = np.where(np.abs(PLACES) == 0.1, -2e-6, 0.0)
    found = straightedge_shape(PLACES, heights, [0] * 6, plate_radius=R, reading_uncertainty=5e-7)

    assert found.residual > 5e-7


def test_a_reading_that_was_not_taken_does_not_count():
    """NaN means not measured, nothing else."""
    heights = -6e-6 * (PLACES / R) ** 2
    heights[1] = np.nan

    assert straightedge_shape(PLACES, heights, [0] * 6, plate_radius=R, reading_uncertainty=5e-7).readings == 5


def test_a_map_tells_the_same_as_a_bar():
    """Heights on two circles, level and tilt added."""
    angle = np.arange(8) * np.pi / 4
    x, y = (np.concatenate([0.14 * f(angle), 0.06 * f(angle)]) for f in (np.cos, np.sin))
    found = map_shape(x, y, 1e-4 + 2e-5 * y + 4e-6 * (x**2 + y**2) / R**2, plate_radius=R, reading_uncertainty=1e-6)

    assert found.dome == pytest.approx(-4e-6)


def test_a_bridge_multiplies_its_reading_by_the_square():
    """100 mm bridge on 300 mm: nine times."""
    found = bridge_shape(-0.5e-6, 0.1, plate_radius=R, reading_uncertainty=1e-7)

    assert (found.dome, found.dome_uncertainty) == pytest.approx((-4.5e-6, 0.9e-6))


def test_the_limit_is_what_takes_the_share_of_the_flatness():
    """A plate at the limit prints just that share."""
    limit = dome_limit(2e-6, 0.1, plate_radius=R, share=0.4)

    assert abs(wafer_sagitta(limit, 0.1, plate_radius=R)) == pytest.approx(0.8e-6)


@pytest.mark.parametrize(
    ("wrong", "error"),
    [
        (lambda: straightedge_shape([0.1], [0.0, 1.0], [0], plate_radius=R, reading_uncertainty=1e-6), ShapeMismatch),
        (lambda: straightedge_shape([0.1, 0.0], [0.0] * 2, [0] * 2, plate_radius=R, reading_uncertainty=1e-6), TooFewSites),
        (lambda: straightedge_shape(PLACES, PLACES, range(6), plate_radius=R, reading_uncertainty=1e-6), TooFewSites),
        (lambda: straightedge_shape([0.1, -0.1] * 3, [0.0] * 6, [0] * 6, plate_radius=R, reading_uncertainty=1e-6), OutOfValidRange),
        (lambda: straightedge_shape(3 * PLACES, PLACES, [0] * 6, plate_radius=R, reading_uncertainty=1e-6), OutOfValidRange),
        (lambda: straightedge_shape(PLACES, PLACES, [0] * 6, plate_radius=R, reading_uncertainty=0.0), OutOfValidRange),
        (lambda: map_shape([0.1] * 3, [0.0] * 3, [0.0] * 3, plate_radius=R, reading_uncertainty=1e-6), TooFewSites),
        (lambda: map_shape([0.1], [0.0] * 3, [0.0] * 3, plate_radius=R, reading_uncertainty=1e-6), ShapeMismatch),
        (lambda: bridge_shape(0.0, 0.4, plate_radius=R, reading_uncertainty=1e-7), OutOfValidRange),
        (lambda: shape_from_lapped(0.0, 0.0, plate_radius=R, sagitta_uncertainty=1e-7), OutOfValidRange),
        (lambda: shape_from_lapped(0.0, 0.1, plate_radius=R, sagitta_uncertainty=1e-7, copy_doubt=-1.0), OutOfValidRange),
        (lambda: wafer_sagitta(1e-6, -0.1, plate_radius=R), OutOfValidRange),
        (lambda: dome_limit(1e-6, 0.1, plate_radius=R, share=1.5), OutOfValidRange),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(wrong, error):
    """Too little, off the plate, or places at which a dome looks like a level."""
    with pytest.raises(error):
        wrong()
