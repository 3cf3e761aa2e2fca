"""A lapping plate that wears by a law of its own, read with a dial, put right by advice: how well that goes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapwright.process.plate import shape_from_lapped, straightedge_shape
from lapwright.process.plate_course import DomeAt, Leg, plate_trend
from lapwright.process.plate_wear import Footprint, Land, neutral_offset
from lapwright.process.ring_advice import RingAdvice, ring_advice
from lapwright.process.wear_learning import RingSetup, learned_wear
from lapwright.sim.plates import USUAL_LAW, WearingPlate, WearLaw, capped, lapped_sagitta, ran, straightedge
from lapwright.testing.plate_bound import best_go

LAND = Land(inner_radius=0.04, outer_radius=0.15)
RING = (Footprint(outer_radius=0.065),)
DIAL = 0.4e-6
HOUR = 3600.0
#: Places of the ring that somebody may choose who knows the law [m].
CHOICES = tuple(np.linspace(0.08, 0.115, 15).tolist())
LONGEST = 4.0 * HOUR
_SIDE = np.linspace(0.045, 0.145, 6)
PLACES = np.concatenate([-_SIDE[::-1], _SIDE])


@dataclass(frozen=True, slots=True, kw_only=True)
class PutRight:
    """One plate put right: the true dome before, after each go [m], and what was expected of the first and how surely.

    `checked` is the dome that the last check before it told; `checks` and `times` [s] are what each go took.
    """

    start: float
    after: tuple[float, ...]
    checked: float
    expected: float
    stated: float
    checks: tuple[int, ...] = ()
    times: tuple[float, ...] = ()

    def within(self, limit: float, goes: int) -> bool:
        """Whether the plate was back within so many goes."""
        return any(abs(dome) <= limit for dome in (self.start, *self.after)[: goes + 1])


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateShop:
    """How plates of an imagined shop wear: their law, ends of their speed of wear [m/s], play of their rings [m]."""

    law: WearLaw = USUAL_LAW
    slowest: float = 3.0e-6 / HOUR
    fastest: float = 6.0e-6 / HOUR
    play: float = 1.5e-3


USUAL_SHOP = PlateShop()


def along_the_bar(plate: WearingPlate) -> float:
    """The true dome along the places of the bar [m]: what a dial without noise would tell."""
    square = (PLACES / 0.15) ** 2
    return -float(np.polyfit(square, np.interp(np.abs(PLACES), plate.circles, plate.heights), 1)[0])


def read(plate: WearingPlate | float, rng: np.random.Generator, *legs: Leg) -> DomeAt:
    """A check: the bar laid twice, twelve places each."""
    heights = np.concatenate([straightedge(plate, PLACES, outer=0.15, rng=rng, noise=DIAL) for _ in range(2)])
    lines = np.repeat([0, 1], len(PLACES))
    found = straightedge_shape(np.tile(PLACES, 2), heights, lines, plate_radius=0.15, reading_uncertainty=DIAL)
    return DomeAt(dome=found.dome, dome_uncertainty=found.dome_uncertainty, legs=legs)


def put_right(
    seed: int, *, moved_before: bool, shop: PlateShop = USUAL_SHOP, goes: int = 3, looks: int = 0
) -> PutRight:
    """A ring six millimetres off, three checks at it, then advice followed up to `goes` times.

    `moved_before`: two checks with the ring on the other side are on record, too. `looks`: how many looks on the way
    are taken in a go, where the advice asks for them; a go then lasts until the advice moves the ring or ends it.
    """
    plate, course, place = _gone_astray(seed, moved_before=moved_before, shop=shop)
    rng = np.random.default_rng([41, seed])
    start, checked, expected, stated = along_the_bar(plate), course[-1].dome, 0.0, 0.0
    after: list[float] = []
    checks: list[int] = []
    times: list[float] = []
    while len(after) < goes:
        advice = _advised(course, place)
        if advice.kind != "condition":
            break
        if not after:
            expected, stated = advice.expected_dome, advice.expected_uncertainty
        place, looked, begun = advice.offset, 0, len(course)
        while True:
            is_look = advice.look_after is not None and looked < looks
            leg = Leg(offset=place, duration=(advice.look_after or 0.0) if is_look else advice.duration)
            plate = ran(plate, offset=place, time=leg.duration)
            course.append(read(plate, rng, leg))
            looked += 1
            if is_look:
                advice = _advised(course, place)
            if not is_look or advice.kind != "condition" or advice.offset != place:
                break
        after.append(along_the_bar(plate))
        checks.append(len(course) - begun)
        times.append(sum(one.legs[0].duration for one in course[begun:]))
    return PutRight(
        start=start, after=tuple(after), checked=checked, expected=expected, stated=stated, checks=tuple(checks),
        times=tuple(times),
    )  # fmt: skip


def _advised(course: list[DomeAt], place: float) -> RingAdvice:
    last = course[-1]
    setup = RingSetup(land=LAND, footprints=RING, least_offset=0.08, most_offset=0.115, offset=place)
    return ring_advice(last.dome, last.dome_uncertainty, learned_wear(course, setup), setup, dome_limit=1.2e-6)


def put_right_knowing(seed: int, *, moved_before: bool, shop: PlateShop = USUAL_SHOP, goes: int = 2) -> PutRight:
    """The same plate put right by somebody who knows its law, but not its constants."""
    plate, course, _place = _gone_astray(seed, moved_before=moved_before, shop=shop)
    rng = np.random.default_rng([41, seed])
    new = WearingPlate(inner=0.04, outer=0.15, ring=(0.065, 0.0), wear=1e-9, law=shop.law)
    start, checked, chance = along_the_bar(plate), course[-1].dome, 0.0
    after: list[float] = []
    for _ in range(goes):
        if abs(course[-1].dome) <= 0.6e-6:
            break
        go = best_go(new, course, places=CHOICES, longest=LONGEST, dome=along_the_bar)
        chance = chance or go.chance
        plate = ran(plate, offset=go.offset, time=go.duration)
        course.append(read(plate, rng, Leg(offset=go.offset, duration=go.duration)))
        after.append(along_the_bar(plate))
    return PutRight(start=start, after=tuple(after), checked=checked, expected=0.0, stated=chance)


def _gone_astray(seed: int, *, moved_before: bool, shop: PlateShop) -> tuple[WearingPlate, list[DomeAt], float]:
    """A plate that ran with its ring off, its checks, and where the ring stands."""
    rng = np.random.default_rng([40, seed])
    side = int(rng.choice([-1, 1]))
    neutral = neutral_offset(LAND, RING) or 0.0
    place = neutral + side * 6e-3
    plate = WearingPlate(
        inner=0.04,
        outer=0.15,
        ring=(0.065, 0.0),
        wear=rng.uniform(shop.slowest, shop.fastest),
        pull=rng.normal(0.0, shop.play),
        law=shop.law,
    )
    legs = [Leg(offset=neutral - side * 4e-3, duration=2.0 * HOUR)] * (2 if moved_before else 0)
    legs += [Leg(offset=place, duration=2.0 * HOUR)] * 2
    course = [read(plate, rng)]
    for leg in legs:
        plate = ran(plate, offset=leg.offset, time=leg.duration)
        course.append(read(plate, rng, leg))
    return plate, course, place


def seen_after(seed: int, rate: float) -> int | None:
    """At which check a growth [m/s] is seen, checks two hours apart; None when not within three."""
    rng = np.random.default_rng([39, seed])
    leg = Leg(offset=0.105, duration=2.0 * HOUR)
    course = []
    for number in range(3):
        course.append(read(float(rate * 2.0 * HOUR * number), rng, leg))
        if plate_trend(course).is_moving:
            return number + 1
    return None


def recovered(seed: int) -> float:
    """Dome told by a lapped wafer over the true one, for a plate of 4 to 15 µm of either sign."""
    rng = np.random.default_rng([30, seed])
    dome = float(rng.uniform(4e-6, 15e-6) * rng.choice([-1, 1]))
    plate = capped(WearingPlate(inner=0.04, outer=0.15, ring=(0.065, 0.0), wear=1e-9), dome)
    diameter = float(rng.choice([0.0508, 0.0762, 0.1]))
    noise = 0.02e-6
    sagitta = lapped_sagitta(plate, offset=float(rng.uniform(0.09, 0.1)), diameter=diameter)
    told = shape_from_lapped(
        sagitta + noise * rng.standard_normal(), diameter, plate_radius=0.15, sagitta_uncertainty=noise
    )
    return told.dome / dome
