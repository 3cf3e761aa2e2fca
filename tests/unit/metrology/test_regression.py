"""Least squares against a general library."""

import numpy as np
import pytest
import statsmodels.api as sm

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.regression import linear_fit, polynomial_fit

RNG = np.random.default_rng(1)
X = RNG.normal(size=(40, 3)) * [1.0, 100.0, 1e-4] + [0.0, 1e4, 5.0]
Y = 2.0 + X @ [1.0, 0.02, 300.0] + RNG.normal(0, 0.1, 40)


def test_with_and_without_constant_as_statsmodels():
    """Coefficients, deviations, R², F."""
    ours, theirs = linear_fit(X, Y), sm.OLS(Y, sm.add_constant(X)).fit()
    assert theirs.params.tolist() == pytest.approx(ours.coefficients.tolist(), rel=1e-6)
    assert theirs.bse.tolist() == pytest.approx(ours.deviations.tolist(), rel=1e-6)
    assert (theirs.rsquared, theirs.fvalue) == pytest.approx((ours.r_squared, ours.f), rel=1e-8)
    plain = linear_fit(X, Y, with_constant=False)
    assert sm.OLS(Y, X).fit().params.tolist() == pytest.approx(plain.coefficients.tolist(), rel=1e-6)
    assert plain.f is None


def test_deviations_of_a_polynomial_as_statsmodels():
    """Degree three."""
    x = np.linspace(0.0, 2.0, 30)
    y = 1 - x + 2 * x**3 + RNG.normal(0, 0.05, 30)
    ours, theirs = polynomial_fit(x, y, degree=3), sm.OLS(y, np.vander(x, 4, increasing=True)).fit()
    assert theirs.params.tolist() == pytest.approx(ours.coefficients.tolist(), rel=1e-8)
    assert theirs.bse.tolist() == pytest.approx(ours.deviations.tolist(), rel=1e-8)


@pytest.mark.parametrize(
    "call",
    [
        lambda: linear_fit(np.column_stack((X, X[:, 0] + X[:, 1])), Y),
        lambda: linear_fit(np.ones((40, 1)), Y),
        lambda: linear_fit(X[:3], Y[:3]),
        lambda: linear_fit(X, np.where(Y.mean() < Y, np.nan, Y)),
        lambda: polynomial_fit(X[:, 0], Y, degree=0),
        lambda: polynomial_fit(np.ones(40), Y, degree=1),
    ],
    ids=["dependent", "constant column", "too few", "not measured", "degree", "one place"],
)
def test_what_the_data_cannot_carry_is_refused(call):
    """Never a made-up answer."""
    with pytest.raises(OutOfValidRange):
        call()
    with pytest.raises(ShapeMismatch):
        linear_fit(X, Y[:-1])
