"""Numbers of a certificate: rounded once, and written in a language.

A value is rounded where two significant digits of its expanded uncertainty end (JCGM 100:2008, 7.2.6); without a known
uncertainty lengths have two decimals. None stands for "not measured" or "not known".
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Decimal

from lapwright.reports.words import Words

Fact = str | int | bool | Decimal | None | list["Fact"] | dict[str, "Fact"]
Facts = dict[str, Fact]


def rounded(value: float | None, decimals: int) -> Decimal | None:
    """A number with so many decimals, no minus before zero; None when there is none.

    >>> rounded(99.996, 2), rounded(-0.001, 2), rounded(float("nan"), 2)
    (Decimal('100.00'), Decimal('0.00'), None)
    """
    if value is None or not math.isfinite(value):
        return None
    exact = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_EVEN)
    return exact or abs(exact)


def plain(value: float | None) -> Decimal | None:
    """A number that was given, not measured: up to four decimals, as many as it has.

    >>> plain(102e-6 * 1e6), plain(2.5)
    (Decimal('102'), Decimal('2.5'))
    """
    exact = rounded(value, 4)
    return None if exact is None else Decimal(f"{exact:f}".rstrip("0").rstrip("."))


def decimals_for(expanded_uncertainty: float | None) -> int:
    """Decimals at which two significant digits of an uncertainty end; two when it is not known.

    >>> [decimals_for(u) for u in (0.35, 1.2, 24.0, 0.047, None)]
    [2, 1, 0, 3, 2]
    """
    if not expanded_uncertainty:
        return 2
    return min(max(1 - math.floor(math.log10(expanded_uncertainty)), 0), 4)


def shown(number: Fact, words: Words) -> str:
    """A number of the facts as the page writes it: decimal sign of the language, true minus."""
    if not isinstance(number, Decimal | int):
        return words["unknown"]
    text = f"{number:f}" if isinstance(number, Decimal) else str(number)
    return text.replace("-", "\u2212").replace(".", words["decimal"])
