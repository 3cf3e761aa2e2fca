"""Nominal silicon wafer sizes and areas with flats."""

import math

import pytest

from lapwright.library import load
from lapwright.model.wafer import Round
from lapwright.process.loads import outline_area

LIBRARY = load()


@pytest.mark.parametrize(
    ("diameter", "low", "high"),
    [
        (50.8, 275, 279),
        (76.2, 375, 381),
        (100, 525, 525),
        (125, 625, 625),
        (150, 675, 675),
        (200, 725, 725),
        (300, 775, 775),
    ],
)
def test_nominal_thickness(diameter, low, high):
    """As in general wafer-size tables."""
    row = next(r for r in LIBRARY.wafer_sizes if r.material == "Si" and r.diameter == pytest.approx(diameter * 1e-3))

    assert low <= round(row.thickness * 1e6, 6) <= high


def test_primary_flats():
    """15.88, 22.22, 32.5, 42.5, 57.5 mm up to 150 mm; a notch above (from memory)."""
    flats = [row.flat_length * 1e3 for row in LIBRARY.wafer_sizes if row.material == "Si" and row.mark == "flat"]

    assert flats == pytest.approx([15.88, 22.22, 32.5, 42.5, 57.5])


@pytest.mark.parametrize(
    "row", [r for r in LIBRARY.wafer_sizes if r.material == "Si" and r.mark == "flat"], ids=lambda r: r.row_id
)
def test_a_flat_costs_less_than_two_percent_of_the_area(row):
    """Chord at distance sqrt(R^2 - L^2/4): the segment is 1.0 to 1.8 % of the disc (closed form)."""
    radius, half = row.diameter / 2, row.flat_length / 2
    segment = radius**2 * math.asin(half / radius) - half * math.sqrt(radius**2 - half**2)
    full = math.pi * radius**2
    area = outline_area(Round(diameter=row.diameter, mark="flat", flat_length=row.flat_length))

    assert area == pytest.approx(full - segment)
    assert 0.005 < segment / full < 0.02
