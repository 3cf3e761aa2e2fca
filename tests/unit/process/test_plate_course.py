"""Shape of a plate over its running time, and the advice where to set the ring."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.process.plate import shape_from_lapped, straightedge_shape
from lapwright.process.plate_course import DomeAt, Leg, PlateTrend, plate_trend, running_times, time_to_next_check
from lapwright.process.plate_wear import Footprint, Land
from lapwright.process.ring_advice import ring_advice
from lapwright.process.wear_learning import RingSetup, expected_rate, learned_wear, wear_trends
from lapwright.sim import plates
from lapwright.testing.plate_campaign import put_right

HOUR = 3600.0
LAND = Land(inner_radius=0.04, outer_radius=0.15)
RING = (Footprint(outer_radius=0.065),)
SIDE = np.linspace(0.045, 0.145, 6)
PLACES = np.concatenate([-SIDE[::-1], SIDE])


def setup(offset):
    """A ring that can be set from 80 to 115 mm."""
    return RingSetup(land=LAND, footprints=RING, least_offset=0.08, most_offset=0.115, offset=offset)


def checked(plate, rng, *legs, outer=0.15):
    """A check by two layings of the bar with the simulator's dial."""
    heights = np.concatenate([plates.straightedge(plate, PLACES, outer=outer, rng=rng) for _ in range(2)])
    found = straightedge_shape(
        np.tile(PLACES, 2), heights, np.repeat([0, 1], 12), plate_radius=outer, reading_uncertainty=0.4e-6
    )
    return DomeAt(dome=found.dome, dome_uncertainty=found.dome_uncertainty, legs=legs)


def steady(*domes_um, hours=2.0, offset=0.1, u=0.5e-6):
    """Checks at even running times."""
    leg = Leg(offset=offset, duration=hours * HOUR)
    return [DomeAt(dome=d * 1e-6, dome_uncertainty=u, legs=(leg,)) for d in domes_um]


def test_three_micrometres_an_hour_are_seen_within_three_checks():
    """Dial of 0.4 µm, checks two hours apart, 300 simulated plates: all but a few; a still one is left alone."""
    seen, false = 0, 0
    for seed in range(300):
        rng = np.random.default_rng(seed)
        for rate, true in ((3e-6, True), (0.0, False)):
            legs = Leg(offset=0.1, duration=2 * HOUR)
            course = [checked(rate * 2.0 * i, rng, legs) for i in range(3)]
            moving = plate_trend(course).is_moving
            seen, false = seen + (moving and true), false + (moving and not true)

    assert seen == 300
    assert false <= 8  # 1 in 370 expected: 0.8, and five deviations


def test_the_rate_is_told_with_its_uncertainty():
    """Hand: three checks of 0.5 µm over 4 h: u = 0.5/sqrt(2²+2²) per hour = 0.177."""
    found = plate_trend(steady(0.0, 6.0, 12.0))

    assert found.dome_rate * HOUR == pytest.approx(3e-6)
    assert found.dome_rate_uncertainty * HOUR == pytest.approx(0.5e-6 / np.sqrt(8.0))
    assert (found.dome, found.checks) == (pytest.approx(12e-6), 3)


def test_the_trend_begins_anew_when_the_ring_was_moved_or_the_plate_dressed():
    """What was before belongs to another place of the ring."""
    moved = [*steady(0.0, 6.0), *steady(5.0, 4.0, offset=0.09)]
    dressed = [*steady(0.0, 6.0), DomeAt(dome=0.0, dome_uncertainty=5e-7, dressed=True)]

    assert plate_trend(moved).checks == 3
    assert plate_trend(moved).dome_rate < 0.0
    assert plate_trend(dressed).dome_rate is None


def test_running_time_counts_from_the_first_check():
    """What ran before it was not seen."""
    assert list(running_times(steady(0.0, 1.0, 2.0, hours=1.5)) / HOUR) == [0.0, 1.5, 3.0]


def test_the_next_check_comes_before_the_limit():
    """6 µm now, 3 µm/h, limit 12 µm, 0.5 µm known: (12 - 6 - 1)/3 h; at once when beyond; the longest when still."""
    moving = PlateTrend(
        dome=6e-6, dome_uncertainty=0.5e-6, dome_rate=3e-6 / HOUR, dome_rate_uncertainty=1e-13, checks=3, is_moving=True
    )

    assert time_to_next_check(moving, dome_limit=12e-6, longest=12 * HOUR) / HOUR == pytest.approx(5 / 3, abs=0.02)
    assert time_to_next_check(moving, dome_limit=6e-6, longest=12 * HOUR) == 0.0
    assert time_to_next_check(moving, dome_limit=None, longest=12 * HOUR) == 12 * HOUR
    with pytest.raises(OutOfValidRange):
        time_to_next_check(moving, dome_limit=-1e-6, longest=HOUR)
    with pytest.raises(OutOfValidRange):
        plate_trend([])


