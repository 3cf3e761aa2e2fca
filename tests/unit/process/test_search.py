"""The closed forms of the search against jobs drawn one by one, and what a search keeps."""

import math

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.library import load
from lapwright.model.order import Limit, Order
from lapwright.model.readings import Gauge
from lapwright.model.wafer import Round
from lapwright.process.planning import search_routes
from lapwright.process.route_making import Question
from lapwright.process.search import Goal

LIBRARY = load()


def order(material, *limits, start=500e-6, target=100e-6):
    """An order of this material."""
    return Order(
        order_id="A", customer="B", material=material, outline=Round(diameter=0.0508), quantity=1, start_ttv=5e-6,
        start_thickness=start, target_thickness=target, limits=limits, edge_exclusion=2e-3, hold="free",
    )  # fmt: skip


THICKNESS = Limit(quantity="thickness", lower=98e-6, upper=102e-6)
TTV = Limit(quantity="ttv", upper=2e-6)
RA = Limit(quantity="roughness_ra", upper=1.2e-9)


@pytest.mark.parametrize("material", ["LiTaO3", "Si", "GaAs", "InP"])
@pytest.mark.parametrize("limits", [(THICKNESS,), (THICKNESS, TTV, RA)], ids=["thickness", "all"])
def test_what_is_screened_is_what_is_drawn(material, limits):
    """Chance to 6 points, time to the second, for every finalist: one is a product of closed forms, one is drawn."""
    question = Question(gauge=Gauge(gauge_id="G", name="g", limit=1e-6, local=0.3e-6), draws=4000)
    found = search_routes(order(material, *limits), LIBRARY, question, generator=np.random.default_rng(1))

    for route in found.routes:
        assert route.candidate.chance == pytest.approx(route.plan.chance_in_tolerance, abs=0.06)
        assert route.candidate.time == pytest.approx(route.plan.total_time, abs=1.0)
        assert route.candidate.cost == pytest.approx(route.plan.total_cost, rel=1e-6)


def test_the_time_interval_holds_the_time():
    """Low, expected, high; wider than 5 % because rates are only believed."""
    found = search_routes(
        order("LiTaO3", THICKNESS, RA), LIBRARY, Question(draws=2000), generator=np.random.default_rng(1)
    )
    for plan in found.plans:
        assert plan.time_low < plan.total_time < plan.time_high
        assert plan.time_high / plan.time_low > 1.05


@pytest.mark.parametrize("chance", [0.0, 0.49, 1.0, math.nan])
def test_an_aim_that_cannot_be_is_refused(chance):
    """From 50 % to less than 100 %."""
    with pytest.raises(OutOfValidRange):
        Goal(target_chance=chance)
