"""What usually lies behind a signal on a chart: a small table of the trade's common practice, no source."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal

Pattern = Literal["jump", "shift"]
Direction = Literal["up", "down"]
SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftCause:
    """A likely cause of a signal, and where to look first. `direction` is up, down or any."""

    signal: str
    pattern: str
    direction: str
    cause: str
    look_at: str


def likely_causes(signal: str, *, pattern: Pattern, direction: Direction) -> tuple[DriftCause, ...]:
    """Causes of a pattern in one signal, the one to look at first in front; empty when the table knows none.

    >>> [one.cause for one in likely_causes("zero", pattern="jump", direction="up")][0]
    'Dirt on tip or anvil'
    """
    return tuple(
        one
        for one in _table()
        if one.signal == signal and one.pattern == pattern and one.direction in (direction, "any")
    )


@cache
def _table() -> tuple[DriftCause, ...]:
    text = (resources.files("lapwright.library") / "data" / "drift_causes.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return tuple(DriftCause(**row) for row in csv.DictReader(lines))
