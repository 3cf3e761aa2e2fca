"""Verdicts: bad news is a value."""

import math

import pytest

from lapwright.errors import OutOfValidRange
from lapwright.model.order import DecisionRule, Limit
from lapwright.process.decisions import chance_inside, guard_band, judge

TTV = Limit(quantity="ttv", upper=2e-6)
SIMPLE = DecisionRule(kind="simple")


@pytest.mark.parametrize(
    ("value", "outcome"),
    [(1.3e-6, "conforms"), (1.39e-6, "cannot_be_decided"), (2.0e-6, "cannot_be_decided"), (2.7e-6, "does_not_conform")],
)
def test_guarded_acceptance(value, outcome):
    """At u = 0.3 um and 2 %: guard band 2.0537 u = 0.616 um, so accepted to 1.384 um and rejected from 2.616 um."""
    assert judge(TTV, value, 0.3e-6).outcome == outcome


@pytest.mark.parametrize(("value", "outcome"), [(2.0e-6, "conforms"), (2.0001e-6, "does_not_conform")])
def test_simple_acceptance_looks_at_the_value_alone(value, outcome):
    """A value on the limit is inside; the chance of error stands in the reason."""
    verdict = judge(TTV, value, 0.3e-6, rule=SIMPLE)

    assert verdict.outcome == outcome
    assert "wrong is 50.0%" in verdict.reason


def test_an_unknown_uncertainty_decides_nothing():
    """Not zero and not a guess: cannot be decided, with the reason."""
    verdict = judge(TTV, 0.5e-6, None)

    assert verdict.outcome == "cannot_be_decided"
    assert verdict.expanded_uncertainty is None
    assert verdict.chance_inside is None
    assert "not known" in verdict.reason


def test_what_was_not_measured_is_not_decided():
    """NaN means not measured."""
    assert judge(TTV, math.nan, 0.1e-6).reason == "It was not measured."


def test_few_degrees_of_freedom_widen_everything():
    """At 4 degrees the 95 % factor is 2.776 and the chance inside smaller."""
    wide, narrow = judge(TTV, 1.5e-6, 0.2e-6, 4.0), judge(TTV, 1.5e-6, 0.2e-6)

    assert wide.expanded_uncertainty == pytest.approx(2.776 * 0.2e-6, rel=1e-3)
    assert wide.chance_inside < narrow.chance_inside


def test_a_perfect_measurement_is_certain():
    """No uncertainty: the chance is one or none."""
    assert chance_inside(TTV, 2e-6, 0.0) == 1.0
    assert chance_inside(TTV, 2.1e-6, 0.0) == 0.0


def test_a_two_sided_limit_needs_room_for_both_guard_bands():
    """98 to 102 um with u = 1 um: not even 100 um can be accepted at 2 % (95.45 % inside)."""
    limit = Limit(quantity="thickness", lower=98e-6, upper=102e-6)
    verdict = judge(limit, 100e-6, 1e-6)

    assert verdict.chance_inside == pytest.approx(0.9545, abs=1e-4)
    assert verdict.outcome == "cannot_be_decided"


def test_a_negative_uncertainty_is_a_wrong_question():
    """It is refused, not clipped."""
    with pytest.raises(OutOfValidRange):
        chance_inside(TTV, 1e-6, -1e-9)
    with pytest.raises(OutOfValidRange):
        guard_band(1.0, false_accept=0.5)
