"""Thickness of simple shapes on a disc: exact closed forms, and StRD accuracy traps for mean and deviation."""

import math

import numpy as np
import pytest

from lapwright.metrology.site_patterns import polar_rings
from lapwright.metrology.thickness import thickness_statistics
from lapwright.model.readings import ThicknessSet
from lapwright.model.wafer import Round

RADIUS = 0.05
DISC = Round(diameter=2 * RADIUS)
#: Sites up to the very rim, so that a range over the sites is the range over the disc.
RIM = polar_rings(DISC, rings=4, per_ring=16)


def statistics(thickness, *, site=None):
    """Statistics of a thickness given at the sites (or of readings at them)."""
    scale = RADIUS / np.hypot(RIM.x, RIM.y).max()
    taken = ThicknessSet(
        piece="w",
        labels=RIM.labels,
        x=RIM.x * scale,
        y=RIM.y * scale,
        site=np.arange(len(RIM.x)) if site is None else site,
        thickness=thickness,
    )
    return thickness_statistics(taken, outline=DISC)


def at_sites():
    """Places with the outermost ring exactly on the rim."""
    scale = RADIUS / np.hypot(RIM.x, RIM.y).max()
    return RIM.x * scale, RIM.y * scale


def test_one_arc_second_over_100_mm():
    """A wedge of 1 arc second over 100 mm: 0.4848137 µm, TTV = 2 R g."""
    x, _ = at_sites()
    gradient = math.radians(1 / 3600)
    result = statistics(5e-4 + gradient * x)
    assert pytest.approx(0.4848137e-6, abs=5e-14) == result.ttv
    assert pytest.approx(0.4848137e-6, abs=5e-14) == result.wedge.amount
    assert pytest.approx(gradient, rel=1e-9) == result.wedge_angle


def test_bowl():
    """T = t0 + c r2: TTV c R2, no wedge, dome -c R2, nothing left."""
    x, y = at_sites()
    bowl = 4e-4 * (x**2 + y**2)  # TTV 1 µm at R = 50 mm
    result = statistics(5e-4 + bowl)
    assert pytest.approx(1e-6, rel=1e-9) == result.ttv
    assert pytest.approx(-1e-6, rel=1e-9) == result.dome
    assert pytest.approx(0.0, abs=1e-15) == result.wedge.amount
    assert pytest.approx(0.0, abs=1e-15) == result.residual_rms


def test_saddle():
    """C (x2 - y2): TTV 2 c R2; no wedge, no dome; rises by c R2 at the rim along x."""
    x, y = at_sites()
    result = statistics(5e-4 + 4e-4 * (x**2 - y**2))
    assert pytest.approx(2e-6, rel=1e-9) == result.ttv
    assert pytest.approx(0.0, abs=1e-15) == result.dome
    assert pytest.approx((1e-6, 0.0), abs=1e-12) == (result.saddle.amount, result.saddle.azimuth % math.pi)


@pytest.mark.parametrize(
    ("values", "mean", "deviation", "tolerance"),
    [
        ([10_000_001.0, 10_000_003.0, 10_000_002.0], 10_000_002.0, 1.0, 1e-12),  # StRD NumAcc1, certified
        ([10_000_000.2] + [10_000_000.1, 10_000_000.3] * 500, 10_000_000.2, 0.1, 1e-8),  # StRD NumAcc4, certified
    ],
    ids=["numacc1", "numacc4"],
)
def test_a_large_common_thickness_costs_no_digits(values, mean, deviation, tolerance):
    """Mean and standard deviation of repeats at one site against certified values (NIST StRD, univariate)."""
    count = len(values)
    readings = np.concatenate((values, np.full(len(RIM.x) - 1, 1e7)))
    site = np.concatenate((np.zeros(count, dtype=int), np.arange(1, len(RIM.x))))
    result = statistics(readings, site=site)
    assert mean == pytest.approx(result.centre, rel=1e-15)
    assert deviation == pytest.approx(result.repeat_deviation, rel=tolerance)
