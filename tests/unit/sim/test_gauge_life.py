"""Ageing gauges: yearly calibrations and what lies between them."""

import numpy as np
import pytest

from lapwright.sim.gauge_life import Ageing, deviation_now, yearly_calibrations

STEADY = Ageing(drift=0.6e-6, wander=0.0, adjusted_to=0.0, seen_to=0.0)


def test_a_steady_gauge_is_found_off_by_its_drift_and_left_at_nought():
    """0.6 µm a year, adjusted exactly: found at 0.6 µm each year; the last left is as given."""
    rng = np.random.default_rng(1)
    seen = yearly_calibrations(STEADY, years=3, last_left=0.2e-6, rng=rng)
    assert seen == ((0.6e-6, 0.0), (0.6e-6, 0.0), (0.6e-6, 0.2e-6))


def test_half_a_year_ago_it_was_off_by_half_the_drift_less():
    """0.25 µm now, 0.6 µm a year: −0.05 µm half a year ago."""
    assert deviation_now(STEADY, last=0.25e-6, ago=0.5) == pytest.approx(-0.05e-6)
