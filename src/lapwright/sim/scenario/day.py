"""The running day of the demonstration: the shop, the clock, what was caught, and who is told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path

from lapwright.sim.scenario.calendar import Calendar
from lapwright.sim.shop import Shop

SATURDAY = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Caught:
    """A trouble the program named: of which kind, on which wafer or gauge, when, and in its own words."""

    kind: str
    piece: str
    sentence: str
    at: datetime


@dataclass(slots=True, kw_only=True)
class Day:
    """What changes while the demonstration runs. `gauge_files` is the folder that gauges write their files to."""

    shop: Shop
    now: datetime
    tell: Callable[[str], None]
    gauge_files: Path
    calendar: Calendar = field(default_factory=Calendar)
    caught: list[Caught] = field(default_factory=list)
    counts: Counter[tuple[str, ...]] = field(default_factory=Counter)

    @property
    def time_of_day(self) -> float:
        """Seconds since midnight by the laboratory's clock."""
        return self.now.hour * 3600.0 + self.now.minute * 60.0 + self.now.second

    def wait(self, *, minutes: float) -> datetime:
        """Let time pass; the new time."""
        self.now += timedelta(minutes=minutes)
        return self.now

    def wait_until(self, hour: int, minute: int = 0, *, days: int = 0) -> datetime:
        """Let time pass until a time of today or of a later day; never backwards."""
        then = (self.now + timedelta(days=days)).replace(hour=hour, minute=minute, second=0, microsecond=0)
        self.now = max(self.now, then)
        return self.now

    def start_piece(self, *, latest: int) -> datetime:
        """Begin with a piece now, or on the next working morning when it is later than an hour of the day."""
        if self.now.hour >= latest:
            self.wait_until(8, days=1)
        while self.now.weekday() >= SATURDAY:
            self.wait_until(8, days=1)
        return self.now

    def draw_blind(self) -> None:
        """Keep the sun off the gauges from now on."""
        self.shop = replace(self.shop, room=replace(self.shop.room, ramps=()))

    def count(self, *what: str) -> int:
        """How often this was asked for, this time included; names streams of random numbers."""
        self.counts[what] += 1
        return self.counts[what]

    def catch(self, kind: str, piece: str, sentence: str) -> None:
        """Keep a trouble that the program named."""
        self.caught.append(Caught(kind=kind, piece=piece, sentence=sentence, at=self.now))
