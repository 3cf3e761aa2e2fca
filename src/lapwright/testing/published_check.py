"""One number of ours held against a published one."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lapwright.testing.digits import digits_agreeing

#: Where so many digits or more are asked for, no more are shown: beyond that processors differ.
MANY = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One published number, ours, and how many digits must agree (what its print or its data allow).

    `by_processor` says that digits beyond those asked for come from the order of sums and are not shown.
    """

    key: str
    what: str
    published: float
    computed: float
    needed: float
    by_processor: bool = False

    @property
    def digits(self) -> float:
        """Digits that agree."""
        return digits_agreeing(self.computed, self.published)

    @property
    def shown(self) -> int:
        """Whole digits that agree, as the page tells them."""
        capped = self.by_processor or self.needed >= MANY
        return math.floor(min(self.digits, self.needed) if capped else self.digits)
