"""The room: temperature over a working day, in K, against seconds since midnight.

A slow daily wave between the night's and the afternoon's temperature, a ramp where sun falls on the bench, and doors
that let in cold air which warms again. Deterministic: a function of the time and of the room's description.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ramp:
    """A rise [K] that starts and ends at times of day [s] and decays afterwards over `decay` [s]."""

    start: float
    end: float
    rise: float
    decay: float = 2.0 * HOUR


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """A door opened at a time of day [s]: the room falls by `drop` [K] at once and recovers over `recovery` [s]."""

    time: float
    drop: float
    recovery: float = 900.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A room's day: coolest temperature [K], daily swing [K] with its warmest time of day [s], ramps and doors."""

    coolest: float = 294.15
    swing: float = 1.5
    warmest_at: float = 15.0 * HOUR
    ramps: tuple[Ramp, ...] = ()
    doors: tuple[Door, ...] = ()


def temperature(room: Room, time_of_day: float) -> float:
    """Temperature of the room [K] at a time of day [s]."""
    phase = 2.0 * math.pi * (time_of_day - room.warmest_at) / (24.0 * HOUR)
    value = room.coolest + room.swing * (1.0 + math.cos(phase)) / 2.0
    for ramp in room.ramps:
        value += _ramped(ramp, time_of_day)
    for door in room.doors:
        if time_of_day >= door.time:
            value -= door.drop * math.exp(-(time_of_day - door.time) / door.recovery)
    return value


# ----------------------------------------------------------------------------------------------------------------------


def _ramped(ramp: Ramp, time_of_day: float) -> float:
    if time_of_day <= ramp.start:
        return 0.0
    if time_of_day <= ramp.end:
        return ramp.rise * (time_of_day - ramp.start) / (ramp.end - ramp.start)
    return ramp.rise * math.exp(-(time_of_day - ramp.end) / ramp.decay)
