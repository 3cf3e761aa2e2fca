"""Propagation of distributions against the worked examples of JCGM 101:2008, clause 9."""

from pathlib import Path

import pytest

from lapwright.formats.budget_toml import read_budget
from lapwright.testing.checks_uncertainty import drawn, squares, uncertainty_checks, worked

DATA = Path(__file__).parent / "data"


def test_all_examples():
    """Standard uncertainties and ends of intervals, to two digits or as printed; seeded."""
    missed = [check.what for check in uncertainty_checks(DATA) if check.digits < check.needed]
    assert missed == []


def test_mass_calibration():
    """9.3: shortest interval [1.0834, 1.3825] (flat, so its ends are noisy); to first order u is 0.0539."""
    file = read_budget(DATA / "jcgm101_9_3.toml")
    found = drawn(file)
    assert pytest.approx(found.shortest, abs=0.005) == (1.0834, 1.3825)
    assert pytest.approx(0.0539, abs=5e-5) == worked(file)[1].standard_uncertainty


def test_gauge_block():
    """9.5: 838 nm, u 36 nm, shortest 99 % interval [745, 932], within 1 nm."""
    found = drawn(read_budget(DATA / "jcgm101_9_5.toml"))
    assert pytest.approx(838.0, abs=0.5) == found.mean - 5e7
    assert pytest.approx(36.0, abs=0.5) == found.standard_uncertainty
    assert pytest.approx([end - 5e7 for end in found.shortest], abs=1.0) == (745.0, 932.0)


@pytest.mark.parametrize(("x", "low", "high"), [(0.0, 0.0, 150.0), (0.010, 0.0, 367.0), (0.050, 1590.0, 3543.0)])
def test_interval_of_a_sum_of_squares(x, low, high):
    """9.4: shortest 95 % interval in 1e-6; a bell to first order would be nonsense at nought."""
    _, found = squares(x)
    assert (low, high) == pytest.approx([end * 1e6 for end in found.shortest], abs=12.0)


@pytest.mark.parametrize("correlation", [0.0, 0.9])
def test_exact_moments_of_a_sum_of_squares(correlation):
    """At nought: mean 2u², variance 4u⁴(1 + r²), exactly, in 1e-6 (half a percent for the draws)."""
    _, found = squares(0.0, correlation)
    assert pytest.approx(50.0, rel=6e-3) == found.mean * 1e6
    assert pytest.approx(50.0 * (1.0 + correlation**2) ** 0.5, rel=6e-3) == found.standard_uncertainty * 1e6
