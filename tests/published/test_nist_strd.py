"""Certified regressions, series and analyses of variance of the NIST Statistical Reference Datasets."""

import re
from itertools import chain
from pathlib import Path

import numpy as np
import pytest
import scipy

from lapwright.errors import OutOfValidRange
from lapwright.metrology.nested_study import nested_study
from lapwright.metrology.regression import linear_fit, polynomial_fit
from lapwright.testing.checks_details import detail_checks, leading_digits
from lapwright.testing.checks_studies import anova_checks, regression_checks, series_checks
from lapwright.testing.digits import digits_agreeing
from lapwright.testing.tables import codes, numbers, published_table

DATA = Path(__file__).parent / "data"
CHECKS = list(chain(regression_checks(DATA), series_checks(DATA), anova_checks(DATA)))
ANOVA_FOLDER = Path(scipy.__file__).parent / "stats" / "tests" / "data" / "nist_anova"
#: Digits that double precision allows: the sets SmLs04 to 09 hold 7 or 13 leading digits that never change.
ANOVA_DIGITS = {"SiRstv": 9, "AtmWtAg": 8, "SmLs01": 12, "SmLs02": 12, "SmLs03": 11, "SmLs04": 9, "SmLs05": 9, "SmLs06": 8, "SmLs07": 2.5, "SmLs08": 2.5, "SmLs09": 2.3}  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: f"nist_strd-{check.what}")
def test_certified_values(check):
    """As many digits as asked for."""
    assert check.digits >= check.needed


@pytest.mark.parametrize("name", ANOVA_DIGITS)
def test_one_way_analysis_of_variance(name):
    """F of eleven sets, of which three lose all but their last digits to a constant."""
    path = ANOVA_FOLDER / f"{name}.dat"
    if not path.exists():
        pytest.skip("this build of scipy comes without its test data")
    text = path.read_text(encoding="utf-8")
    certified = float(re.search(r"Between \w+\s+\d+\s+\S+\s+\S+\s+(\S+)", text)[1])
    rows = np.array([line.split() for line in text.splitlines()[60:] if line.strip()], dtype=float)
    found = nested_study(rows[:, 1], levels=(("group", codes([str(int(one)) for one in rows[:, 0]])),))
    assert digits_agreeing(found.anova[0].f, certified) >= ANOVA_DIGITS[name]


def test_plain_powers_are_a_trap_that_is_not_stepped_into():
    """Degree ten in plain powers: the same ten digits, or refused; never the 8.44 that plain least squares gives."""
    table = published_table(DATA / "nist_strd_filip.csv")
    x, y = numbers(table["x"]), numbers(table["y"])
    plain = np.linalg.lstsq(np.vander(x, 11, increasing=True), y, rcond=None)[0]
    assert digits_agreeing(float(plain[0]), -1467.48961422980) < 1.0
    try:
        ours = linear_fit(np.vander(x, 11, increasing=True)[:, 1:], y).coefficients[0]
    except OutOfValidRange:
        return
    assert digits_agreeing(float(ours), -1467.48961422980) >= 6.0


def test_a_polynomial_with_as_many_terms_as_different_x_is_refused():
    """Degree three through three places cannot be answered."""
    with pytest.raises(OutOfValidRange):
        polynomial_fit(np.array([0.0, 1.0, 2.0, 2.0]), np.arange(4.0), degree=3)


@pytest.mark.parametrize("name", [name for name in ANOVA_DIGITS if name.startswith("SmLs")])
def test_the_sets_of_leading_digits_are_made_as_published(name):
    """What the page of checks is computed from is the certified set, value by value."""
    path = ANOVA_FOLDER / f"{name}.dat"
    if not path.exists():
        pytest.skip("this build of scipy comes without its test data")
    rows = np.array(
        [line.split() for line in path.read_text(encoding="utf-8").splitlines()[60:] if line.strip()], dtype=float
    )
    values, groups = leading_digits(name)
    assert np.array_equal(rows[:, 1], values)
    assert np.array_equal(rows[:, 0] - 1, groups)


@pytest.mark.parametrize("check", list(detail_checks(DATA)), ids=lambda check: f"{check.key}-{check.what}")
def test_every_printed_number_of_the_examples(check):
    """As many digits as the print or the data allow."""
    assert check.digits >= check.needed
