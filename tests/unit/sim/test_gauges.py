"""Gauges read wrongly in the ways they are said to."""

import numpy as np
import pytest

from lapwright.sim import gauges

TRUTH = np.full(9, 5e-4)


def test_readings_scatter_about_truth_plus_offset_with_the_gauges_noise():
    """Mean and standard deviation of 90 000 readings; 4 standard errors allowed."""
    gauge = gauges.drop_gauge("G", offset=0.4e-6, noise=0.35e-6)
    shown = gauges.readings(gauge, TRUTH, rng=np.random.default_rng(1), repeats=10_000)
    assert shown.mean() == pytest.approx(5e-4 + 0.4e-6, abs=4 * 0.35e-6 / 300)
    assert shown.std() == pytest.approx(np.hypot(0.35e-6, 0.1e-6 / np.sqrt(12)), rel=0.01)


def test_a_gauge_shows_only_multiples_of_its_resolution():
    """Tenths of a micrometre and nothing between."""
    shown = gauges.readings(gauges.drop_gauge("G", offset=0.03e-6), TRUTH, rng=np.random.default_rng(2), repeats=5)
    assert shown / 0.1e-6 == pytest.approx(np.round(shown / 0.1e-6), abs=1e-6)


def test_a_warm_stand_moves_readings_and_zero_alike():
    """0.6 µm/K over 1.8 K is 1.08 µm."""
    gauge = gauges.TrueGauge(gauge_id="G", noise=0.0, resolution=1e-9, growth=0.6e-6)
    rng = np.random.default_rng(3)
    assert gauges.zero_reading(gauge, rng=rng, warmed=1.8) == pytest.approx(1.08e-6)
    assert gauges.readings(gauge, TRUTH, rng=rng, warmed=1.8) - TRUTH == pytest.approx(1.08e-6)


def test_the_error_of_a_site_is_the_same_in_every_repeat():
    """Repeats do not average it away."""
    gauge = gauges.TrueGauge(gauge_id="G", noise=0.0, resolution=1e-12, site_noise=0.1e-6, contact=False)
    shown = gauges.readings(gauge, TRUTH, rng=np.random.default_rng(4), repeats=6)
    assert np.ptp(shown, axis=0) == pytest.approx(0.0, abs=1e-12)
    assert np.std(shown[0]) > 0.03e-6
