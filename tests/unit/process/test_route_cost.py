"""What a route costs, worked by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.library import load
from lapwright.model.order import Limit, Order
from lapwright.model.wafer import Round
from lapwright.process.planning import search_routes
from lapwright.process.route_cost import Prices, cutting_cost, expected_loss, machine_hour
from lapwright.process.route_making import Question
from lapwright.process.workplaces import USUAL_WORKPLACES

PRICES = Prices(person=60.0, machine=20.0, slurry={"alumina": 0.4}, pad=60.0, pad_life=40 * 3600.0, wafer=500.0)


def test_an_hour_by_hand():
    """Lap with alumina 20.4; polish with an unpriced abrasive 20 + 60/40 = 21.5."""
    assert machine_hour(PRICES, process="lap", abrasive_kind="alumina") == pytest.approx(20.4)
    assert machine_hour(PRICES, process="polish", abrasive_kind="else") == pytest.approx(21.5)


def test_a_stage_by_hand():
    """90 min of lapping at 20.4 and 20 min of a person: 30.6 + 20 = 50.6."""
    assert cutting_cost(PRICES, hour=20.4, time=5400.0, around=1200.0) == pytest.approx(50.6)


def test_one_lost_in_ten_costs_a_tenth_of_a_wafer():
    """500 at 0.9: 50; nothing where nobody said what a wafer is worth."""
    assert expected_loss(PRICES, 0.9) == pytest.approx(50.0)
    assert expected_loss(Prices(), 0.5) == 0.0


@pytest.mark.parametrize("wrong", [{"person": -1.0}, {"machine": math.nan}, {"pad_life": 0.0}])
def test_prices_make_sense(wrong):
    """No negative price, no pad without life."""
    with pytest.raises(OutOfValidRange):
        Prices(**wrong)


def test_a_dearer_machine_is_priced_by_its_plate():
    """30 for an hour instead of 20, and the slurry on top."""
    own = replace(PRICES, plates={"glass": 30.0})
    assert machine_hour(own, process="lap", abrasive_kind="alumina", plate="glass") == pytest.approx(30.4)
    assert machine_hour(own, process="lap", abrasive_kind="alumina", plate="cast-iron") == pytest.approx(20.4)


def test_what_a_wafer_uses_up_is_added_once_to_every_route():
    """The same order at 12 more a wafer: every route costs 12 more, and stays otherwise as it was."""
    costs = [[plan.total_cost for plan in _plans(replace(PRICES, piece_price=piece))] for piece in (0.0, 12.0)]
    assert [b - a for a, b in zip(*costs, strict=True)] == pytest.approx([12.0] * len(costs[0]))


def _plans(prices):
    order = Order(
        order_id="A", customer="B", material="LiTaO3", outline=Round(diameter=0.0508), quantity=1,
        start_thickness=500e-6, target_thickness=100e-6, edge_exclusion=2e-3, hold="free",
        limits=(Limit(quantity="thickness", lower=98e-6, upper=102e-6), Limit(quantity="roughness_ra", upper=1e-9)),
    )  # fmt: skip
    places = (USUAL_WORKPLACES[1], USUAL_WORKPLACES[3])
    question = Question(prices=prices, draws=100, workplaces=places)
    return search_routes(order, load(), question, generator=np.random.default_rng(1)).plans
