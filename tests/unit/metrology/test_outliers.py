"""Suspect sites: found when they should be, and hardly ever otherwise."""

import numpy as np
import pytest

from lapwright.metrology.outliers import repeat_outliers, surface_outliers
from lapwright.metrology.site_patterns import five_sites, nine_sites
from lapwright.metrology.thickness import thickness_statistics
from lapwright.model.readings import ThicknessSet
from lapwright.model.wafer import Round

DISC = Round(diameter=0.0508)
NINE = nine_sites(DISC, edge_exclusion=0.002)


def simulated(generator, sigma, *, dusty=None, wafers=250):
    """Results of invented wafers, 0 to 8 µm of wedge and up to 1 µm of dome, three repeats at nine sites."""
    for _ in range(wafers):
        azimuth = generator.uniform(0, 2 * np.pi)
        wedge, dome = generator.uniform(0, 8e-6), generator.uniform(-1e-6, 1e-6)
        thickness = 5e-4 + wedge * (NINE.x * np.cos(azimuth) + NINE.y * np.sin(azimuth)) / 0.0508
        thickness = thickness + dome * (1 - (NINE.x**2 + NINE.y**2) / 0.0254**2)
        site = generator.integers(9)
        if dusty is not None:
            thickness[site] += dusty
        readings = thickness[:, None] + generator.normal(0.0, sigma, (9, 3))
        taken = ThicknessSet(
            piece="w",
            labels=NINE.labels,
            x=NINE.x,
            y=NINE.y,
            site=np.repeat(np.arange(9), 3),
            thickness=readings.ravel(),
        )
        yield NINE.labels[site], [one.label for one in thickness_statistics(taken, outline=DISC).outliers]


@pytest.mark.parametrize("sigma", [0.35e-6, 0.5e-6])
def test_dust_of_five_micrometres_is_found(sigma):
    """At any one of nine sites, the centre included: more than 95 %, seeded."""
    found = [site in named for site, named in simulated(np.random.default_rng(31), sigma, dusty=5e-6)]
    assert np.mean(found) > 0.95


@pytest.mark.parametrize("sigma", [0.35e-6, 0.5e-6])
def test_false_alarms_are_rare(sigma):
    """On wafers without dust: fewer than 2 %, seeded."""
    alarms = [bool(named) for _, named in simulated(np.random.default_rng(32), sigma, wafers=600)]
    assert np.mean(alarms) < 0.02


def test_a_dome_is_no_outlier():
    """2.5 µm of dome under nine sites with one ring: less than the largest dome, so form."""
    thickness = 5e-4 + 2.5e-6 * (1 - (NINE.x**2 + NINE.y**2) / 0.0254**2)
    assert (
        surface_outliers(
            NINE.labels, NINE.x, NINE.y, thickness, noise=np.full(9, 2e-7), degrees_of_freedom=18.0, reach=0.0254
        )
        == ()
    )


def test_dust_at_the_centre_of_a_single_ring_is_told_as_either():
    """5 µm at the centre: named, and the sentence says that a dome looks the same."""
    thickness = np.full(9, 5e-4)
    thickness[0] += 5e-6
    (found,) = surface_outliers(
        NINE.labels, NINE.x, NINE.y, thickness, noise=np.full(9, 2e-7), degrees_of_freedom=18.0, reach=0.0254
    )
    assert found.label == "C"
    assert "a dome looks the same" in found.reason


def test_unknown_noise_leaves_the_scatter_about_the_surface():
    """Single readings: 20 µm against the others' 0.1 µm is still seen."""
    thickness = 5e-4 + 1e-7 * np.array([0, 1, -1, 0, 1, 0, -1, 1, -1])
    thickness[5] -= 20e-6
    found = surface_outliers(
        NINE.labels, NINE.x, NINE.y, thickness, noise=None, degrees_of_freedom=np.inf, reach=0.0254
    )
    assert [one.label for one in found] == ["A5"]
    assert found[0].deviation < 0.0


def test_five_sites_cannot_accuse_one():
    """One degree of freedom is left; leaving one out leaves none."""
    five = five_sites(DISC)
    thickness = np.array([5e-4, 5e-4, 5.2e-4, 5e-4, 5e-4])
    found = surface_outliers(
        five.labels, five.x, five.y, thickness, noise=np.full(5, 1e-7), degrees_of_freedom=10.0, reach=0.0254
    )
    assert {"A1", "A2", "A3", "A4"}.isdisjoint({one.label for one in found if one.deviation == 0.0})


def test_disagreeing_repeats_are_named():
    """One site with repeats 5 µm apart among sites with 0.3 µm."""
    variances = np.full(9, 0.09e-12)
    variances[2] = 8e-12
    (found,) = repeat_outliers(NINE.labels, repeats=np.full(9, 3), variances=variances)
    assert ("A2", pytest.approx(8e-12**0.5)) == (found.label, found.deviation)


def test_single_readings_have_no_repeats_to_compare():
    """NaN variances: nothing to say."""
    assert repeat_outliers(NINE.labels, repeats=np.ones(9, dtype=int), variances=np.full(9, np.nan)) == ()


def test_repeats_that_agree_exactly_accuse_nobody():
    """All variances nought."""
    assert repeat_outliers(NINE.labels, repeats=np.full(9, 2), variances=np.zeros(9)) == ()
