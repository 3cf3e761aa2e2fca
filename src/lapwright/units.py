"""Units at the edges: text to SI numbers and back.

Inside the program a length is a float in metres and nothing else. Whatever a person, a file or a gauge gives carries
its unit and passes through here once. A bare number is refused. The set of units is closed: what the trade uses,
with factors that are exact by definition (SI Brochure, 9th ed. 2019; inch, pound and standard gravity as defined
in NIST SP 811:2008, Appendix B). Why this is a table of our own: docs/decisions/0002-units-table.md.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass, replace
from functools import lru_cache

from lapwright.errors import UnitError

STANDARD_GRAVITY = 9.80665  # m/s2, exact by definition (3rd CGPM, 1901)
INCH = 0.0254  # m, exact
POUND = 0.45359237  # kg, exact
TURN = 2.0 * math.pi  # rad

DIMENSIONS = (
    "length", "angle", "force", "load", "mass", "pressure", "speed", "rotation", "removal_rate", "time",
    "temperature", "temperature_difference", "volume", "flow", "drift", "share", "count",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: SI value = number * factor / per + offset, for quantities of one dimension.

    Decimal parts are held as `per`, so that 12.5 µm becomes the float nearest to 12.5e-6 m.
    """

    symbol: str
    field: str
    dimension: str
    factor: float = 1.0
    per: float = 1.0
    offset: float = 0.0
    aliases: tuple[str, ...] = ()


UNITS: tuple[Unit, ...] = (
    Unit("m", "m", "length"),
    Unit("mm", "mm", "length", per=1e3),
    Unit("µm", "um", "length", per=1e6, aliases=("μm", "um", "micron", "microns")),
    Unit("nm", "nm", "length", per=1e9),
    Unit("in", "in", "length", INCH, aliases=("inch", "inches", '"')),
    Unit("mil", "mil", "length", INCH, per=1e3, aliases=("mils",)),
    Unit("thou", "thou", "length", INCH, per=1e3),
    Unit("µin", "uin", "length", INCH, per=1e6, aliases=("μin", "uin", "microinch", "microinches")),
    Unit("rad", "rad", "angle"),
    Unit("mrad", "mrad", "angle", per=1e3),
    Unit("µrad", "urad", "angle", per=1e6, aliases=("μrad", "urad")),
    Unit("°", "deg", "angle", TURN, per=360.0, aliases=("deg", "degree", "degrees")),
    Unit("arcmin", "arcmin", "angle", TURN, per=21_600.0, aliases=("'",)),
    Unit("arcsec", "arcsec", "angle", TURN, per=1_296_000.0, aliases=("″", "''")),
    Unit("N", "n", "force"),
    Unit("mN", "mn", "force", per=1e3),
    Unit("kN", "kn", "force", 1e3),
    Unit("kgf", "kgf", "force", STANDARD_GRAVITY, aliases=("kp",)),
    Unit("gf", "gf", "force", STANDARD_GRAVITY, per=1e3),
    Unit("lbf", "lbf", "force", POUND * STANDARD_GRAVITY),
    Unit("kg", "kg", "mass"),
    Unit("g", "g", "mass", per=1e3),
    Unit("mg", "mg", "mass", per=1e6),
    Unit("lb", "lb", "mass", POUND, aliases=("lbs",)),
    Unit("oz", "oz", "mass", POUND, per=16.0),
    Unit("Pa", "pa", "pressure"),
    Unit("kPa", "kpa", "pressure", 1e3),
    Unit("MPa", "mpa", "pressure", 1e6),
    Unit("GPa", "gpa", "pressure", 1e9),
    Unit("bar", "bar", "pressure", 1e5),
    Unit("mbar", "mbar", "pressure", 1e2),
    Unit("psi", "psi", "pressure", POUND * STANDARD_GRAVITY / INCH**2),
    Unit("gf/cm²", "gf_per_cm2", "pressure", STANDARD_GRAVITY * 10.0, aliases=("gf/cm2", "g/cm2")),
    Unit("kgf/cm²", "kgf_per_cm2", "pressure", STANDARD_GRAVITY * 1e4, aliases=("kgf/cm2",)),
    Unit("m/s", "m_per_s", "speed"),
    Unit("mm/s", "mm_per_s", "speed", per=1e3),
    Unit("m/min", "m_per_min", "speed", per=60.0),
    Unit("rad/s", "rad_per_s", "rotation"),
    Unit("rpm", "rpm", "rotation", TURN, per=60.0, aliases=("rev/min", "1/min", "r/min")),
    Unit("µm/min", "um_per_min", "removal_rate", per=60e6, aliases=("μm/min", "um/min", "micron/min")),
    Unit("nm/min", "nm_per_min", "removal_rate", per=60e9),
    Unit("µm/h", "um_per_h", "removal_rate", per=3.6e9, aliases=("μm/h", "um/h")),
    Unit("nm/h", "nm_per_h", "removal_rate", per=3.6e12),
    Unit("s", "s", "time", aliases=("sec", "second", "seconds")),
    Unit("ms", "ms", "time", per=1e3),
    Unit("min", "min", "time", 60.0, aliases=("minute", "minutes")),
    Unit("h", "h", "time", 3600.0, aliases=("hr", "hour", "hours")),
    Unit("d", "d", "time", 86_400.0, aliases=("day", "days")),
    Unit("K", "k", "temperature"),
    Unit("°C", "c", "temperature", offset=273.15, aliases=("C", "degC")),
    Unit("°F", "f", "temperature", 5.0, per=9.0, offset=459.67 * 5.0 / 9.0, aliases=("F", "degF")),
    Unit("K", "k", "temperature_difference", aliases=("°C", "C")),
    Unit("m³", "m3", "volume", aliases=("m3",)),
    Unit("l", "l", "volume", per=1e3, aliases=("L", "litre", "litres", "liter", "liters")),
    Unit("ml", "ml", "volume", per=1e6, aliases=("mL", "cc")),
    Unit("m³/s", "m3_per_s", "flow", aliases=("m3/s",)),
    Unit("ml/min", "ml_per_min", "flow", per=60e6, aliases=("mL/min", "cc/min")),
    Unit("l/h", "l_per_h", "flow", per=3.6e6, aliases=("L/h",)),
    Unit("l/min", "l_per_min", "flow", per=60e3, aliases=("L/min",)),
    Unit("µm/K", "um_per_k", "drift", per=1e6, aliases=("μm/K", "um/K", "um/°C")),
    Unit("%", "percent", "share", per=100.0),
    Unit("1", "", "count"),
)

