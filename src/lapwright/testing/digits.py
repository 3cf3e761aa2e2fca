"""How many digits of a computed number agree with a certified one."""

from __future__ import annotations

import math

MOST_DIGITS = 15.0  # of double precision


def digits_agreeing(computed: float, certified: float) -> float:
    """Minus the logarithm of the relative error (of the absolute one for a certified nought), from 0 to 15.

    >>> round(digits_agreeing(3.1416, 3.14159265), 1), digits_agreeing(2.0, 2.0), digits_agreeing(5.0, 1.0)
    (5.6, 15.0, 0.0)
    """
    if math.isnan(computed):
        return 0.0
    error = abs(computed - certified)
    relative = error / abs(certified) if certified != 0.0 else error
    if relative == 0.0:
        return MOST_DIGITS
    return min(MOST_DIGITS, max(0.0, -math.log10(relative)))
