"""Wafers, carriers and the room."""

import math

import numpy as np
import pytest

from lapwright.sim import carriers, room, wafers

KIND = wafers.WaferKind(
    diameter=50.8e-3, thickness=5e-4, thickness_spread=1e-6, wedge=3e-6, dome=1e-6, saddle=0.3e-6, unevenness=0.1e-6
)


def test_wafers_of_a_batch_scatter_about_its_thickness():
    """Mean over 400 wafers within 4 standard errors."""
    rng = np.random.default_rng(1)
    centres = [wafers.wafer("W", KIND, rng=rng).thickness.mean for _ in range(400)]
    assert np.mean(centres) == pytest.approx(5e-4, abs=4 * math.hypot(1e-6, 0.5e-6) / 20)


def test_the_same_seed_gives_the_same_wafer():
    """A generator is the only source of chance."""
    one, same, other = (wafers.wafer("W", KIND, rng=np.random.default_rng(seed)) for seed in (5, 5, 6))
    assert one == same
    assert one != other


def test_dust_lifts_readings_only_where_it_lies():
    """Full height at the grain, nothing beyond its radius."""
    spot = wafers.dust(0.01, 0.0, height=5e-6)
    assert spot.at(np.array([0.01, 0.012]), np.zeros(2)) == pytest.approx([5e-6, 0.0])


def test_a_carrier_has_the_wedge_it_is_given():
    """1.8 µm across its own diameter."""
    wedged = carriers.carrier("C", diameter=0.06, thickness=6e-3, rng=np.random.default_rng(2), wedge_amount=1.8e-6)
    assert wedged.thickness.wedge(0.06)[0] == pytest.approx(1.8e-6)


def test_a_ramp_rises_by_what_it_says_between_its_times():
    """1.8 K from 10:40 to 13:00 on top of the still room; half of it at half time."""
    still = room.Room(swing=0.0)
    sunny = room.Room(swing=0.0, ramps=(room.Ramp(start=38_400.0, end=46_800.0, rise=1.8),))
    rises = [room.temperature(sunny, time) - room.temperature(still, time) for time in (38_400.0, 42_600.0, 46_800.0)]
    assert rises == pytest.approx([0.0, 0.9, 1.8])


def test_an_opened_door_cools_the_room_and_it_recovers():
    """Falls at once by the drop, back to 1/e of it after the recovery time."""
    open_door = room.Room(swing=0.0, doors=(room.Door(time=1000.0, drop=1.0, recovery=100.0),))
    falls = [294.15 - room.temperature(open_door, time) for time in (999.0, 1000.0, 1100.0)]
    assert falls == pytest.approx([0.0, 1.0, math.exp(-1.0)])


def test_the_room_is_warmest_at_its_hour_and_coolest_half_a_day_later():
    """A daily wave between coolest and coolest + swing."""
    assert room.temperature(room.Room(), 15 * 3600.0) == pytest.approx(295.65)
    assert room.temperature(room.Room(), 3 * 3600.0) == pytest.approx(294.15)
