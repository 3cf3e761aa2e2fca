"""Good wafers to come by the rule of succession, and by the printed table of the binomial distribution."""

from fractions import Fraction

import pytest

from lapwright.process.spare_wafers import YieldBelief, chance_of_enough


@pytest.mark.parametrize(("seen", "coming"), [(0, 1), (1, 1), (9, 3), (60, 6)])
def test_rule_of_succession(seen, coming):
    """After n successes and no failure, all of m more succeed with (n + 1) / (n + m + 1)."""
    expected = Fraction(seen + 1, seen + coming + 1)
    belief = YieldBelief(good=seen + 1.0, lost=1.0)
    assert chance_of_enough(coming, coming, belief) == pytest.approx(float(expected), rel=1e-12)


@pytest.mark.parametrize(
    ("started", "most_lost", "lost", "printed"),
    [(5, 0, 0.1, 0.5905), (5, 1, 0.1, 0.9185), (10, 1, 0.1, 0.7361), (10, 2, 0.2, 0.6778), (20, 2, 0.1, 0.6769)],
)
def test_cumulative_binomial_table(started, most_lost, lost, printed):
    """Cumulative binomial probabilities as every handbook prints them, to four decimals (from memory)."""
    assert chance_of_enough(started, started - most_lost, 1.0 - lost) == pytest.approx(printed, abs=5e-5)
