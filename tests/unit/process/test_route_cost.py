"""What a route costs, worked by hand."""

import math

import pytest

from lapwright.errors import OutOfValidRange
from lapwright.process.route_cost import Prices, cutting_cost, expected_loss, machine_hour

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
