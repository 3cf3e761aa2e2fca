"""Two clocks read together: a monotonic one for intervals, the date beside it."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime


def utc_now() -> datetime:
    """The present moment as a date in UTC."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """Seconds that never step, and the date."""

    monotonic: Callable[[], float] = time.monotonic
    utc: Callable[[], datetime] = utc_now


SYSTEM_CLOCK = Clock()
