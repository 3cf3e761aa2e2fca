"""Keep or re-bond."""

import math

import numpy as np
import pytest

from lapwright.errors import BadInput, CannotAnswer, OutOfValidRange
from lapwright.metrology.bond_line import BondUncertainties, MapUncertainty, bond_line
from lapwright.metrology.bond_verdict import bond_verdict, chance_of_scrap
from lapwright.metrology.site_patterns import nine_sites
from lapwright.model.wafer import Round, ThicknessMap

DIAMETER = 0.0508
NINE = nine_sites(Round(diameter=DIAMETER))


def bonded(wedge, *, mean=5e-6, site=0.2e-6):
    """A bond of that mean and wedge."""
    known = MapUncertainty(site=site, degrees_of_freedom=18.0, common=0.6e-6, gauge="G1")
    maps = (np.full(9, 5e-4), np.full(9, 1e-3), 1.5e-3 + mean + wedge * NINE.x / DIAMETER)
    return bond_line(
        *(ThicknessMap(x=NINE.x, y=NINE.y, thickness=values, labels=NINE.labels) for values in maps),
        diameter=DIAMETER,
        uncertainties=None if site is None else BondUncertainties(wafer=known, carrier=known, stack=known),
    )


def test_decision_flips_exactly_at_break_even():
    """The wafer's value at which (chance x value) equals the cost of a re-bond: keep there, re-bond just above."""
    bond = bonded(2e-6)
    value = 50.0 / chance_of_scrap(bond, ttv_limit=2e-6)
    for factor, advice in ((0.999, "keep"), (1.001, "rebond")):
        verdict = bond_verdict(bond, ttv_limit=2e-6, rebond_cost=50.0, wafer_value=factor * value)
        assert advice == verdict.advice


def test_a_fresh_bond_may_fail_too():
    """With the same chance afterwards there is nothing to gain, whatever the wafer is worth."""
    bond = bonded(6e-6)
    chance = chance_of_scrap(bond, ttv_limit=2e-6)
    verdict = bond_verdict(bond, ttv_limit=2e-6, rebond_cost=0.0, wafer_value=1e9, chance_after_rebond=chance)
    assert verdict.advice == "keep"


def test_chance_is_a_half_when_the_prediction_is_at_the_limit():
    """Corrected TTV equal to the limit."""
    bond = bonded(6e-6)
    limit = bond.predicted_ttv - bond.predicted_ttv_noise_bias
    assert pytest.approx(0.5) == chance_of_scrap(bond, ttv_limit=limit)


def test_chance_is_certain_without_doubt():
    """No uncertainty: above is scrap, at or below is not."""
    bond = bonded(6e-6, site=0.0)
    assert (chance_of_scrap(bond, ttv_limit=2e-6), chance_of_scrap(bond, ttv_limit=9e-6)) == (1.0, 0.0)


def test_reason_names_chance_and_costs():
    """What the reader needs to disagree with it."""
    verdict = bond_verdict(bonded(6e-6), ttv_limit=2e-6, rebond_cost=40.0, wafer_value=600.0)
    assert verdict.advice == "rebond"
    assert "100 % chance of scrap" in verdict.reason
    assert "saves 600.00 on average and costs 40.00" in verdict.reason


@pytest.mark.parametrize(
    ("bond", "words"),
    [
        (bonded(4e-6), "predicted to end with a TTV"),
        (bonded(0.0, mean=14e-6), "14.00 µm thick on average"),
        (bonded(0.0, mean=1e-6), "1.00 µm thick on average"),
        (bonded(1e-6, site=0.05e-6), "more than a third of the TTV limit"),
    ],
)
def test_rule_of_thumb_says_what_is_against_it(bond, words):
    """Without costs: TTV limit, 2 to 10 µm of bond, wedge at most a third of the limit (common practice, no source)."""
    verdict = bond_verdict(bond, ttv_limit=2e-6)
    assert verdict.advice == "rebond"
    assert words in verdict.reason


def test_rule_of_thumb_keeps_a_good_bond():
    """5 µm, 0.3 µm of wedge, 2 µm of limit."""
    verdict = bond_verdict(bonded(0.3e-6), ttv_limit=2e-6)
    assert verdict.advice == "keep"
    assert verdict.reason.startswith("Keep: predicted TTV")


def test_costs_without_uncertainty_cannot_be_weighed():
    """Unknown is not nought."""
    with pytest.raises(CannotAnswer, match="uncertainties of the three maps"):
        bond_verdict(bonded(1e-6, site=None), ttv_limit=2e-6, rebond_cost=1.0, wafer_value=2.0)


def test_faulty_costs_are_all_named():
    """A negative cost and a chance above one; one cost alone."""
    with pytest.raises(BadInput) as caught:
        bond_verdict(bonded(1e-6), ttv_limit=2e-6, rebond_cost=-1.0, wafer_value=2.0, chance_after_rebond=1.5)
    assert [fault.field for fault in caught.value.faults] == ["rebond_cost", "chance_after_rebond"]
    with pytest.raises(BadInput, match="wafer_value"):
        bond_verdict(bonded(1e-6), ttv_limit=2e-6, rebond_cost=1.0)


@pytest.mark.parametrize("ttv_limit", [0.0, -1e-6, math.nan])
def test_a_limit_is_above_nought(ttv_limit):
    """Both ways in refuse."""
    with pytest.raises(OutOfValidRange):
        bond_verdict(bonded(1e-6), ttv_limit=ttv_limit)
    with pytest.raises(OutOfValidRange):
        chance_of_scrap(bonded(1e-6), ttv_limit=ttv_limit)


def test_a_wedge_within_its_own_doubt_is_no_reason():
    """0.8 µm is above a third of 2 µm, but not for certain when each site is only known to 0.5 µm."""
    sure, doubtful = bonded(0.8e-6, site=0.02e-6), bonded(0.8e-6, site=0.5e-6)

    assert bond_verdict(sure, ttv_limit=2e-6).advice == "rebond"
    assert bond_verdict(doubtful, ttv_limit=2e-6).advice == "keep"
