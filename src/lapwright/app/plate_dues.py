"""Which plates must be looked at now, and why: by their checks since ring and speeds were last changed.

Nothing else of a plate's history is read for that: a laboratory of years would wait for all its readings.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from lapwright.app.kept_results import Itself
from lapwright.app.plate_demands import PlateDemand, plate_demand
from lapwright.app.plate_shapes import MOST_KEPT, Stretch, dome_at, shape_of, stretches_of
from lapwright.model.plates import EntryHead, Plate
from lapwright.process.plate_course import PlateTrend

#: A plate is due this long before the time worked out: somebody has to come and stop it.
_AHEAD = 900.0
_HOUR = 3600.0
_NEVER_READ = "Its shape was never read. Lay the bar across it and read the dial."


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateDue:
    """A plate that must be looked at: its names and why, in one sentence."""

    plate_id: str
    name: str
    station_id: str | None
    sentence: str


def plates_due(*, at: datetime) -> tuple[PlateDue, ...]:
    """The plates that must be looked at now, by name."""
    from lapwright.records import plate_queries

    heads, recorded = plate_queries.heads(), plate_queries.plates()
    lasting = [_recent(one.plate, Itself(heads[one.plate.plate_id])) for one in recorded]
    plate_queries.entries_numbered({each.entry_id for recent in lasting for each in recent})  # of all at once
    found = []
    for one in recorded:
        plate, history = one.plate, heads[one.plate.plate_id]
        is_due, sentence = _verdict(plate, history, at)
        if is_due:
            due = PlateDue(plate_id=plate.plate_id, name=plate.name, station_id=plate.station_id, sentence=sentence)
            found.append(due)
    return tuple(found)


def limit_of(plate: Plate, demand: PlateDemand | None) -> float:
    """The largest dome allowed [m]: the plate's own limit, or the stricter one of an order in work."""
    return plate.dome_limit if demand is None else min(plate.dome_limit, demand.dome)


def ran_since(plate: Plate, history: Sequence[EntryHead], at: datetime) -> float | None:
    """How long the plate's station ran since its last line [s]; None without a station or a line."""
    from lapwright.records import plate_queries

    if plate.station_id is None or not history:
        return None
    since = max(one.at for one in history)
    return 0.0 if at <= since else plate_queries.ran_on(plate.station_id, since=since, until=at)


def due_of(
    plate: Plate,
    history: Sequence[EntryHead],
    *,
    limit: float,
    trend: PlateTrend | None,
    next_check: float | None,
    ran: float | None,
) -> tuple[bool, str]:
    """Whether a plate must be looked at, and why, or when; trend and next check [s] are None before the first one."""
    if trend is None or next_check is None:
        return True, _NEVER_READ
    later = _after_check(history)
    since_check = (ran or 0.0) + sum(one.ran for one in later if one.replaced_by is None)
    if any(one.kind == "dressed" for one in later):
        return True, "It was dressed since the last check: its shape is unknown. Read it."
    return _due(plate, limit, trend, next_check, since_check)


# ----------------------------------------------------------------------------------------------------------------------


def _verdict(plate: Plate, history: tuple[EntryHead, ...], at: datetime) -> tuple[bool, str]:
    from lapwright.process.plate_course import time_to_next_check

    limit, trend = limit_of(plate, plate_demand(plate.outer_radius)), _trend(plate, Itself(history))
    ahead = None if trend is None else time_to_next_check(trend, dome_limit=limit, longest=plate.check_every)
    return due_of(plate, history, limit=limit, trend=trend, next_check=ahead, ran=ran_since(plate, history, at))


@lru_cache(maxsize=MOST_KEPT)
def _recent(plate: Plate, history: Itself) -> tuple[Stretch, ...]:
    """The checks that a trend rests on. Kept while the history is the same."""
    from lapwright.process.plate_course import since_last_change

    stretches = stretches_of(plate, history.held)
    return tuple(since_last_change(stretches)) if stretches else ()


@lru_cache(maxsize=MOST_KEPT)
def _trend(plate: Plate, history: Itself) -> PlateTrend | None:
    """Where a plate stands and goes; None without a check. Kept in the same way."""
    from lapwright.process.plate_course import plate_trend
    from lapwright.records import plate_queries

    recent = _recent(plate, history)
    if not recent:
        return None
    entries = plate_queries.entries_numbered([one.entry_id for one in recent])
    return plate_trend([dome_at(one, shape_of(plate, entries[one.entry_id])) for one in recent])


def _after_check(history: Sequence[EntryHead]) -> list[EntryHead]:
    """The lines after the last check that stands."""
    later = itertools.takewhile(lambda one: one.kind != "check" or one.replaced_by is not None, reversed(history))
    return list(later)[::-1]


def _due(plate: Plate, limit: float, trend: PlateTrend, ahead: float, since_check: float) -> tuple[bool, str]:
    if abs(trend.dome) > limit:
        way = "domed" if trend.dome > 0.0 else "dished"
        return True, (
            f"It is {way} by {abs(trend.dome) * 1e6:.1f} µm, beyond its limit of {limit * 1e6:.1f} µm."
            " Lap nothing flat on it until it is put right."
        )
    if since_check >= max(ahead - _AHEAD, 0.0) and ahead < plate.check_every:
        return True, (
            f"It may be domed or dished by its limit of {limit * 1e6:.1f} µm: last known"
            f" {trend.dome * 1e6:+.1f} µm, {since_check / _HOUR:.1f} h of running ago. Read it, and set the ring."
        ).replace("-", "\u2212")
    if since_check >= plate.check_every:
        return True, (
            f"It ran {since_check / _HOUR:.1f} h since the last check; every {plate.check_every / _HOUR:.1f} h"
            " was agreed. Read it."
        )
    left = (min(ahead, plate.check_every) - since_check) / _HOUR
    return False, f"To be read again after {left:.1f} h of running."
