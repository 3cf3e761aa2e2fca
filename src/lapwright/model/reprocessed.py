"""What comes out when records are computed anew by the version that runs now."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Reprocessable = Literal["fringes", "profiles", "sets", "runs"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """A number that does not come out as it was recorded [SI]; None where one side has none."""

    record_id: int
    piece: str
    name: str
    told: float | None
    found: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NotDone:
    """A record that could not be computed anew, or not be compared, and why."""

    record_id: int
    piece: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReprocessReport:
    """Records of a kind computed anew: how many, how many numbers were compared, what differs.

    `largest` is the largest difference of all numbers, relative for those beyond 1 and else in SI, also of those that
    agree within `tolerance`; for runs, of the removal at the stop over its standard uncertainty. `refused` cannot be
    computed any more, `left_out` holds nothing to compare. `recorded` are the numbers of measured faces recorded anew,
    when that was asked.
    """

    kind: Reprocessable
    version: str
    tolerance: float
    records: int
    numbers: int
    largest: float
    changed: tuple[Changed, ...]
    refused: tuple[NotDone, ...]
    left_out: tuple[NotDone, ...]
    recorded: tuple[int, ...] = ()

    @property
    def agrees(self) -> bool:
        """Whether every number compared came out as recorded."""
        return not self.changed and not self.refused
