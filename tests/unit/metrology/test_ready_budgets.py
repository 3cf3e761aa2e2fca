"""Ready-made budgets, by hand and against a library."""

import math

import numpy as np
import pytest
from GTC import dof as gtc_dof
from GTC import uncertainty as gtc_uncertainty
from GTC import ureal

from lapwright.errors import BadInput, OutOfValidRange
from lapwright.metrology import ready_budgets as ready
from lapwright.metrology.uncertainty import combined_uncertainty
from lapwright.model.readings import Gauge

GAUGE = Gauge(gauge_id="g", name="post gauge", limit=1e-6, resolution=0.1e-6, local=0.3e-6, repeatability=0.4e-6)
OTHER = Gauge(gauge_id="h", name="other", limit=2e-6, repeatability=0.4e-6)


def _effects(budget):
    return {line.name: abs(line.effect) for line in budget.contributions}


def test_a_thickness_agrees_with_a_library():
    """Calibration, local error, four repeats with nine degrees, resolution, temperature, lift, sinking."""
    budget = ready.thickness_budget(
        GAUGE, repeats=4, degrees_of_freedom=9.0, expansion=2e-7, temperature_reach=1.5, bow_lift=0.5e-6, sinking=0.1e-6
    )
    rest = [1e-6, 0.3e-6, 0.05e-6, 2e-7 * 1.5, 0.5e-6, 0.1e-6]
    theirs = sum((ureal(0.0, half / math.sqrt(3)) for half in rest), ureal(0.0, 0.4e-6 / 2, 9))
    found = combined_uncertainty(budget, value=0.0)
    assert gtc_uncertainty(theirs) == pytest.approx(found.standard_uncertainty, rel=1e-12)
    assert gtc_dof(theirs) == pytest.approx(found.degrees_of_freedom, rel=1e-9)


def test_one_gauge_for_a_bond_line_enters_once():
    """Stack less wafer less carrier: its limit counts once, not three times; two gauges count apart."""
    one = _effects(ready.bond_line_budget((GAUGE, GAUGE, GAUGE)))
    two = _effects(ready.bond_line_budget((OTHER, GAUGE, GAUGE)))
    assert 1e-6 / math.sqrt(3) == pytest.approx(one["accuracy limit of post gauge"])
    assert 2e-6 / math.sqrt(3) == pytest.approx(two["accuracy limit of post gauge"])
    assert 2e-6 / math.sqrt(3) == pytest.approx(two["accuracy limit of other"])


def test_a_common_limit_drops_out_of_ttv_and_removal():
    """Only what differs from site to site, or from gauge to gauge, is left."""
    assert not any("limit" in name for name in _effects(ready.ttv_budget(GAUGE)))
    same, apart = (_effects(ready.removal_budget(GAUGE, after, removal=4e-4, scale=1e-3)) for after in (GAUGE, OTHER))
    assert not any("limit" in name for name in same)
    assert 4e-7 / math.sqrt(3) == pytest.approx(same["scale of the gauge"])
    assert any("limit" in name for name in apart)


def test_a_wedge_by_simulation():
    """Noise of single readings through a plane: the spread of the fitted slope along x, 2 %."""
    ring = np.arange(8) * np.pi / 4
    x, y = np.append(0.0, 0.04 * np.cos(ring)), np.append(0.0, 0.04 * np.sin(ring))
    plain = Gauge(gauge_id="g", name="g", limit=0.0, repeatability=1e-6)
    noise = np.random.default_rng(3).normal(0.0, 1e-6, (9, 20_000))
    slopes = np.linalg.lstsq(np.column_stack((np.ones(9), x, y)), noise, rcond=None)[0][1]
    (line,) = ready.wedge_budget(plain, x=x, y=y, diameter=0.1).contributions
    assert 0.1 * slopes.std() == pytest.approx(line.effect, rel=0.02)
    with pytest.raises(OutOfValidRange, match="off the line"):
        ready.wedge_budget(plain, x=x, y=x, diameter=0.1)


def test_grazing_incidence_makes_the_angle_matter():
    """At 80 degrees a tenth of a degree is 1 % of the height."""
    budget = ready.flatness_budget(
        fringe_height=1.8e-6,
        fringes=1.0,
        fringe_noise=0.0,
        incidence=math.radians(80.0),
        incidence_reach=math.radians(0.1),
    )
    assert 0.0099 * 1.8e-6 / math.sqrt(3) == pytest.approx(_effects(budget)["angle of incidence"], rel=1e-3)


def test_roughness_lines_and_noise():
    """Scatter over the root of the lines; noise as large as the roughness leaves nothing sure."""
    effects = _effects(ready.roughness_budget([1e-9, 1.1e-9, 0.9e-9, 1.0e-9], noise=2e-9))
    assert pytest.approx(effects["from line to line"], rel=1e-3) == 0.0408e-9
    assert 1e-9 / math.sqrt(3) == pytest.approx(effects["noise of the instrument"])


def test_what_is_not_known_is_not_nought():
    """A gauge without a known repeatability has no budget."""
    blind = Gauge(gauge_id="g", name="g", limit=1e-6)
    for call in (ready.thickness_budget, ready.ttv_budget):
        with pytest.raises(BadInput, match="not known"):
            call(blind)


@pytest.mark.parametrize(
    "call",
    [
        lambda: ready.thickness_budget(GAUGE, repeats=0),
        lambda: ready.thickness_budget(GAUGE, bow_lift=-1e-6),
        lambda: ready.roughness_budget([1e-9]),
        lambda: ready.probe_sinking(force=-1.0, tip_radius=1e-3, contact_modulus=1e11),
        lambda: ready.probe_sinking(force=1.0, tip_radius=0.0, contact_modulus=1e11),
    ],
)
def test_wrong_questions(call):
    """Refused, not clipped."""
    with pytest.raises(OutOfValidRange):
        call()