def test_domed_asks_for_inward_and_dished_for_outward():
    """The rule of the trade (common practice, no source)."""
    course = steady(0.0, 6.0, 12.0, offset=0.105)
    learned = learned_wear(course, setup(0.105))

    inward = ring_advice(12e-6, 5e-7, learned, setup(0.105), dome_limit=4e-6)
    outward = ring_advice(-12e-6, 5e-7, learned, setup(0.09), dome_limit=4e-6)

    assert (inward.kind, inward.move < 0.0) == ("condition", True)
    assert (outward.kind, outward.move > 0.0) == ("condition", True)
    assert "inward" in inward.sentences[1]
    assert 600.0 <= inward.duration <= 4 * HOUR


def test_what_is_true_enough_is_left_alone_and_what_is_hopeless_dressed():
    """Below half the limit or below twice what the check can see; far beyond what four hours bring back."""
    learned = learned_wear(steady(0.0, 6.0, 12.0, offset=0.105), setup(0.105))

    assert ring_advice(1.9e-6, 1e-7, learned, setup(0.105), dome_limit=4e-6).kind == "leave"
    assert ring_advice(0.9e-6, 5e-7, learned, setup(0.105), dome_limit=0.1e-6).kind == "leave"
    assert ring_advice(300e-6, 5e-7, learned, setup(0.105), dome_limit=4e-6).kind == "dress"


def test_without_checks_little_is_known_and_said():
    """The prior speed of wear is known to a factor of three."""
    rate, doubt = expected_rate(learned_wear([], setup(0.1)), setup(0.1), 0.11)

    assert rate > 0.0
    assert doubt > 0.7 * rate


def test_a_faster_jig_does_what_moving_inward_does():
    """Where the plate grows domed, the ratio that holds it is above the present one."""
    learned = learned_wear(steady(0.0, 6.0, 12.0, offset=0.1025), setup(0.1025))

    assert ring_advice(9e-6, 5e-7, learned, setup(0.1025), dome_limit=4e-6).neutral_ratio > 1.0


def test_the_simulated_plate_comes_back():
    """A plate with a law of its own, one earlier place of the ring on record; the short form of the campaign."""
    found = [put_right(seed, moved_before=True) for seed in range(4)]

    assert sum(one.within(1e-6, 2) for one in found) >= 3
    assert all(one.within(1e-6, 3) for one in found)
    assert all(abs(one.after[0]) < 3.0 * one.stated for one in found if one.after)


@pytest.mark.parametrize("dome", [-12e-6, -5e-6, 6e-6, 14e-6])
@pytest.mark.parametrize("diameter", [0.0508, 0.0762, 0.1])
def test_a_lapped_wafer_tells_the_plate_within_a_fifth(dome, diameter):
    """A planted cap; the wafer copies 92 % of what it meets."""
    plate = plates.capped(plates.WearingPlate(inner=0.04, outer=0.15, ring=(0.065, 0.05), wear=1e-9), dome)
    sagitta = plates.lapped_sagitta(plate, offset=0.095, diameter=diameter)
    found = shape_from_lapped(sagitta, diameter, plate_radius=0.15, sagitta_uncertainty=1e-8)

    assert found.dome == pytest.approx(dome, rel=0.2)
    assert abs(found.dome - dome) < 2.0 * found.dome_uncertainty


def led(rates_per_hour, *, u=1e-7):
    """Checks of a plate that ran four hours with its ring at each place in turn; the dome went by so much an hour."""
    course, dome = [DomeAt(dome=0.0, dome_uncertainty=u)], 0.0
    for offset, rate in rates_per_hour.items():
        for _ in range(2):
            dome += 2.0 * rate * 1e-6
            course.append(DomeAt(dome=dome, dome_uncertainty=u, legs=(Leg(offset=offset, duration=2 * HOUR),)))
    return course


