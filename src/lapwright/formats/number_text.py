"""Numbers as text that read back to the same SI float."""

from __future__ import annotations

import math

from lapwright.units import Unit, from_unit, to_unit


def exact_number(value: float, unit: Unit) -> float:
    """The number in a unit that reads back to an SI value bit for bit, the one with fewest decimals if there are more.

    Not every float has one: a value that never was a short number in this unit may come back one rounding step off,
    which is less than 3e-16 of it.
    """
    nearest = to_unit(value, unit)
    for digits in (0, 1, 2, 3, 4, 6, 9, 12):
        rounded = round(nearest, digits)
        if from_unit(rounded, unit) == value:
            return rounded
    for neighbour in (nearest, math.nextafter(nearest, math.inf), math.nextafter(nearest, -math.inf)):
        if from_unit(neighbour, unit) == value:
            return neighbour
    return nearest


def exact_text(value: float, unit: Unit, *, decimal: str = ".") -> str:
    """`exact_number` as text; an empty text for a value that was not measured."""
    if math.isnan(value):
        return ""
    number = exact_number(value, unit)
    text = repr(int(number)) if number == int(number) and abs(number) < 1e15 else repr(number)
    return text.replace(".", decimal)
