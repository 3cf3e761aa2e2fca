"""What becomes of the wedge that a bond predicts."""

import cmath
import math

import numpy as np
import pytest
from scipy import stats

from lapwright.errors import TooFewSites
from lapwright.model.wafer import Wedge
from lapwright.process.wedge_transfer import wedge_transfer

BONDS = np.array([2.0 + 1.0j, -1.0 + 2.0j, 0.5 - 2.5j, -2.0 - 0.5j, 1.0 + 0.2j, 3.0 - 1.0j, -0.4 + 0.9j])
NOISE = 0.1 * np.array([1 - 0.5j, -0.7 + 1j, 0.3 - 0.9j, -1 + 0.2j, 0.6 + 0.8j, -0.4 - 0.6j, 0.2 + 0.1j])


def wedges(vectors):
    """Vectors in µm as wedges."""
    return [Wedge(amount=abs(one) * 1e-6, azimuth=cmath.phase(one)) for one in vectors]


def test_a_planted_share_and_tilt_are_found():
    """A fifth stays and the jig adds 1.5 µm at 60 degrees."""
    tilt = cmath.rect(1.5, math.pi / 3)
    found = wedge_transfer(wedges(BONDS), wedges(0.2 * BONDS + tilt + NOISE))
    assert found.share == pytest.approx(0.2, abs=3 * found.share_uncertainty)
    assert found.tilt.amount == pytest.approx(1.5e-6, abs=0.15e-6)
    assert math.degrees(found.tilt.azimuth) == pytest.approx(60.0, abs=5.0)
    assert found.is_tilted
    assert "thick at" in found.sentence


def test_share_and_uncertainty_are_those_of_a_regression():
    """Scipy's line through both components when their means are none: slope and standard error (2n - 2 against 2n - 3)."""
    centred, noise = BONDS - BONDS.mean(), NOISE - NOISE.mean()
    found = wedge_transfer(wedges(centred), wedges(0.4 * centred + noise))
    both = 0.4 * centred + noise
    line = stats.linregress(np.r_[centred.real, centred.imag], np.r_[both.real, both.imag])
    assert found.share == pytest.approx(line.slope, rel=1e-9)
    assert found.share_uncertainty == pytest.approx(line.stderr * math.sqrt(12 / 11), rel=1e-9)


def test_a_jig_that_adds_nothing_is_left_alone():
    """Noise of 0.1 µm and no tilt: no correction."""
    found = wedge_transfer(wedges(BONDS), wedges(0.3 * BONDS + NOISE - NOISE.mean()))
    assert not found.is_tilted
    assert "change nothing" in found.sentence


def test_turning_everything_turns_the_tilt_alone():
    """Symmetry: 40 degrees on all wedges turn the tilt by 40 degrees and leave share and scatter."""
    turn = cmath.rect(1.0, math.radians(40.0))
    one = wedge_transfer(wedges(BONDS), wedges(0.2 * BONDS + 1j + NOISE))
    other = wedge_transfer(wedges(turn * BONDS), wedges(turn * (0.2 * BONDS + 1j + NOISE)))
    assert other.share == pytest.approx(one.share)
    assert other.scatter == pytest.approx(one.scatter)
    assert math.degrees(other.tilt.azimuth - one.tilt.azimuth) == pytest.approx(40.0)


def test_three_wafers_are_too_few():
    """And so are wafers whose bonds all predict the same."""
    with pytest.raises(TooFewSites):
        wedge_transfer(wedges(BONDS[:3]), wedges(BONDS[:3]))
    with pytest.raises(TooFewSites):
        wedge_transfer(wedges([1 + 1j] * 5), wedges(BONDS[:5]))
