"""Units at the edges."""

import math

import pytest

from lapwright.errors import UnitError
from lapwright.units import (
    DIMENSIONS,
    UNITS,
    field_unit,
    field_value,
    find_unit,
    from_unit,
    number,
    parse,
    printed,
    to_unit,
)


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("500 um", "length", 500e-6),
        ("500 µm", "length", 500e-6),
        ("500 μm", "length", 500e-6),
        ("12,5 mm", "length", 12.5e-3),
        ("-3 nm", "length", -3e-9),
        ("2 in", "length", 0.0508),
        ('2"', "length", 0.0508),
        ("1 mil", "length", 25.4e-6),
        ("1 thou", "length", 25.4e-6),
        ("40 µin", "length", 1.016e-6),
        ("90 deg", "angle", math.pi / 2),
        ("1 arcsec", "angle", math.pi / 648_000),
        ("2 kg", "load", 19.6133),
        ("2 kgf", "force", 19.6133),
        ("3 psi", "pressure", 20_684.271_879_5),
        ("60 rpm", "rotation", 2 * math.pi),
        ("6 µm/min", "removal_rate", 1e-7),
        ("1.5 h", "time", 5400.0),
        ("20 °C", "temperature", 293.15),
        ("68 °F", "temperature", 293.15),
        ("60 ml/min", "flow", 1e-6),
        ("1\u202f000 mm", "length", 1.0),
    ],
)
def test_text_with_a_unit_becomes_si(text, dimension, expected):
    """Definitions of the SI Brochure and NIST SP 811, worked by hand."""
    assert expected == pytest.approx(parse(text, dimension), rel=1e-9)


@pytest.mark.parametrize("text", ["500", "", "um", "5 mm mm", "1,234.5 mm", "five mm", "nan mm", "inf mm", "5 kPa"])
def test_a_bare_number_or_a_foreign_unit_is_refused(text):
    """Nothing is guessed: no unit, no value."""
    with pytest.raises(UnitError):
        parse(text, "length")


def test_the_refusal_names_the_units_that_would_do():
    """The sentence says what was found and what was expected."""
    with pytest.raises(UnitError, match=r"has no unit; expected one of m, mm, µm"):
        parse("500", "length")


def test_a_slip_of_the_pen_gets_a_hint():
    """A unit close to a known one is offered."""
    with pytest.raises(UnitError, match="Did you mean 'rpm'"):
        parse("60 rmp", "rotation")


def test_decimal_micrometres_are_the_nearest_floats():
    """12.5 µm is the float nearest to 12.5e-6, not a product of rounded factors."""
    assert parse("12.5 um", "length") == 12.5e-6
    assert parse("0.3 um", "length") == 0.3e-6


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: f"{unit.dimension}-{unit.symbol}")
def test_every_unit_goes_out_and_back(unit):
    """A number survives the way to SI and back."""
    assert to_unit(from_unit(3.25, unit), unit) == pytest.approx(3.25, rel=1e-12)


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: f"{unit.dimension}-{unit.symbol}")
def test_every_symbol_and_alias_finds_its_unit(unit):
    """No symbol is taken twice within one dimension."""
    for symbol in (unit.symbol, *unit.aliases):
        assert find_unit(symbol, unit.dimension) == unit


@pytest.mark.parametrize(
    ("field", "dimension", "symbol"),
    [
        ("thickness_um", "length", "µm"),
        ("thickness_mil", "length", "mil"),
        ("diameter_mm", "length", "mm"),
        ("plate_speed_rpm", "rotation", "rpm"),
        ("rate_um_per_min", "removal_rate", "µm/min"),
        ("load_kg", "load", "kg"),
    ],
)
def test_a_field_name_carries_its_unit(field, dimension, symbol):
    """The longest fitting suffix wins."""
    assert field_unit(field, dimension).symbol == symbol


def test_a_field_without_a_unit_is_refused():
    """The sentence lists the endings that would do."""
    with pytest.raises(UnitError, match="must end in one of"):
        field_value("thickness", 1.0, "length")


def test_an_unknown_quantity_is_refused():
    """A dimension that does not exist is the caller's mistake."""
    with pytest.raises(UnitError, match="is no quantity"):
        find_unit("m", "colour")


def test_every_dimension_has_a_unit():
    """The list of dimensions holds no empty name."""
    assert set(DIMENSIONS) == {unit.dimension for unit in UNITS} | {"load"}


def test_printing_uses_a_true_minus_and_never_a_minus_zero():
    """A rounded nothing has no sign."""
    assert printed(-2.04e-6, "µm", "length") == "\u22122.0\u00a0µm"
    assert printed(-1e-9, "µm", "length") == "0.0\u00a0µm"
    assert printed(math.nan, "µm", "length") == "not measured"


def test_number_takes_point_or_comma():
    """Both decimal signs, but only one at a time."""
    assert number("3,25") == number("3.25") == 3.25
    with pytest.raises(UnitError):
        number("3.25 um")
