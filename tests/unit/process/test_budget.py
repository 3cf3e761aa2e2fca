"""Stage budgets, planned backwards."""

import math

import pytest

from lapwright.errors import OutOfValidRange
from lapwright.process.budget import Need, least_stock, removals, stage_minimum


def test_a_silicon_route_by_hand():
    """525 to 200 um: polish 1.5 x 2.5 + 0.5 + 1 = 5.25, fine lap 1.5 x 7 + 1 + 2 = 13.5 um (derived)."""
    assert stage_minimum(2.5e-6, 0.5e-6, 0.5e-6).total * 1e6 == pytest.approx(5.25)
    assert stage_minimum(7e-6, 1e-6, 1e-6).total * 1e6 == pytest.approx(13.5)


def test_the_first_lap_takes_what_is_over():
    """With 6 and 14 um for polish and fine lap, 305 of 325 um are the coarse lap's."""
    needs = tuple(Need(damage=total * 1e-6, form=0.0, uncertainty=0.0) for total in (5, 14, 6))

    assert [part * 1e6 for part in removals(325e-6, needs)] == pytest.approx([305, 14, 6])


def test_too_little_stock_has_no_budget():
    """25 um are needed, 24.9 are there."""
    needs = tuple(Need(damage=total * 1e-6, form=0.0, uncertainty=0.0) for total in (5, 14, 6))

    assert removals(24.9e-6, needs) is None
    assert removals(least_stock(needs), needs) is not None


def test_parts_of_a_budget_add_up_to_a_nanometre():
    """Whatever the stock."""
    needs = tuple(Need(damage=total * 1e-6, form=0.3e-6, uncertainty=0.07e-6) for total in (5.1, 13.7, 6.3))
    for stock in (400.123e-6, 31.7e-6, 1.23456e-3):
        assert math.fsum(removals(stock, needs)) == pytest.approx(stock, abs=1e-9)


@pytest.mark.parametrize(
    ("given", "multiple"), [((-1e-6, 0, 0), 1.5), ((0, -1e-6, 0), 1.5), ((0, 0, -1e-6), 1.5), ((1e-6, 0, 0), 0.9)]
)
def test_negative_parts_and_small_margins_are_refused(given, multiple):
    """A margin below one would leave damage in."""
    with pytest.raises(OutOfValidRange):
        stage_minimum(*given, damage_multiple=multiple)
