"""Unit factors against an independent library and NIST SP 811:2008, Appendix B."""

import math

import pint
import pytest

from lapwright.units import UNITS, find_unit, from_unit

PINT_NAMES = {
    "µin": "microinch", "°": "degree", "″": "arcsecond", "gf": "gram_force", "kgf": "kilogram_force",
    "lbf": "pound_force", "gf/cm²": "gram_force/centimeter**2", "kgf/cm²": "kilogram_force/centimeter**2",
    "°C": "degC", "°F": "degF", "%": "percent", "m³/s": "m**3/s", "ml/min": "milliliter/minute", "1": "dimensionless",
    "arcmin": "arcminute", "arcsec": "arcsecond", "in": "inch", "mil": "thou",
}  # fmt: skip


@pytest.fixture(scope="module")
def registry():
    """The independent library."""
    return pint.UnitRegistry()


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: f"{unit.dimension}-{unit.symbol}")
def test_pint_agrees_on_every_unit(registry, unit):
    """7.25 of each unit, converted to SI by both."""
    quantity = registry.Quantity(7.25, PINT_NAMES.get(unit.symbol, unit.symbol))

    assert quantity.to_base_units().magnitude == pytest.approx(from_unit(7.25, unit), rel=1e-9)


@pytest.mark.parametrize(
    ("symbol", "dimension", "factor"),
    [
        ("in", "length", 2.54e-2),
        ("mil", "length", 2.54e-5),
        ("kgf", "force", 9.80665),
        ("lbf", "force", 4.448222),
        ("psi", "pressure", 6.894757e3),
        ("kgf/cm²", "pressure", 9.80665e4),
        ("arcsec", "angle", 4.848137e-6),
        ("rpm", "rotation", 1.047198e-1),
    ],
)
def test_factors_as_printed(symbol, dimension, factor):
    """Table of conversion factors, printed to seven digits."""
    unit = find_unit(symbol, dimension)

    assert math.isclose(from_unit(1.0, unit), factor, rel_tol=5e-7)
