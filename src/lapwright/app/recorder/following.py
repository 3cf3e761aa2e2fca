"""A gauge's lengths as removal: sign and zero."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from lapwright.model.live import Direction

Length = TypeVar("Length", float, NDArray[np.float64])


def removal_shown(length: Length, *, zero: float, direction: Direction) -> Length:
    """Removal that a length on the gauge's own scale shows, from a zero [m].

    >>> round(removal_shown(480e-6, zero=500e-6, direction="shrinking") * 1e6, 6)
    20.0
    """
    return length - zero if direction == "growing" else zero - length
