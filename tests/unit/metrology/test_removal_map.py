"""Removal maps, and the turn between them."""

import math

import numpy as np
import pytest

from lapwright.errors import BadInput, OutOfValidRange, TooFewSites
from lapwright.metrology.removal_map import removal_map
from lapwright.metrology.site_patterns import nine_sites
from lapwright.model.wafer import Frame, Round, ThicknessMap

DIAMETER = 0.0508
NINE = nine_sites(Round(diameter=DIAMETER))
NOISE = 0.2e-6
#: Standard uncertainty of a wedge component of nine sites at nine tenths of the radius.
WEDGE_NOISE = DIAMETER * NOISE / math.sqrt(float(np.sum(NINE.x**2)))


def measured(thickness, **more):
    """A map on nine sites."""
    return ThicknessMap(x=NINE.x, y=NINE.y, thickness=np.array(thickness, dtype=float), labels=NINE.labels, **more)


def tilted(thickness, wedge, azimuth):
    """A plane of that wedge over the diameter."""
    return thickness + wedge * (NINE.x * math.cos(azimuth) + NINE.y * math.sin(azimuth)) / DIAMETER


def test_removal_is_before_less_after():
    """100 µm at the centre, 3 µm more towards 4 o'clock (-30 degrees)."""
    before = measured(tilted(5e-4, 3e-6, math.radians(-30)))
    result = removal_map(before, measured(np.full(9, 4e-4)), diameter=DIAMETER, site_uncertainty=NOISE)
    assert pytest.approx(1e-4) == result.mean
    assert pytest.approx((3e-6, math.radians(-30))) == (result.wedge.amount, result.wedge.azimuth)
    assert result.suspected_turn is None  # the wedge is gone: nothing left to tell a turn by


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_a_turned_wedge_is_named(quarters):
    """Same wedge, turned: the turn comes out and the sentence says where to look."""
    before = measured(tilted(5e-4, 5e-6, 0.4))
    after = measured(tilted(4e-4, 5e-6, 0.4 + quarters * math.pi / 2))
    result = removal_map(before, after, diameter=DIAMETER, site_uncertainty=NOISE)
    assert pytest.approx(quarters * math.pi / 2) == result.suspected_turn
    assert result.warnings[0][0] == "thickness.turn_suspected"


def test_a_kept_wedge_is_no_turn():
    """Lapped parallel to itself."""
    before, after = measured(tilted(5e-4, 5e-6, 0.4)), measured(tilted(4e-4, 5e-6, 0.4))
    result = removal_map(before, after, diameter=DIAMETER, site_uncertainty=NOISE)
    assert (result.suspected_turn, result.warnings) == (0.0, ())


def test_too_small_a_wedge_tells_nothing():
    """One standard uncertainty of wedge."""
    before, after = measured(tilted(5e-4, WEDGE_NOISE, 0.4)), measured(tilted(4e-4, WEDGE_NOISE, 2.0))
    assert removal_map(before, after, diameter=DIAMETER, site_uncertainty=NOISE).suspected_turn is None


def test_wrong_turn_of_a_quarter_is_found_from_four_standard_uncertainties_on():
    """Wedge of exactly 4 u: found in more than 95 % of 2000 seeded cases; a right one called wrong in less than 5 %."""
    generator = np.random.default_rng(14)
    found, false = 0, 0
    for azimuth in generator.uniform(0, 2 * np.pi, 2000):
        before = measured(tilted(5e-4, 4 * WEDGE_NOISE, azimuth) + generator.normal(0, NOISE, 9))
        wrong = measured(tilted(4e-4, 4 * WEDGE_NOISE, azimuth + math.pi / 2) + generator.normal(0, NOISE, 9))
        right = measured(tilted(4e-4, 4 * WEDGE_NOISE, azimuth) + generator.normal(0, NOISE, 9))
        found += bool(removal_map(before, wrong, diameter=DIAMETER, site_uncertainty=NOISE).suspected_turn)
        false += bool(removal_map(before, right, diameter=DIAMETER, site_uncertainty=NOISE).suspected_turn)
    assert found > 0.95 * 2000
    assert false < 0.05 * 2000


def test_a_stated_turn_is_taken_out_first():
    """The later map notes its quarter turn in its frame: nothing is suspected."""
    before = measured(tilted(5e-4, 5e-6, 0.0))
    after = measured(tilted(4e-4, 5e-6, -math.pi / 2), frame=Frame(turn=math.pi / 2))
    assert removal_map(before, after, diameter=DIAMETER, site_uncertainty=NOISE).suspected_turn == 0.0


def test_sites_must_coincide():
    """A later site 3 mm away from any earlier one."""
    after = ThicknessMap(x=NINE.x + 3e-3, y=NINE.y, thickness=np.full(9, 4e-4), labels=NINE.labels)
    with pytest.raises(BadInput, match="Read the same sites"):
        removal_map(measured(np.full(9, 5e-4)), after, diameter=DIAMETER, site_uncertainty=NOISE)


def test_missing_sites_are_left_out():
    """NaN stays out; fewer than three are too few."""
    values = np.full(9, 4e-4)
    values[5] = np.nan
    result = removal_map(measured(np.full(9, 5e-4)), measured(values), diameter=DIAMETER, site_uncertainty=NOISE)
    assert len(result.removal.thickness) == 8
    values[2:] = np.nan
    with pytest.raises(TooFewSites):
        removal_map(measured(np.full(9, 5e-4)), measured(values), diameter=DIAMETER, site_uncertainty=NOISE)


@pytest.mark.parametrize("wrong", [{"diameter": 0.0}, {"site_uncertainty": 0.0}])
def test_diameter_and_uncertainty_are_above_nought(wrong):
    """Neither may be nought."""
    with pytest.raises(OutOfValidRange):
        removal_map(
            measured(np.full(9, 5e-4)),
            measured(np.full(9, 4e-4)),
            **({"diameter": DIAMETER, "site_uncertainty": NOISE} | wrong),
        )
