"""Numbers that can be meant: above zero, and lengths from a picometre to a kilometre; beyond, a slip of units."""

from __future__ import annotations

import math

from lapwright.errors import OutOfValidRange

SHORTEST, LONGEST = 1e-12, 1e3  # m


def need_length(name: str, length: float) -> None:
    """Refuse a length that cannot be meant.

    Parameters
    ----------
    name : str
        What it is, for the sentence.
    length : float [m]
        Any number.

    Raises
    ------
    OutOfValidRange
        Not a number, not above zero, or outside a picometre to a kilometre.

    Examples
    --------
    >>> need_length("radius", 0.05)
    """
    if not (math.isfinite(length) and length > 0.0):
        raise OutOfValidRange(name, length, "more than zero [m]")
    if not SHORTEST <= length <= LONGEST:
        raise OutOfValidRange(name, length, "a picometre to a kilometre [m]; look at the unit")


def need_positive(**values: float) -> None:
    """Refuse numbers that are not finite and above zero.

    Parameters
    ----------
    values : float
        Each under its name, for the sentence.

    Raises
    ------
    OutOfValidRange
        The first that is not a number, not finite, or not above zero.

    Examples
    --------
    >>> need_positive(load=20.0, viscosity=5.0)
    """
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise OutOfValidRange(name, value, "more than zero")
