"""A finish that the plates at hand do not reach: what is said of it, and which plate would reach it.

That stock polish is done on a hard pad and the last polish on a soft one: common practice, no source.
"""

import pytest

from lapwright.errors import ImpossibleOrder
from lapwright.library import load
from lapwright.model.order import Limit, Order
from lapwright.model.wafer import Round
from lapwright.process.feasibility import feasibility
from lapwright.process.planning import Setting, fitting_chains
from lapwright.process.route_making import Question
from lapwright.process.workplaces import ASSUMED_GAUGE, FURTHER_WORKPLACES, USUAL_ASSUMPTIONS, USUAL_WORKPLACES

LAPS = tuple(place for place in USUAL_WORKPLACES if place.process == "lap")
SOFT_PAD = next(place for place in FURTHER_WORKPLACES if place.plate == "pad-poromeric")


def order(ra_nm):
    """Three wafers of silicon, thinned from 500 to 100 µm."""
    return Order(
        order_id="A-1", customer="Kestrel Optics", material="Si", outline=Round(diameter=0.025), quantity=3,
        start_thickness=500e-6, target_thickness=100e-6, edge_exclusion=1.5e-3, hold="free",
        limits=(Limit(quantity="ttv", upper=2e-6), Limit(quantity="roughness_ra", upper=ra_nm * 1e-9)),
    )  # fmt: skip


def test_a_room_without_a_pad_is_told_which_one_would_reach_the_roughness():
    """Laps alone leave silicon at tenths of a micrometre; a pad on a station would do."""
    found = feasibility(order(2), load(), workplaces=LAPS)
    check = next(one for one in found.checks if one.limit == "roughness_ra")
    assert check.answer == "cannot"
    assert check.remedy.endswith("A station with this would reach it: hard polyurethane pad.")


def test_no_plate_is_named_where_none_would_reach_it():
    """A hundredth of a nanometre is below what any polish leaves."""
    found = feasibility(order(0.01), load(), workplaces=LAPS)
    check = next(one for one in found.checks if one.limit == "roughness_ra")
    assert check.remedy == "The lowest that can be promised is Ra 100.00 nm."


def test_a_room_with_a_soft_pad_alone_polishes_on_it():
    """The last polish is done on a soft pad."""
    found = feasibility(order(2), load(), workplaces=(*LAPS, SOFT_PAD))
    assert next(one for one in found.checks if one.limit == "roughness_ra").answer == "can"


def test_a_route_that_is_not_there_says_the_same():
    """The refusal of the search names the pad too."""
    setting = Setting(order=order(2), library=load(), gauge=ASSUMED_GAUGE, assumptions=USUAL_ASSUMPTIONS)
    with pytest.raises(ImpossibleOrder, match="would reach it: hard polyurethane pad"):
        fitting_chains(setting, Question(workplaces=LAPS), None)
