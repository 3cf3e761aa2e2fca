"""Bonds, laps and polishes: what comes off, and what form is left."""

import math
from dataclasses import replace

import numpy as np
import pytest

from lapwright.sim import bonding, carriers, lapping, polishing, wafers
from lapwright.sim.fields import Field, wedge

DISC = 50.8e-3
CENTRE = (np.zeros(1), np.zeros(1))
EVEN = lapping.Station(name="L", rate=5e-8, unevenness=0.0)
SQUARE = lapping.Jig(
    tilt=(0.0, 0.0),
    azimuths=tuple(math.radians(azimuth) for azimuth in (90, 210, 330)),
    radius=0.045,
    per_division=2e-6,
)


def stack(bond: Field | None = None, voids=()):
    """A flat wafer on a flat carrier with a bond of choice."""
    return bonding.Stack(
        wafer=wafers.TrueWafer(wafer_id="W", diameter=DISC, thickness=Field(mean=5e-4)),
        carrier=carriers.TrueCarrier(carrier_id="C", diameter=0.06, thickness=Field(mean=6e-3)),
        bond=Field(mean=5e-6) if bond is None else bond,
        voids=voids,
    )


def test_the_film_follows_the_squeeze_flow_check_values():
    """Stefan 1874 with a constant force: 1 Pa s, R 50 mm, 20 kPa, 300 s gives 17.678 µm from a very thick film."""
    force = 20e3 * math.pi * 0.05**2
    press = bonding.Press(first_film=1.0, viscosity=1.0, force=force, time=300.0)
    assert bonding.film_left(press, radius=0.05) == pytest.approx(17.678e-6, rel=1e-4)


def test_a_bond_has_the_wedge_a_grain_holds_open():
    """6.4 µm thickest at 4 o'clock is azimuth -30 degrees."""
    made = bonding.bonded(
        stack().wafer,
        stack().carrier,
        bonding.Press(),
        rng=np.random.default_rng(1),
        stuck_wedge=(6.4e-6, math.radians(-30)),
    )
    assert made.bond.wedge(DISC) == pytest.approx((6.4e-6, math.radians(-30)))


def test_a_press_that_may_tilt_heals_its_wedge_below_a_micrometre_or_two():
    """30 µm at first contact is left as about (h/h0)^4.5 of it, plus what an off-centre load leaves."""
    bonds = [
        bonding.bonded(stack().wafer, stack().carrier, bonding.Press(), rng=np.random.default_rng(seed)).bond
        for seed in range(50)
    ]
    assert max(bond.wedge(DISC)[0] for bond in bonds) < 2e-6


def test_a_void_leaves_the_hill_of_a_clamped_disc():
    """w0 = p a^4 / (64 D): a 3 mm, t 100 µm, 10 kPa, E/(1 - nu2) 240 GPa gives 0.633 µm."""
    hill = bonding.print_through(
        bonding.Void(x=0.009, y=0.0, diameter=6e-3), thickness=1e-4, pressure=10e3, stiffness=240e9
    )
    assert hill.height == pytest.approx(0.6328e-6, rel=1e-3)


def test_a_lapped_wafer_takes_minus_the_wedge_of_its_bond():
    """Stack cut parallel to the carrier's back: the wafer is thin where the bond is thick."""
    cut = lapping.lapped(
        stack(Field(mean=5e-6) + wedge(3e-6, 1.0, diameter=DISC)),
        EVEN,
        SQUARE,
        travel=50e-6,
        rate=5e-8,
        rng=np.random.default_rng(1),
    )
    amount, azimuth = cut.stack.wafer.thickness.wedge(DISC)
    assert (amount, azimuth) == pytest.approx((3e-6, 1.0 - math.pi))


def test_travel_counts_from_the_first_touch():
    """A flat stack loses the travel; one with a wedge loses half the wedge less at the centre."""
    flat = lapping.lapped(stack(), EVEN, SQUARE, travel=50e-6, rate=5e-8, rng=np.random.default_rng(1))
    wedged = stack(Field(mean=5e-6) + wedge(4e-6, 0.0, diameter=DISC))
    tilted = lapping.lapped(wedged, EVEN, SQUARE, travel=50e-6, rate=5e-8, rng=np.random.default_rng(1))
    assert flat.removed == pytest.approx(50e-6)
    assert tilted.removed == pytest.approx(48e-6)
    assert flat.time == pytest.approx(1000.0)


