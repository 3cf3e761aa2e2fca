"""Shares of random draws against the chance of breakage."""

import numpy as np
import pytest

from lapwright.library import load
from lapwright.process.strength import Stressing, breakage_chance, breakage_probability, face_strength

DRAWS = 1_000_000


@pytest.mark.parametrize(
    ("stress", "weibull_modulus", "area"), [(0.8e8, 5.0, 1e-4), (1.1e8, 8.0, 5e-5), (0.5e8, 3.0, 4e-4)]
)
def test_draws_reproduce_the_probability(stress, weibull_modulus, area):
    """One strength drawn for each square centimetre's worth: the share below the stress, to 1 %."""
    strengths = 1e8 * (area / 1e-4) ** (-1.0 / weibull_modulus)
    draws = strengths * np.random.default_rng(1951).weibull(weibull_modulus, DRAWS)
    expected = np.count_nonzero(draws < stress) / DRAWS
    found = breakage_probability(stress, strength=1e8, weibull_modulus=weibull_modulus, area=area)
    assert found == pytest.approx(expected, rel=0.01)


def test_draws_of_several_things_done():
    """A wafer that must live through a push and a bend, its strength from the library's band: the share that breaks."""
    strength = face_strength(load(), material="Si", finish="lapped_coarse")
    done = [Stressing(name="push", stress=90e6, area=1e-4), Stressing(name="bend", stress=70e6, area=3e-4)]
    random = np.random.default_rng(55)
    along = random.random(DRAWS)
    sigma = strength.strength_low * (strength.strength_high / strength.strength_low) ** along
    spread = strength.weibull_modulus_low + along * (strength.weibull_modulus_high - strength.weibull_modulus_low)
    broken = np.zeros(DRAWS, dtype=bool)
    for one in done:
        link = sigma * (one.area / 1e-4) ** (-1.0 / spread) * random.exponential(size=DRAWS) ** (1.0 / spread)
        broken |= link < one.stress
    assert breakage_chance(done, strength).expected == pytest.approx(broken.mean(), rel=0.01)
