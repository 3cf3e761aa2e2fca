"""The order of names as people count: L2 before L10."""

from __future__ import annotations

import re

_DIGITS = re.compile(r"([0-9]+)")


def name_key(name: str) -> tuple[list[str | int], str]:
    """What to sort names by: numbers in them by their value, letters whether large or small.

    >>> sorted(["L10", "l2", "L1", "pad", "10-a"], key=name_key)
    ['10-a', 'L1', 'l2', 'L10', 'pad']
    """
    parts = _DIGITS.split(name.casefold())  # text and digits by turns, so that like is compared with like
    return [int(part) if number % 2 else part for number, part in enumerate(parts)], name
