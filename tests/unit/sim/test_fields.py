"""Fields: sums of terms that turn, mirror and subtract exactly."""

import math

import numpy as np
import pytest

from lapwright.sim import fields

DISC = 50.8e-3
X, Y = np.random.default_rng(1).uniform(-0.025, 0.025, (2, 400))


def everything(seed: int = 3) -> fields.Field:
    """A field with every kind of term."""
    rng = np.random.default_rng(seed)
    return (
        fields.Field(mean=5e-4)
        + fields.wedge(3e-6, 0.7, diameter=DISC)
        + fields.dome(1e-6, diameter=DISC)
        + fields.saddle(0.5e-6, 0.2, diameter=DISC)
        + fields.rippled(0.1e-6, rng=rng, wavelengths=(0.01, 0.03))
        + fields.Field(spots=(fields.Spot(x=0.004, y=-0.003, height=2e-6, radius=0.003),))
        + fields.Field(rims=(fields.Rim(drop=1e-6, band=1e-3, radius=DISC / 2),))
    )


def test_a_wedge_is_its_amount_across_the_diameter_and_thickest_at_its_azimuth():
    """Closed form: t(+R at phi) - t(-R at phi) = W, and nothing across it."""
    field = fields.wedge(6e-6, math.radians(30), diameter=DISC)
    edge = DISC / 2 * np.array([math.cos(math.radians(30)), math.sin(math.radians(30))])
    thick, thin = field.at(edge[:1], edge[1:]), field.at(-edge[:1], -edge[1:])
    assert thick[0] - thin[0] == pytest.approx(6e-6, rel=1e-12)
    assert field.wedge(DISC) == pytest.approx((6e-6, math.radians(30)))


def test_a_dome_stands_high_in_the_middle_and_has_no_mean():
    """Centre minus edge is the dome; the mean of r squared over a disc is R squared / 2."""
    field = fields.dome(2e-6, diameter=DISC)
    centre, edge = field.at(np.array([0.0, DISC / 2]), np.zeros(2))
    assert centre - edge == pytest.approx(2e-6)
    assert centre + edge == pytest.approx(0.0, abs=1e-18)


def test_a_saddle_stands_high_along_its_azimuth_and_low_across_it():
    """It follows cos 2(theta - phi) at the edge."""
    field = fields.saddle(1e-6, math.radians(20), diameter=DISC)
    along, across = (DISC / 2 * np.array([math.cos(a), math.sin(a)]) for a in (math.radians(20), math.radians(110)))
    assert field.at(along[:1], along[1:])[0] == pytest.approx(1e-6)
    assert field.at(across[:1], across[1:])[0] == pytest.approx(-1e-6)


def test_ripples_have_the_rms_asked_for():
    """The sum of n waves of random phase, averaged over a wide field and many draws."""
    wide = np.random.default_rng(4).uniform(-1.0, 1.0, (2, 4000))
    draws = [
        fields.rippled(1e-7, rng=np.random.default_rng(seed), wavelengths=(0.01, 0.03)).at(*wide) for seed in range(20)
    ]
    assert np.sqrt(np.mean(np.square(draws))) == pytest.approx(1e-7, rel=0.03)


def test_a_turned_field_reads_at_turned_points_what_the_field_read_before():
    """g(R p) = f(p) for every kind of term at once."""
    field, angle = everything(), math.radians(73)
    c, s = math.cos(angle), math.sin(angle)
    turned = field.turned(angle).at(c * X - s * Y, s * X + c * Y)
    assert turned == pytest.approx(field.at(X, Y), rel=1e-12)


def test_fields_add_and_subtract_point_by_point():
    """(f + g - g)(p) = f(p)."""
    one, other = everything(3), everything(8)
    assert (one + other).at(X, Y) == pytest.approx(one.at(X, Y) + other.at(X, Y), rel=1e-12)
    assert (one + other - other).at(X, Y) == pytest.approx(one.at(X, Y), rel=1e-12)


def test_the_highest_point_of_a_wedge_is_at_its_edge():
    """Half the wedge above the mean."""
    assert fields.highest(fields.wedge(4e-6, 0.0, diameter=DISC), diameter=DISC) == pytest.approx(2e-6)
