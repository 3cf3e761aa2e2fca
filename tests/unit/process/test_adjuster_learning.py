"""What an adjuster really moves, learned from the simulator's jig."""

import math

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.process.adjuster_learning import AdjusterTrial, learned_adjusters
from lapwright.process.jig import Adjuster, JigGeometry
from lapwright.sim import lapping

DIAMETER = 0.0508
AZIMUTHS = (math.pi / 2, math.pi * 7 / 6, math.pi * 11 / 6)
GEOMETRY = JigGeometry(adjusters=tuple(Adjuster(azimuth=a, radius=0.045, travel_per_division=2e-6) for a in AZIMUTHS))
NOISE = 0.25e-6


def moves(seed, count, *, factors=(1.0, 1.0, 1.0), play=0.0):
    """Moves of the simulated jig; `factors` make a division of an adjuster larger, `play` in divisions."""
    rng = np.random.default_rng(seed)
    jig = lapping.Jig(tilt=(0.0, 0.0), azimuths=AZIMUTHS, radius=0.045, per_division=2e-6, play=play * 2e-6)
    found = []
    for _ in range(count):
        divisions = tuple(float(d) for d in rng.choice([-4.0, -3.0, -2.0, 2.0, 3.0, 4.0], size=3))
        after = lapping.adjusted(jig, tuple(d * f for d, f in zip(divisions, factors, strict=True)))
        read = [complex(*j.tilt) * DIAMETER + NOISE * complex(*rng.standard_normal(2)) for j in (jig, after)]
        found.append(AdjusterTrial(divisions=divisions, wedge_before=read[0], wedge_after=read[1]))
        jig = after
    return found


def test_a_fifth_too_much_is_found_in_five_moves():
    """The right adjuster named, its travel within 8 %, in nine of ten jigs; a good jig is left alone."""
    right = good = 0
    for seed in range(60):
        number, factor = seed % 3, (0.8, 1.2)[seed // 3 % 2]
        factors = tuple(factor if i == number else 1.0 for i in range(3))
        found = learned_adjusters(moves(seed, 5, factors=factors), GEOMETRY, DIAMETER, wedge_uncertainty=NOISE)
        right += number in found.off and abs(found.travel[number] / (2e-6 * factor) - 1.0) < 0.08
        plain = learned_adjusters(moves(500 + seed, 5), GEOMETRY, DIAMETER, wedge_uncertainty=NOISE)
        good += plain.off == ()

    assert right >= 54
    assert good >= 48  # three adjusters, each beyond two deviations once in 20


def test_play_is_told_in_divisions():
    """0.6 of a division, twelve moves."""
    found = learned_adjusters(moves(4, 12, play=0.6), GEOMETRY, DIAMETER, wedge_uncertainty=NOISE)

    assert found.play == pytest.approx(0.6, abs=max(0.25, 3 * found.play_uncertainty))
    assert "play" in found.sentences[-1]


def test_no_move_leaves_the_nominal_with_its_prior():
    """Thirty per cent."""
    found = learned_adjusters([], GEOMETRY, DIAMETER, wedge_uncertainty=NOISE)

    assert found.travel == pytest.approx(2e-6)
    assert found.travel_uncertainty == pytest.approx(0.6e-6)
    assert found.sentences == ()


def test_more_moves_tell_more():
    """The uncertainty falls."""
    few, many = (learned_adjusters(moves(9, count), GEOMETRY, DIAMETER, wedge_uncertainty=NOISE) for count in (3, 20))

    assert np.all(many.travel_uncertainty < few.travel_uncertainty)


@pytest.mark.parametrize(
    ("wrong", "error"),
    [
        (lambda: learned_adjusters([], GEOMETRY, 0.0, wedge_uncertainty=NOISE), OutOfValidRange),
        (lambda: learned_adjusters([], GEOMETRY, DIAMETER, wedge_uncertainty=0.0), OutOfValidRange),
        (lambda: learned_adjusters([AdjusterTrial(divisions=(1.0,), wedge_before=0j, wedge_after=0j)], GEOMETRY, DIAMETER,
                                   wedge_uncertainty=NOISE), ShapeMismatch),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(wrong, error):
    """No wafer, no uncertainty, a move of one adjuster of three."""
    with pytest.raises(error):
        wrong()
