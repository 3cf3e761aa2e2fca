"""Contributions, budgets and their combination."""

import math

import pytest

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.uncertainty import (
    Budget,
    Contribution,
    arcsine_uncertainty,
    combined_uncertainty,
    coverage_factor,
    effective_degrees_of_freedom,
    rectangular_uncertainty,
    triangular_uncertainty,
)


def line(name="a", standard_uncertainty=1.0, **more):
    """A contribution with little to say."""
    return Contribution(name=name, standard_uncertainty=standard_uncertainty, **more)


def test_half_widths_become_standard_uncertainties():
    """Second moments of the three shapes: a2/3, a2/6, a2/2."""
    assert pytest.approx(4.0 / 3.0) == rectangular_uncertainty(2.0) ** 2
    assert pytest.approx(4.0 / 6.0) == triangular_uncertainty(2.0) ** 2
    assert pytest.approx(4.0 / 2.0) == arcsine_uncertainty(2.0) ** 2


@pytest.mark.parametrize("shape", [rectangular_uncertainty, triangular_uncertainty, arcsine_uncertainty])
def test_negative_half_width_is_refused(shape):
    """A half-width is a length."""
    with pytest.raises(OutOfValidRange, match="half_width"):
        shape(-1e-9)


def test_independent_contributions_add_in_squares():
    """3-4-5."""
    budget = Budget(contributions=(line(standard_uncertainty=3.0), line(standard_uncertainty=4.0)))
    assert pytest.approx(5.0) == combined_uncertainty(budget, value=0.0).standard_uncertainty


def test_a_common_error_cancels_in_a_difference():
    """Full correlation and sensitivities +1 and -1: nothing is left."""
    lines = (line(sensitivity=1.0), line(sensitivity=-1.0))
    budget = Budget(contributions=lines, correlation=((1.0, 1.0), (1.0, 1.0)))
    assert pytest.approx(0.0, abs=1e-12) == combined_uncertainty(budget, value=0.0).standard_uncertainty


def test_a_common_error_adds_in_full_in_a_sum():
    """Full correlation and equal signs: the two add straight."""
    budget = Budget(contributions=(line(), line()), correlation=((1.0, 1.0), (1.0, 1.0)))
    assert pytest.approx(2.0) == combined_uncertainty(budget, value=0.0).standard_uncertainty


def test_nothing_uncertain_leaves_no_uncertainty():
    """No contribution: nought, with the normal coverage factor."""
    result = combined_uncertainty(Budget(contributions=()), value=5.0)
    assert (5.0, 0.0, math.inf) == (result.value, result.expanded_uncertainty, result.degrees_of_freedom)
    assert pytest.approx(1.959963985) == result.coverage_factor


def test_correlated_contributions_count_as_one_with_the_fewest_degrees():
    """Two correlated lines of 4 and 9 degrees of freedom have 4 together."""
    lines = (line(degrees_of_freedom=4.0), line(degrees_of_freedom=9.0))
    budget = Budget(contributions=lines, correlation=((1.0, 0.5), (0.5, 1.0)))
    assert pytest.approx(4.0) == effective_degrees_of_freedom(budget)


def test_degrees_of_freedom_are_cut_to_whole_ones():
    """5.9 degrees are worth no more than 5, and 0.4 count as 1."""
    assert coverage_factor(5.0) == coverage_factor(5.9)
    assert coverage_factor(1.0) == coverage_factor(0.4)


@pytest.mark.parametrize(
    ("correlation", "error"),
    [
        (((1.0,),), ShapeMismatch),
        (((1.0, 0.5), (0.4, 1.0)), OutOfValidRange),
        (((1.0, 1.5), (1.5, 1.0)), OutOfValidRange),
        (((0.9, 0.0), (0.0, 1.0)), OutOfValidRange),
    ],
)
def test_impossible_correlations_are_refused(correlation, error):
    """Wrong shape, unequal both ways, beyond one, not one with itself."""
    with pytest.raises(error):
        Budget(contributions=(line(), line()), correlation=correlation)


@pytest.mark.parametrize("field", ["standard_uncertainty", "degrees_of_freedom"])
def test_negative_entries_are_refused(field):
    """An uncertainty is not below nought; degrees of freedom are above it."""
    with pytest.raises(OutOfValidRange):
        Contribution(**({"name": "a", "standard_uncertainty": 1.0} | {field: -1.0}))
