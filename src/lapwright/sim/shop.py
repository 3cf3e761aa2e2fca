"""The simulated shop for one job: who and what is there, and what is truly so.

A `Shop` is a value. Work changes it by giving a new one; the truth stays beside every reading. Random numbers come
from streams named after what they are for, so that one more reading here does not change what happens there.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from lapwright.sim.bonding import Press, Stack, Void, bonded
from lapwright.sim.carriers import TrueCarrier, carrier
from lapwright.sim.fields import Array, Field
from lapwright.sim.gauges import TrueGauge, field_readings, zero_reading
from lapwright.sim.lapping import Cut, Jig, Station, lapped
from lapwright.sim.polishing import Pad, polished
from lapwright.sim.room import Room, temperature
from lapwright.sim.wafers import TrueWafer, WaferKind, wafer


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """Everything in the shop as it truly is. `zeroed` holds the time of day [s] at which a gauge was set to zero."""

    seed: int
    room: Room
    gauges: Mapping[str, TrueGauge]
    stations: Mapping[str, Station]
    jig: Jig
    pad: Pad
    press: Press
    wafers: Mapping[str, TrueWafer] = field(default_factory=dict)
    carriers: Mapping[str, TrueCarrier] = field(default_factory=dict)
    stacks: Mapping[str, Stack] = field(default_factory=dict)
    zeroed: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenSet:
    """One set of readings as the shop gives it, lengths in m: zeros, readings (repeats, n), and the room [K].

    `truth` is the true thickness at the sites; nobody at the gauge knows it.
    """

    zero_before: float
    zero_after: float
    readings: Array
    temperature: float
    truth: Array


def stream(seed: int, *names: str | int) -> np.random.Generator:
    """The random numbers for one purpose: the same seed and names give the same numbers, in any order of work."""
    return np.random.default_rng([seed, *(zlib.crc32(str(name).encode()) for name in names)])


def with_wafers(shop: Shop, wafer_ids: tuple[str, ...], kind: WaferKind) -> Shop:
    """The shop after a box of wafers arrived."""
    came = {name: wafer(name, kind, rng=stream(shop.seed, "wafer", name)) for name in wafer_ids}
    return replace(shop, wafers={**shop.wafers, **came})


def with_carriers(
    shop: Shop,
    carrier_ids: tuple[str, ...],
    *,
    diameter: float,
    thickness: float,
    wedged: Mapping[str, float] | None = None,
) -> Shop:
    """The shop with carriers on its shelf; `wedged` gives the wedge [m] of those that are worse than the rest."""
    shelf = {
        name: carrier(
            name,
            diameter=diameter,
            thickness=thickness,
            rng=stream(shop.seed, "carrier", name),
            wedge_amount=(wedged or {}).get(name),
        )
        for name in carrier_ids
    }
    return replace(shop, carriers={**shop.carriers, **shelf})


def bond_wafer(
    shop: Shop,
    wafer_id: str,
    carrier_id: str,
    *,
    attempt: int = 1,
    stuck_wedge: tuple[float, float] | None = None,
    voids: tuple[Void, ...] = (),
) -> Shop:
    """The shop after a wafer was bonded to a carrier, for the first time or again."""
    stack = bonded(
        shop.wafers[wafer_id],
        shop.carriers[carrier_id],
        shop.press,
        rng=stream(shop.seed, "bond", wafer_id, attempt),
        stuck_wedge=stuck_wedge,
        voids=voids,
    )
    return replace(shop, stacks={**shop.stacks, wafer_id: stack})


def debond_wafer(shop: Shop, wafer_id: str) -> Shop:
    """The shop after a wafer came off its carrier, free and as thick as the work left it."""
    stack = shop.stacks[wafer_id]
    rest = {name: other for name, other in shop.stacks.items() if name != wafer_id}
    return replace(shop, stacks=rest, wafers={**shop.wafers, wafer_id: stack.wafer})


def lap_wafer(shop: Shop, wafer_id: str, station: str, *, travel: float, rate: float, run: int = 1) -> tuple[Shop, Cut]:
    """The shop after a wafer was lapped by a spindle travel [m] at a rate [m/s], and the cut as it truly went.

    The plate has worn by it, too. `run` numbers the runs of a wafer.
    """
    rng = stream(shop.seed, "lap", wafer_id, run)
    cut = lapped(shop.stacks[wafer_id], shop.stations[station], shop.jig, travel=travel, rate=rate, rng=rng)
    plate = shop.stations[station]
    worn = replace(plate, plate_dome=plate.plate_dome + plate.dome_growth * cut.time)
    stations = {**shop.stations, station: worn}
    return replace(shop, stations=stations, stacks={**shop.stacks, wafer_id: cut.stack}), cut


def polish_wafer(shop: Shop, wafer_id: str, *, time: float, run: int = 1) -> tuple[Shop, Cut]:
    """The shop after a wafer was polished for a time [s], and what truly came off; the pad has aged."""
    rng = stream(shop.seed, "polish", wafer_id, run)
    cut, pad = polished(shop.stacks[wafer_id], shop.pad, time=time, rng=rng)
    return replace(shop, pad=pad, stacks={**shop.stacks, wafer_id: cut.stack}), cut


def set_zero(shop: Shop, gauge_id: str, time_of_day: float) -> Shop:
    """The shop after a gauge was set to zero on its bare stand at a time of day [s]."""
    return replace(shop, zeroed={**shop.zeroed, gauge_id: time_of_day})


def take_set(
    shop: Shop,
    gauge_id: str,
    piece: Field,
    sites: tuple[Array, Array],
    *,
    name: str,
    span: tuple[float, float],
    repeats: int = 1,
    hand: float = 0.0,
) -> TakenSet:
    """Readings of a piece over a span of two times of day [s], with the gauge's zero read first and last.

    The stand follows the room, so what it grew since it was set to zero is in every reading and in both zeros.
    `name` names the stream of random numbers.
    """
    gauge = shop.gauges[gauge_id]
    begin, end = span
    rng = stream(shop.seed, "set", name)
    moments = np.linspace(begin, end, repeats * sites[0].shape[0] + 2)
    start = temperature(shop.room, shop.zeroed.get(gauge_id, begin))
    warmed = np.asarray([temperature(shop.room, moment) for moment in moments]) - start
    return TakenSet(
        zero_before=zero_reading(gauge, rng=rng, warmed=float(warmed[0])),
        readings=field_readings(
            gauge, piece, sites, rng=rng, repeats=repeats, warmed=warmed[1:-1].reshape(repeats, -1), hand=hand
        ),
        zero_after=zero_reading(gauge, rng=rng, warmed=float(warmed[-1])),
        temperature=temperature(shop.room, (begin + end) / 2.0),
        truth=piece.at(*sites),
    )
