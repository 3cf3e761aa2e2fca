"""Scales that people can read: steps of 1, 2 or 5 times a power of ten."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """An even scale from `low` to `high` in steps of `step`, in the unit that is printed beside it."""

    low: float
    high: float
    step: float

    def __post_init__(self) -> None:
        if not (self.low < self.high and self.step > 0.0):
            raise OutOfValidRange("width of a scale", self.high - self.low, "more than zero")

    @property
    def decimals(self) -> int:
        """Decimals that its marks need."""
        return max(0, -math.floor(math.log10(self.step) + 1e-9))

    @property
    def ticks(self) -> tuple[float, ...]:
        """The marks, both ends included, free of binary dust."""
        count = round((self.high - self.low) / self.step)
        return tuple(round(self.low + i * self.step, self.decimals + 1) for i in range(count + 1))

    def share(self, value: float) -> float:
        """Where a value stands on the scale: 0 at the low end, 1 at the high end."""
        return (value - self.low) / (self.high - self.low)


def even_scale(low: float, high: float, *, marks: int = 8, least_step: float = 0.0) -> Scale:
    """The scale with about `marks` steps that holds both ends.

    A range of nothing gets one step to each side, so that the value stands in the middle.

    >>> even_scale(99.2, 101.4).ticks[:3], even_scale(99.2, 101.4).step
    ((99.0, 99.5, 100.0), 0.5)
    >>> even_scale(5.0, 5.0, least_step=0.1).ticks
    (4.9, 5.0, 5.1)
    """
    if not (math.isfinite(low) and math.isfinite(high) and low <= high):
        raise OutOfValidRange("range of a scale", high - low, "finite and zero or more")
    step = max(_round_step((high - low) / marks), least_step) or _round_step(abs(high) * 1e-3) or 1.0
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    if first == last:
        first, last = first - 1, last + 1
    return Scale(low=first * step, high=last * step, step=step)


def round_below(value: float) -> float:
    """The greatest of 1, 2, 5 times a power of ten that is not above a value more than zero.

    >>> round_below(0.37), round_below(17.0)
    (0.2, 10.0)
    """
    power = 10.0 ** math.floor(math.log10(value))
    return float(max(factor * power for factor in (1.0, 2.0, 5.0) if factor * power <= value))


def common_scale(maps: Iterable[NDArray[np.float64]], *, marks: int = 10, least_step: float = 0.0) -> Scale | None:
    """One scale for several maps, so that equal colours mean equal values; None when nothing was measured."""
    known = [values[np.isfinite(values)] for values in maps]
    known = [values for values in known if values.size]
    if not known:
        return None
    every = np.concatenate([np.ravel(values) for values in known])
    return even_scale(float(every.min()), float(every.max()), marks=marks, least_step=least_step)


# ----------------------------------------------------------------------------------------------------------------------


def _round_step(rough: float) -> float:
    """The smallest of 1, 2, 5 times a power of ten that is not below `rough`."""
    if rough <= 0.0:
        return 0.0
    power = 10.0 ** math.floor(math.log10(rough))
    return next(factor * power for factor in (1.0, 2.0, 5.0, 10.0) if factor * power >= rough * (1.0 - 1e-9))