_NUMBER = re.compile(r"^\s*([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$")
#: As numbers are printed: thin spaces between thousands go, a true minus is a minus; marks of full width and the
#: decimal mark of Arabic are those marks, as their digits are digits.
_PRINTED = str.maketrans("\u2212\uff0d\uff0b\uff0e\uff0c\u066b", "--+..,", "\u2009\u202f\u00a0")
#: Behind a number: more digits, apart by what stands between thousands; 1 alone is the unit of pieces.
_MORE_DIGITS = re.compile(r"(?!1(?:/|$))[\s.,'\u2019\u066c_]*\d")
#: One to three digits, a mark, three digits: a decimal number, or thousands.
_TWO_WAYS = re.compile(r"(?<![\d.,])([1-9]\d{0,2})([.,])(\d{3})(?![\d.,eE'\u2019])")


def find_unit(symbol: str, dimension: str) -> Unit:
    """The unit a symbol names among those of one dimension.

    Raises `UnitError` with the units that would do. A mass is taken as a load (its weight under standard gravity)
    when the dimension is ``"load"``.

    >>> find_unit("um", "length").symbol
    'µm'
    """
    for unit in _units_of(dimension):
        if symbol in (unit.symbol, *unit.aliases):
            return unit
    known = [unit.symbol for unit in _units_of(dimension)]
    near = difflib.get_close_matches(symbol, known, 1)
    hint = f" Did you mean {near[0]!r}?" if near else ""
    found = f"has the unit {symbol!r}" if symbol else "has no unit"
    raise UnitError(
        f"The {dimension.replace('_', ' ')} {found}; expected one of {', '.join(known)}.{hint}",
        symbol=symbol,
        dimension=dimension,
    )