def test_a_domed_plate_dishes_the_wafer_by_the_square_of_the_diameters():
    """10 µm over a 300 mm plate leaves 0.287 µm of dish on 50.8 mm (sagitta relation)."""
    station = replace(EVEN, plate_dome=10e-6)
    cut = lapping.lapped(stack(), station, SQUARE, travel=50e-6, rate=5e-8, rng=np.random.default_rng(1))
    centre, edge = cut.stack.wafer.thickness.at(np.array([0.0, DISC / 2]), np.zeros(2))
    assert edge - centre == pytest.approx(0.287e-6, abs=0.5e-9)


def test_a_lap_too_short_to_reach_the_whole_face_is_refused():
    """The simulator does not know half-lapped faces and says so."""
    tilted = stack(Field(mean=5e-6) + wedge(8e-6, 0.0, diameter=DISC))
    with pytest.raises(ValueError, match="too short"):
        lapping.lapped(tilted, EVEN, SQUARE, travel=5e-6, rate=5e-8, rng=np.random.default_rng(1))


def test_an_adjuster_turned_positive_takes_more_off_on_its_side():
    """The jig correction of the printed example, 6 µm at 30 degrees on 100 mm: +2.1, -4.2, +2.1 µm, takes it out."""
    moved = lapping.adjusted(replace(SQUARE, radius=0.07), (2.1 / 2.0, -4.2 / 2.0, 2.1 / 2.0))
    amount, azimuth = Field(slope=moved.tilt).wedge(0.1)
    assert amount == pytest.approx(6e-6, rel=1e-9)
    assert math.degrees(azimuth) == pytest.approx(30 - 180)


def test_an_adjuster_that_reverses_loses_its_play():
    """Forward by two divisions and back by two leaves the play as a tilt."""
    loose = replace(SQUARE, play=0.5e-6)
    there = lapping.adjusted(loose, (2.0, 0.0, 0.0))
    back = lapping.adjusted(there, (-2.0, 0.0, 0.0))
    assert there.leaning == (1, 1, 1)
    assert back.leaning == (-1, 1, 1)
    assert Field(slope=back.tilt).wedge(1.0)[0] == pytest.approx(0.5e-6 / (1.5 * 0.045))


def test_rates_scatter_about_the_stations_law():
    """Median of 2 000 runs at twice the pressure is 2^0.9 of the station's rate."""
    rng = np.random.default_rng(2)
    runs = [lapping.run_rate(EVEN, pressure=20e3, speed=0.5, rng=rng) for _ in range(2000)]
    assert np.median(runs) == pytest.approx(5e-8 * 2**0.9, rel=0.01)


def test_a_film_under_the_foot_squeezes_out_touch_by_touch():
    """Without noise: film, film/e, film/e squared."""
    touches = lapping.zero_touches(rng=np.random.default_rng(3), film=4e-6, noise=0.0)
    assert touches == pytest.approx([4e-6, 4e-6 / math.e, 4e-6 / math.e**2])


def test_stops_come_late_by_a_little_on_average():
    """Mean of 4 000 stops."""
    rng = np.random.default_rng(4)
    assert np.mean([lapping.stop_travel(50e-6, rng=rng) for _ in range(4000)]) == pytest.approx(50.3e-6, abs=0.04e-6)


def test_a_polish_takes_an_even_skin_and_the_pad_grows_tired():
    """Rate times time at the centre; after its life a pad does 1/e."""
    pad = polishing.Pad(rate=2e-9, life=3600.0, rate_scatter=0.0)
    cut, older = polishing.polished(stack(), pad, time=3600.0, rng=np.random.default_rng(5))
    again, _ = polishing.polished(stack(), older, time=3600.0, rng=np.random.default_rng(5))
    assert cut.removed == pytest.approx(7.2e-6)
    assert again.removed == pytest.approx(7.2e-6 / math.e)
    assert cut.stack.wafer.thickness.at(*CENTRE)[0] == pytest.approx(5e-4 - 7.2e-6, abs=0.4e-6)


def test_a_void_stands_up_as_a_hill_where_a_thin_wafer_was_polished():
    """The clamped disc p a^4/(64 D) at 100 µm and 20 kPa is 1.27 µm, more than the lap at 10 kPa left there."""
    void = bonding.Void(x=0.009, y=0.0, diameter=6e-3)
    thin = stack(voids=(void,))
    thin = replace(thin, wafer=replace(thin.wafer, thickness=Field(mean=1.1e-4)))
    cut, _ = polishing.polished(
        thin, polishing.Pad(rate=2e-9, rate_scatter=0.0), time=5000.0, rng=np.random.default_rng(6)
    )
    height = sum(spot.height for spot in cut.stack.wafer.thickness.spots)
    assert height == pytest.approx(1.266e-6, rel=0.01)
