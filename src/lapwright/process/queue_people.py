"""Two ways in which people may work off a schedule when it does not go as planned, for many plays at once.

Orderly ones take what the schedule has next and wait for it; willing ones take whatever is ready meanwhile. Real ones
do something between, so both are played.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from lapwright.model.queue import Shop

Times = NDArray[np.float64]
_SLOT = 300.0  # s
_SLACK = 1e-6  # s; times nearer than this are one


class Orderly:
    """People who take what the schedule has next, and wait for it: whoever has his hands free first.

    Each shift keeps its own hands, so that what waits for the morning binds nobody in the evening. What became longer
    than any shift takes a whole one; beyond the last shift there are neither hours nor hands to wait for.
    """

    def __init__(self, shop: Shop, draws: int) -> None:
        shifts = sorted(shop.shifts, key=lambda one: one.start)
        self._starts = np.array([one.start for one in shifts])
        self._ends = np.array([one.end for one in shifts])
        self._free = [np.full((one.people, 1), one.start) for one in shifts]
        self._longest = max((one.end - one.start for one in shifts), default=math.inf)
        self._draws = draws

    def fit(self, start: Times, setup: float, inside: Times, hands: float) -> tuple[Times, NDArray[np.intp]]:
        """The earliest start, and the shift that it begins in (one past the last for none)."""
        count = len(self._free)
        inside = np.minimum(inside, self._longest - setup)
        number = np.searchsorted(self._ends, start - setup, side="right")
        later = np.array(start)
        open_ = number < count
        for shift in range(int(number.min(initial=count)), count):
            mine = open_ & (number <= shift)
            if not open_.any():
                break
            free = self._free[shift].min(axis=0) if hands + setup > 0.0 else self._starts[shift]
            at = np.maximum(start, np.maximum(free, self._starts[shift]) + setup)
            fits = mine & (at + inside <= self._ends[shift] + _SLACK)
            later = np.where(fits, at, later)
            number = np.where(fits, shift, np.where(mine, shift + 1, number))
            open_ &= ~fits
        return later, number

    def bind(self, number: NDArray[np.intp], begin: Times, until: Times) -> None:  # noqa: ARG002  as the other
        """Somebody's hands are bound until then, in the shift of each draw."""
        for shift in np.unique(number):
            if shift >= len(self._free):
                continue
            free = self._free[shift]
            if free.shape[1] == 1:
                free = self._free[shift] = np.repeat(free, self._draws, axis=1)
            mine = np.flatnonzero(number == shift)
            free[free[:, mine].argmin(axis=0), mine] = until[mine]


class Willing:
    """People who take whatever is ready: how many hands are bound in each stretch of `_SLOT`, a row for each draw.

    What waits for the morning binds nobody in the evening, and what is late leaves its hands to others meanwhile.
    What became longer than any shift takes a whole one; beyond the last shift there is nothing to wait for.
    """

    def __init__(self, shop: Shop, draws: int) -> None:
        self._shifts = sorted(shop.shifts, key=lambda one: one.start)
        self._ends = np.array([one.end for one in self._shifts])
        self._longest = max((one.end - one.start for one in self._shifts), default=math.inf)
        self._bound: dict[int, NDArray[np.int8]] = {}
        self._draws = draws

    def fit(self, start: Times, setup: float, inside: Times, hands: float) -> tuple[Times, NDArray[np.intp]]:
        """The earliest start, and the shift that it begins in (one past the last for none)."""
        count = len(self._shifts)
        inside = np.minimum(inside, self._longest - setup)
        number = np.searchsorted(self._ends, start - setup, side="right")
        later = np.array(start)
        left = number < count
        for shift in range(int(number.min(initial=count)), count):
            mine = np.flatnonzero(left & (number <= shift))
            if not left.any():
                break
            at = self._earliest(shift, mine, start[mine] - setup, setup + hands) + setup
            fits = at + inside[mine] <= self._shifts[shift].end + _SLACK
            later[mine[fits]] = at[fits]
            number[mine] = np.where(fits, shift, shift + 1)
            left[mine[fits]] = False
        return later, number

    def bind(self, number: NDArray[np.intp], begin: Times, until: Times) -> None:
        """Somebody's hands are bound from a moment to another, in the shift of each draw."""
        for shift in np.unique(number):
            if shift >= len(self._shifts):
                continue
            bound = self._bound_in(int(shift))
            mine = np.flatnonzero(number == shift)
            opened = self._shifts[shift].start
            first, last = (np.rint((each[mine] - opened) / _SLOT) for each in (begin, until))
            slots = np.arange(bound.shape[1])
            bound[mine] += (slots >= first[:, None]) & (slots < last[:, None])

    def _bound_in(self, shift: int) -> NDArray[np.int8]:
        if shift not in self._bound:
            one = self._shifts[shift]
            self._bound[shift] = np.zeros((self._draws, math.ceil((one.end - one.start) / _SLOT)), dtype=np.int8)
        return self._bound[shift]

    def _earliest(self, shift: int, mine: NDArray[np.intp], begin: Times, needed: float) -> Times:
        """The earliest beginning in a shift, from another on, with hands free for so long; infinity for none."""
        one = self._shifts[shift]
        begin = np.maximum(begin, one.start)
        wide = math.ceil(needed / _SLOT - _SLACK)
        if wide == 0:
            return begin
        bound = self._bound_in(shift)
        if wide > bound.shape[1]:
            return np.full_like(begin, math.inf)
        taken = np.cumsum(bound[mine] >= one.people, axis=1, dtype=np.int32)
        taken = np.concatenate([np.zeros((mine.size, 1), dtype=np.int32), taken], axis=1)
        first = np.rint((begin - one.start) / _SLOT).astype(np.intp)
        free = (taken[:, wide:] == taken[:, :-wide]) & (np.arange(bound.shape[1] - wide + 1) >= first[:, None])
        found = free.argmax(axis=1)
        at = np.where(found == first, begin, np.maximum(begin, one.start + found * _SLOT))
        # a beginning in the last stretches finds none whole; the end of the shift decides
        last = first > bound.shape[1] - wide
        return np.where(free.any(axis=1), at, np.where(last, begin, math.inf))