def parse(text: str, dimension: str) -> float:
    r"""A value with its unit, as SI: metres, radians, newtons, pascals, seconds, kelvins.

    Decimal point or decimal comma; no thousands sign but a thin or no-break space; a hyphen or the true minus that
    the pages print. Raises `UnitError` for a bare number, a unit of another dimension, or text that is no number.

    >>> parse("12,5 um", "length"), parse("\u22121.5 µm", "length")
    (1.25e-05, -1.5e-06)
    >>> round(parse("2 kg", "load"), 4)
    19.6133
    """
    match = _NUMBER.match(text.translate(_PRINTED))
    if match is None:
        raise UnitError(f"{text!r} is not a number with a unit; write it like '12.5 µm'.", text=text)
    if _MORE_DIGITS.match(match[2]):
        raise _more_than_one(text)
    unit = find_unit(match[2], dimension)
    return from_unit(number(match[1]), unit)


def number(text: str) -> float:
    """A plain finite decimal number, with point or comma.

    >>> number("3,25")
    3.25
    """
    cleaned = text.translate(_PRINTED).strip()
    match = _NUMBER.match(cleaned)
    if match is not None and _MORE_DIGITS.match(match[2]):
        raise _more_than_one(text)
    if match is None or match[2]:
        raise UnitError(f"{text!r} is not a number; write digits with one decimal point or comma.", text=text)
    found = float(match[1].replace(",", "."))
    if not math.isfinite(found):
        raise UnitError(f"{text!r} is larger than any number that can be kept; look at its exponent.", text=text)
    return found


def two_ways(text: str) -> tuple[str, str, str] | None:
    """The first number in a text that may be a decimal number or thousands: its mark, and how either is written.

    >>> two_ways("1,234 µm"), two_ways("0,123 mm"), two_ways("12,5 µm")
    ((',', '1.234', '1234'), None, None)
    """
    found = _TWO_WAYS.search(text.translate(_PRINTED))
    return None if found is None else (found[2], f"{found[1]}.{found[3]}", found[1] + found[3])


def from_unit(value: float, unit: Unit) -> float:
    """SI value of a number in a unit."""
    return value * unit.factor / unit.per + unit.offset


def to_unit(value: float, unit: Unit) -> float:
    """Number in a unit of an SI value."""
    return (value - unit.offset) * unit.per / unit.factor


def printed(value: float, symbol: str, dimension: str, *, digits: int = 1) -> str:
    """An SI value as text in a unit, with a true minus and a no-break space before the unit.

    >>> printed(1.25e-5, "µm", "length").split()
    ['12.5', 'µm']
    """
    if not math.isfinite(value):
        return "not measured"
    unit = find_unit(symbol, dimension)
    text = f"{to_unit(value, unit):.{digits}f}"
    if text.strip("-0.") == "":
        text = text.lstrip("-")
    space = "" if unit.symbol == "°" else "\u00a0"
    return text.replace("-", "\u2212") + space + unit.symbol


def field_unit(field: str, dimension: str) -> Unit:
    """The unit that a field name ends with: ``ttv_um``, ``plate_speed_rpm``, ``rate_um_per_min``.

    >>> field_unit("thickness_mil", "length").symbol
    'mil'
    """
    fitting = [unit for unit in _units_of(dimension) if unit.field and field.endswith("_" + unit.field)]
    if not fitting:
        known = ", ".join("_" + unit.field for unit in _units_of(dimension))
        raise UnitError(
            f"The field {field!r} names no unit of {dimension}; it must end in one of {known}.", field=field
        )
    return max(fitting, key=lambda unit: len(unit.field))


def field_value(field: str, value: float, dimension: str) -> float:
    """SI value of a number that a field with a unit suffix holds."""
    return from_unit(value, field_unit(field, dimension))


# ----------------------------------------------------------------------------------------------------------------------


def _more_than_one(text: str) -> UnitError:
    return UnitError(
        f"{text!r} holds more than one number, or a mark between thousands; write one number, like '1234.5'.", text=text
    )


@lru_cache(maxsize=64)
def _units_of(dimension: str) -> tuple[Unit, ...]:
    if dimension not in DIMENSIONS:
        raise UnitError(f"{dimension!r} is no quantity; known: {', '.join(DIMENSIONS)}.")
    if dimension == "load":
        weights = tuple(
            replace(unit, dimension="load", factor=unit.factor * STANDARD_GRAVITY) for unit in _units_of("mass")
        )
        return _units_of("force") + weights
    return tuple(unit for unit in UNITS if unit.dimension == dimension)
