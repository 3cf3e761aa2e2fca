"""Load, weight and pressure on pieces of any outline."""

import math

import pytest

from lapwright.errors import OutOfValidRange
from lapwright.model.wafer import Polygon, Rectangle, Round
from lapwright.process.loads import (
    Recipe,
    contact_pressure,
    load_for_pressure,
    outline_area,
    transferred_recipe,
    weight,
)


def area(diameter):
    """Area of a full disc."""
    return outline_area(Round(diameter=diameter))


def test_one_kilogram_on_a_two_inch_wafer():
    """1 kg on 50.8 mm is 4.838 kPa to four digits: 9.80665 N on 20.268 cm2."""
    assert f"{contact_pressure(weight(1.0), [area(0.0508)]) / 1e3:.3f}" == "4.838"


@pytest.mark.parametrize(
    ("diameter", "mass", "expected"),
    [
        (0.0508, 0.5, 2.42), (0.0508, 2, 9.68), (0.0508, 5, 24.2), (0.0762, 1, 2.15), (0.0762, 2, 4.30),
        (0.100, 0.5, 0.62), (0.100, 1, 1.25), (0.100, 5, 6.24), (0.150, 1, 0.55), (0.150, 5, 2.77),
    ],
)  # fmt: skip
def test_pressures_of_usual_weights(diameter, mass, expected):
    """Weight over area of the full disc, three digits."""
    assert contact_pressure(weight(mass), [area(diameter)]) / 1e3 == pytest.approx(
        expected, abs=0.006 * max(1, expected / 4)
    )


def test_spring_and_ring_take_their_part():
    """(20 N - 4 N) times (1 - 0.25) on 2 pieces of 10 cm2 is 6 kPa."""
    assert contact_pressure(20.0, [1e-3, 1e-3], spring_lift=4.0, carried_share=0.25) == pytest.approx(6000.0)


def test_a_pressing_spring_adds_to_the_load():
    """A negative lift presses."""
    assert contact_pressure(10.0, [1e-3], spring_lift=-2.0) == pytest.approx(12000.0)


@pytest.mark.parametrize(
    ("outline", "expected"),
    [
        (Rectangle(width=0.01, height=0.01), 1e-4),
        (Polygon(corners=((0, 0), (0.02, 0), (0.02, 0.01), (0, 0.01))), 2e-4),
        (Polygon(corners=((0, 0.01), (0.02, 0.01), (0.02, 0), (0, 0))), 2e-4),
        (Round(diameter=0.1, mark="notch"), math.pi * 0.05**2),
    ],
)
def test_areas_of_other_outlines(outline, expected):
    """Rectangle, polygon in either sense, notch left out."""
    assert outline_area(outline) == pytest.approx(expected)


def test_a_flat_takes_its_segment_away():
    """32.5 mm flat on 100 mm: phi = 0.6621 rad, segment 0.5 R^2 (phi - sin phi) = 0.591 cm2 of 78.540."""
    phi = 2 * math.asin(32.5 / 100)
    segment = 0.5 * 0.05**2 * (phi - math.sin(phi))

    assert outline_area(Round(diameter=0.1, mark="flat", flat_length=0.0325)) == pytest.approx(
        math.pi * 0.05**2 - segment
    )
    assert segment * 1e4 == pytest.approx(0.592, abs=2e-3)


def test_a_die_under_a_wafers_load_sees_far_more_pressure():
    """1 kg on 10 x 10 mm is 98 kPa."""
    assert contact_pressure(weight(1.0), [1e-4]) / 1e3 == pytest.approx(98.07, abs=0.01)


def test_load_and_pressure_are_inverse():
    """There and back again."""
    load = load_for_pressure(7000.0, [1e-3, 2e-3], spring_lift=3.0, carried_share=0.2)

    assert contact_pressure(load, [1e-3, 2e-3], spring_lift=3.0, carried_share=0.2) == pytest.approx(7000.0)


def test_a_recipe_goes_to_another_size_with_its_pressure_and_speed():
    """From 50.8 to 100 mm the area, the load and the bond time grow by 3.875."""
    small = Recipe(pressure=4838.4, speed=0.5, load=weight(1.0), area=area(0.0508), bond_time=300.0)

    large = transferred_recipe(small, [area(0.1)])

    assert (large.pressure, large.speed) == (small.pressure, small.speed)
    assert large.load / small.load == pytest.approx(3.875, rel=1e-3)
    assert large.bond_time / small.bond_time == pytest.approx(3.875, rel=1e-3)


@pytest.mark.parametrize(
    ("load", "areas", "given"),
    [(1.0, [], {}), (1.0, [0.0], {}), (1.0, [1e-3], {"carried_share": 1.0}), (1.0, [1e-3], {"spring_lift": 2.0})],
)
def test_impossible_contacts_are_refused(load, areas, given):
    """No area, nothing left for the piece, a spring stronger than the load."""
    with pytest.raises(OutOfValidRange):
        contact_pressure(load, areas, **given)
