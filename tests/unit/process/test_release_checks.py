"""Bow, rim and kept variation as parts of feasibility."""

from dataclasses import replace

import pytest

from lapwright.library import load
from lapwright.model.order import Limit, Order
from lapwright.model.wafer import Round
from lapwright.process.feasibility import feasibility
from lapwright.process.release_checks import ReleaseAssumptions

ORDER = Order(
    order_id="A",
    customer="B",
    material="Si",
    outline=Round(diameter=0.1),
    quantity=1,
    start_thickness=525e-6,
    target_thickness=200e-6,
    limits=(Limit(quantity="roughness_ra", upper=2e-9), Limit(quantity="bow", lower=-60e-6, upper=60e-6)),
    edge_exclusion=3e-3,
    hold="free",
)


def check(found, limit):
    """The check of one limit; None when there is none."""
    return next((one for one in found.checks if one.limit == limit), None)


@pytest.mark.parametrize(("bonded", "answer"), [("polished", "can"), ("lapped_coarse", "only_with")])
def test_bow_counts_where_it_is_limited(bonded, answer):
    """One N/m bends silicon of 200 µm, 100 mm by 1 µm: polished both sides 0.3 µm, over a coarse lap up to 90 µm."""
    found = check(feasibility(ORDER, load(), release=ReleaseAssumptions(other_finish=bonded)), "bow")
    assert found.answer == answer
    assert found.needs < 1e-6 if bonded == "polished" else 60e-6 < found.needs < 100e-6


def test_bow_is_a_remark_where_it_is_not():
    """And is no check."""
    order = replace(ORDER, limits=ORDER.limits[:1])
    found = feasibility(order, load(), release=ReleaseAssumptions(other_finish="lapped_coarse"))
    assert check(found, "bow") is None
    assert any("free wafer bows" in one for one in found.remarks)
    assert any("cooled stack bows" in one for one in found.remarks)


def test_a_known_bevel_below_its_middle_counts():
    """200 of 525 µm; a square edge does not, and an unknown one is a remark."""
    bevelled = feasibility(ORDER, load(), release=ReleaseAssumptions(edge="bevelled"))
    assert check(bevelled, "edge").answer == "only_with"
    square = feasibility(ORDER, load(), release=ReleaseAssumptions(edge="square"))
    assert check(square, "edge") is None
    unknown = feasibility(ORDER, load())
    assert check(unknown, "edge") is None
    assert any("blade" in one for one in unknown.remarks)


def test_what_the_library_does_not_know_is_said():
    """Soda-lime glass on a carrier without a modulus: a sentence, not a number."""
    order = replace(ORDER, limits=ORDER.limits[:1])
    found = feasibility(order, load(), release=ReleaseAssumptions(carrier="no-such-glass"))
    assert any("no-such-glass" in one for one in found.remarks)
