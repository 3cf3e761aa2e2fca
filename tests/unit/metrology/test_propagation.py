"""From model to budget, against two libraries and by hand."""

import math

import numpy as np
import pytest
import uncertainties.umath
from GTC import uncertainty as gtc_uncertainty
from GTC import ureal

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.expression import model_from_text
from lapwright.metrology.propagation import (
    contribution_shares,
    model_budget,
    readings_correlation,
    repeated_contribution,
    second_order_uncertainty,
)
from lapwright.metrology.uncertainty import Budget, Contribution, combined_uncertainty

INPUTS = (
    Contribution(name="x", value=2.0, standard_uncertainty=0.1),
    Contribution(name="y", value=3.0, standard_uncertainty=0.2, degrees_of_freedom=5.0),
)


@pytest.mark.parametrize("text", ["x * y", "x / y", "x ** y", "sqrt(x) + log(y)", "sin(x) * exp(y)"])
def test_first_order_agrees_with_two_libraries(text):
    """Combined standard uncertainty to twelve digits."""
    model = model_from_text(text, names=("x", "y"))
    value, budget = model_budget(model, INPUTS)
    found = combined_uncertainty(budget, value=value).standard_uncertainty
    names = {"x": uncertainties.ufloat(2.0, 0.1), "y": uncertainties.ufloat(3.0, 0.2)}
    functions = {name: getattr(uncertainties.umath, name) for name in ("sqrt", "log", "sin", "exp")}
    theirs = eval(text, {**functions, **names})
    assert theirs.std_dev == pytest.approx(found, rel=1e-12)
    if text in ("x * y", "x / y"):
        x, y = ureal(2.0, 0.1), ureal(3.0, 0.2, 5)
        assert gtc_uncertainty(eval(text, {"x": x, "y": y})) == pytest.approx(found, rel=1e-12)


def test_second_order_of_a_square_is_exact():
    """x² of a normal x: variance 4 x² u² + 2 u⁴."""
    lines = (Contribution(name="x", value=3.0, standard_uncertainty=0.5),)
    found = second_order_uncertainty(model_from_text("x ** 2", names=("x",)), lines)
    assert math.sqrt(4 * 9 * 0.25 + 2 * 0.0625) == pytest.approx(found.standard_uncertainty)
    assert found.terms == (("x", "x", pytest.approx(math.sqrt(2 * 0.0625))),)


def test_third_derivatives_enter():
    """x³ at 1: the variance 9 u² + 36 u⁴ to this order (exactly it is 9 u² + 36 u⁴ + 15 u⁶)."""
    lines = (Contribution(name="x", value=1.0, standard_uncertainty=0.1),)
    found = second_order_uncertainty(model_from_text("x ** 3", names=("x",)), lines)
    assert math.sqrt(0.09 + 36e-4) == pytest.approx(found.standard_uncertainty)


def test_shares_add_to_one_also_with_correlation():
    """A correlated line may take away."""
    lines = (
        Contribution(name="a", standard_uncertainty=3.0),
        Contribution(name="b", standard_uncertainty=1.0, sensitivity=-1.0),
    )
    shares = contribution_shares(Budget(contributions=lines, correlation=((1.0, 0.8), (0.8, 1.0))))
    assert sum(shares) == pytest.approx(1.0)
    assert shares[1] < 0.0


def test_a_budget_without_uncertainty_has_no_shares():
    """All nought, no division."""
    assert contribution_shares(Budget(contributions=(Contribution(name="a", standard_uncertainty=0.0),))) == (0.0,)


def test_a_model_without_a_value_is_refused():
    """The logarithm of a negative value, and the slope of a root at nought."""
    with pytest.raises(OutOfValidRange, match="value of the model"):
        model_budget(model_from_text("log(x - 5)", names=("x",)), INPUTS[:1])
    with pytest.raises(OutOfValidRange, match="sensitivity to x"):
        model_budget(model_from_text("sqrt(x - 2)", names=("x",)), INPUTS[:1])


def test_repeats_and_their_correlation():
    """Mean, s/√n, n - 1; correlation as numpy has it; unequal lengths and constants refused."""
    readings = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
    line = repeated_contribution("V", readings)
    assert pytest.approx((line.value, line.degrees_of_freedom)) == (4.999, 4.0)
    assert readings.std(ddof=1) / math.sqrt(5) == pytest.approx(line.standard_uncertainty)
    other = np.array([1.0, 3.0, 2.0, 5.0, 4.0])
    assert np.corrcoef(readings, other)[0, 1] == pytest.approx(readings_correlation([readings, other])[0][1])
    with pytest.raises(ShapeMismatch):
        readings_correlation([readings, other[:3]])
    with pytest.raises(OutOfValidRange):
        readings_correlation([readings, np.ones(5)])
    with pytest.raises(OutOfValidRange):
        repeated_contribution("V", readings[:1])
