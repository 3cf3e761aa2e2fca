"""Use case: looking whether the program is fit for work on this machine."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from lapwright.settings import Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One thing looked at: its name, whether it is in order, and a sentence with what to do if not."""

    name: str
    good: bool
    sentence: str


def examine(settings: Settings, *, now: datetime) -> tuple[Check, ...]:
    """Version, data folder and its permissions, disk, database, gauges due. Never raises for what it looks at."""
    raise NotImplementedError
