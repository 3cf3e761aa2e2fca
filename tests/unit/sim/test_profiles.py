"""Traced profiles: as rough and as noisy as asked, and the same for the same seed."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.sim.profiles import Finish, traced_profile

BARE = Finish(roughness=1e-9, waviness=0.0, slope=0.0)


def traced(finish, *, seed=1, points=60000):
    """A long trace."""
    return traced_profile(np.random.default_rng(seed), finish, points=points, spacing=0.5e-6)


def test_the_trace_is_as_rough_as_asked():
    """Over 30 mm the root mean square is 1 nm within 2 %."""
    assert traced(BARE).std() == pytest.approx(1e-9, rel=0.02)


def test_noise_adds_in_squares():
    """1 nm of roughness and 1 nm of noise are √2 nm."""
    noisy = Finish(roughness=1e-9, waviness=0.0, slope=0.0, noise=1e-9)
    assert traced(noisy).std() == pytest.approx(2**0.5 * 1e-9, rel=0.02)


def test_slope_and_wave_stand_under_the_roughness():
    """A face without roughness is its slope and its wave: 1 µm over 1 mm, 3 nm either way."""
    still = traced(Finish(roughness=0.0, slope=1e-3), points=2001)
    left = still - 1e-3 * 0.5e-6 * np.arange(2001)
    assert np.ptp(left) == pytest.approx(6e-9, rel=0.01)


def test_heights_forget_each_other_within_the_correlation_length():
    """The correlation is 1/e at the length asked; at three lengths it is gone."""
    z = traced(BARE)
    there = [float(np.mean(z[:-lag] * z[lag:]) / np.mean(z * z)) for lag in (8, 24)]
    assert there[0] == pytest.approx(0.368, abs=0.04)
    assert abs(there[1]) < 0.05


def test_the_same_seed_traces_the_same_face():
    """Bit for bit."""
    assert (traced(BARE, points=100) == traced(BARE, points=100)).all()


def test_a_trace_of_one_point_is_refused():
    """Two at least."""
    with pytest.raises(OutOfValidRange):
        traced(BARE, points=1)
