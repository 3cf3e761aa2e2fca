"""Numbers for fields that name their unit, and text that reads back."""

import math

import pytest

from lapwright.formats.edge_values import deg, edge_value, mm, um
from lapwright.formats.number_text import exact_number, exact_text
from lapwright.units import find_unit, from_unit


@pytest.mark.parametrize(
    ("value", "field", "dimension", "expected"),
    [
        (12.5e-6, "ttv_um", "length", 12.5), (1e3, "pressure_kpa", "pressure", 1.0), (90.0, "time_min", "time", 1.5),
        (1e-6 / 60, "rate_um_per_min", "removal_rate", 1.0), (294.15, "temperature_c", "temperature", 21.0),
    ],
)  # fmt: skip
def test_a_value_is_given_in_the_unit_its_field_names(value, field, dimension, expected):
    """Without the noise of the conversion."""
    assert edge_value(value, field, dimension) == expected


@pytest.mark.parametrize("value", [None, math.nan, math.inf])
def test_what_is_not_known_is_none(value):
    """None, not measured, and infinite."""
    assert um(value) is None
    assert mm(value) is None
    assert deg(value) is None


def test_degrees_run_from_zero_to_below_a_full_turn():
    """Azimuths are counter-clockwise from +x."""
    assert deg(-math.pi / 2) == 270.0
    assert deg(2 * math.pi) == 0.0
    assert deg(-1e-18) == 0.0
    assert deg(math.pi, turn=180.0) == 0.0


def test_lengths_below_a_femtometre_are_nothing_and_have_no_sign():
    """They are rounding of the computer."""
    assert str(um(-1e-22)) == "0.0"


@pytest.mark.parametrize("number", [0.1, 500.3, 1e-3, 123456.789, 25.4])
def test_a_short_number_comes_back_as_it_was(number):
    """What was entered as 500.3 µm is written as 500.3."""
    unit = find_unit("µm", "length")
    assert exact_number(from_unit(number, unit), unit) == number


def test_text_has_no_needless_decimals_and_is_empty_for_nan():
    """500, not 500.0; 0,5 with a decimal comma."""
    unit = find_unit("µm", "length")
    assert exact_text(500e-6, unit) == "500"
    assert exact_text(0.5e-6, unit, decimal=",") == "0,5"
    assert exact_text(math.nan, unit) == ""