def test_a_plate_that_answers_faster_outward_is_seen_to_lean():
    """The same three places; only the outermost answers half as fast again in the one that leans."""
    even, leaning = {0.092: -2.0, 0.096: -1.0, 0.108: 2.2}, {0.092: -2.0, 0.096: -1.0, 0.108: 3.3}
    found = [learned_wear(led(one), setup(0.108)) for one in (even, leaning)]
    leans = [float(one.cell_chances.sum(axis=0) @ one.outward_lean) for one in found]

    assert leans[1] > leans[0] + 5.0
    assert expected_rate(found[1], setup(0.108), 0.112)[0] > 1.2 * expected_rate(found[0], setup(0.108), 0.112)[0]


def test_chances_of_all_cells_add_up_and_old_changes_are_forgotten():
    """A sum of one; what was seen more than 24 changes ago says nothing."""
    old = led({0.105: 9.0})
    new = [DomeAt(dome=0.0, dome_uncertainty=1e-7, dressed=True), *led(dict.fromkeys((0.105,), 3.0))[1:] * 12]
    both, alone = (learned_wear(course, setup(0.105)) for course in ([*old, *new], new))

    assert both.cell_chances.sum() == pytest.approx(1.0)
    assert both.dome_changes == 24
    assert expected_rate(both, setup(0.105), 0.105) == pytest.approx(expected_rate(alone, setup(0.105), 0.105))


def test_the_interval_of_a_go_is_narrower_with_a_second_place():
    """One place tells a product; two tell speed and neutral place apart."""
    one, two = led({0.105: 3.0}), led({0.094: -2.0, 0.105: 3.0})
    told = [
        ring_advice(12e-6, 1e-7, learned_wear(course, setup(0.105)), setup(0.105), dome_limit=2e-6)
        for course in (one, two)
    ]

    assert told[1].expected_uncertainty < 0.5 * told[0].expected_uncertainty


def test_a_go_into_the_unknown_asks_for_a_look_half_way():
    """One place on record and a limit of 2 µm: look early; with both places known there is no need."""
    one, two = led({0.105: 3.0}), led({0.094: -2.0, 0.105: 3.0})
    said = [
        " ".join(ring_advice(12e-6, 1e-7, learned_wear(course, setup(0.105)), setup(0.105), dome_limit=4e-6).sentences)
        for course in (one, two)
    ]

    assert "Look already after" in said[0]
    assert "Look already after" not in said[1]


def settling(haste, settling_time, *, wear=5e-6 / HOUR, u=5e-8):
    """Checks of a plate by the settling law written out: hourly, ring at one place, then at the other."""
    place, course, dome, track = setup(0.105), [DomeAt(dome=0.0, dome_uncertainty=u)], 0.0, 0.0
    for offset in (0.105,) * 6 + (0.094,) * 5:
        trend = float(wear_trends(place, 1.0, offset, np.zeros(1), np.zeros(1))[0])
        track = track if len(course) > 1 else 0.5 * trend
        settled = trend + (track - trend) * np.exp(-HOUR / settling_time)
        dome += wear * (trend * HOUR + haste * settling_time * (settled - track))
        track = settled
        course.append(DomeAt(dome=dome, dome_uncertainty=u, legs=(Leg(offset=offset, duration=HOUR),)))
    return course, track


def test_how_a_moved_ring_settles_is_learned():
    """A plate half as fast again after a move, over in 48 min: more haste is seen than in one that has none."""
    found = []
    for haste in (0.0, 0.5):
        course, track = settling(haste, 0.8 * HOUR)
        learned = learned_wear(course, setup(0.094))
        chances = learned.cell_chances.sum(axis=0)
        assert float(chances @ learned.track) == pytest.approx(track, rel=0.15)
        found.append(float(chances @ learned.haste))

    assert found[1] > found[0] + 0.15


def test_a_small_dome_of_a_fast_plate_is_put_right_in_minutes():
    """What a fast plate needs is less than ten minutes at most places; it is not dressed for that."""
    learned = learned_wear(led({0.094: -20.0, 0.105: 30.0}), setup(0.105))
    advice = ring_advice(1.5e-6, 1e-7, learned, setup(0.105), dome_limit=1e-6)

    assert advice.kind == "condition"
    assert advice.duration < 1800.0


def test_a_ring_is_left_where_it_stands_for_little():
    """After a go the next one stays in its place when another one would be hardly better."""
    learned = learned_wear(led({0.105: 3.0, 0.092: -3.0}), setup(0.092))
    advice = ring_advice(3e-6, 1e-7, learned, setup(0.092), dome_limit=1e-6)

    assert advice.move == pytest.approx(0.0, abs=3.5e-4)
    assert advice.duration / HOUR == pytest.approx(1.0, rel=0.2)
