"""Lengths that can be meant: from a picometre to a kilometre. Beyond these a slip of units, and numbers overflow."""

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
