"""The plates of the demonstration: recorded on the first day, read with bar and dial after each wafer."""

from __future__ import annotations

import numpy as np

from lapwright.app import plates
from lapwright.app.plates import CheckRequest
from lapwright.model.plates import Plate
from lapwright.sim import cast
from lapwright.sim.plates import straightedge
from lapwright.sim.scenario.day import Day
from lapwright.sim.shop import stream

WHO = cast.TECHNICIAN.name
#: Places along the bar [mm].
PLACES = (-145.0, -110.0, -75.0, -45.0, 45.0, 75.0, 110.0, 145.0)
_RADIUS = 0.15
MAP_CIRCLES = (50.0, 95.0, 140.0)  # mm
#: Where each ring stands [m]: that of L1 is some 6 mm too far out.
RINGS = {"L1": 0.1055, "L2": 0.0995}
NAMES = {"L1": "cast iron, 300 mm", "L2": "glass, 300 mm"}


def record_plates(day: Day) -> None:
    """Both plates with their rings, each read for the first time."""
    for station, offset in RINGS.items():
        plate = Plate(
            plate_id=f"{station}-plate",
            name=NAMES[station],
            station_id=station,
            inner_radius=0.04,
            outer_radius=_RADIUS,
            ring_outer_radius=0.065,
            least_offset=0.085,
            most_offset=0.112,
            offset=offset,
            dome_limit=15e-6 if station == "L1" else 8e-6,
            check_every=4.0 * 3600.0,
            reading_uncertainty=0.5e-6,
        )
        plates.register_plate(plate, by=WHO, reason="its ring was set", at=day.wait(minutes=2.0))
        read_plate(day, station)
    map_plate(day, "L2")


def map_plate(day: Day, station: str) -> None:
    """Heights read on three circles about the axis, as after facing; the dial is set to zero at the first."""
    rng = stream(day.shop.seed, "plate map", station)
    dome = day.shop.stations[station].plate_dome
    rows, across = [], []
    for radius in MAP_CIRCLES:
        for turn in np.arange(0.0, 2.0 * np.pi, np.pi / 4.0):
            height = dome * (1.0 - (radius / 1e3 / _RADIUS) ** 2) + 0.4e-6 * float(rng.standard_normal())
            rows.append((radius * float(np.cos(turn)), 0, f"{height * 1e6:.1f}"))
            across.append(radius * float(np.sin(turn)))
    request = CheckRequest(method="map", rows=tuple(rows), across=tuple(across))
    plates.record_check(f"{station}-plate", request, by=WHO, reason="read all over it", at=day.wait(minutes=15.0))


def read_plate(day: Day, station: str) -> None:
    """The bar laid across a plate twice, the second time turned; what troubles it is kept."""
    rng = stream(day.shop.seed, "plate", station, day.count("plate", station))
    dome = day.shop.stations[station].plate_dome
    places = np.array(PLACES) / 1e3
    rows = []
    for laying in range(2):
        heights = straightedge(dome, places, outer=_RADIUS, rng=rng) * 1e6
        heights -= heights[0]  # the dial is set to zero at the first place
        rows += [(place, laying, f"{height:.1f}") for place, height in zip(PLACES, heights, strict=True)]
    request = CheckRequest(method="straightedge", rows=tuple(rows))
    found = plates.record_check(
        f"{station}-plate", request, by=WHO, reason="read with bar and dial", at=day.wait(minutes=8.0)
    )
    if found.trend is not None and found.trend.is_moving and found.advice is not None and found.advice.kind != "leave":
        day.catch("plate going domed", station, " ".join(found.advice.sentences))
