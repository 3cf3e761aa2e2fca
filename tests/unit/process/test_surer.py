"""What would decide a doubtful verdict: against the closed form of one-sided guard bands and the mean of n readings.

The quantiles are those of printed normal tables (2.0537 at 98 %, 1.9600 at 97.5 %); the law 1/sqrt(n) is JCGM 100:2008,
4.2.3, and the guard band u z JCGM 106:2012, 8.3.3.
"""

import math

import pytest

from lapwright.errors import OutOfValidRange
from lapwright.metrology.uncertainty import Budget, Contribution
from lapwright.model.order import DecisionRule, Limit
from lapwright.process.decisions import judge
from lapwright.process.surer import chance_of_acceptance, repeats_to_decide, uncertainty_that_decides

Z98 = 2.0537
LIMIT = Limit(quantity="ttv", upper=2e-6)
RULE = DecisionRule(false_accept=0.02)


def budget(*, scatter=0.3e-6, others=0.0, freedom=math.inf):
    """A repeat scatter and, where wanted, something that repeats do not bring down."""
    lines = [Contribution(name="repeat scatter", standard_uncertainty=scatter, degrees_of_freedom=freedom)]
    if others:
        lines.append(Contribution(name="accuracy limit of the gauge", standard_uncertainty=others))
    return Budget(contributions=tuple(lines))


@pytest.mark.parametrize("distance", [0.1, 0.15, 0.2, 0.3, 0.45])
def test_repeats_follow_the_mean_of_n_readings(distance):
    """(z s / d)², rounded up: s = 0.3 µm once, d the distance to the limit."""
    wanted = math.ceil((Z98 * 0.3 / distance) ** 2)
    found = repeats_to_decide(LIMIT, 2e-6 - distance * 1e-6, budget(), repeats=1, rule=RULE, most_repeats=50)
    assert found.repeats == wanted
    assert found.standard_uncertainty == pytest.approx(0.3e-6 / math.sqrt(wanted))


def test_what_is_found_decides_and_one_fewer_does_not():
    """The fewest: the verdict with them is decided, with one fewer it is not."""
    value, lines = 1.75e-6, budget(scatter=0.4e-6, others=0.05e-6)
    found = repeats_to_decide(LIMIT, value, lines, repeats=2, rule=RULE)
    fewer = math.hypot(0.4e-6 * math.sqrt(2 / (found.repeats - 1)), 0.05e-6)
    assert judge(LIMIT, value, found.standard_uncertainty, rule=RULE).outcome == "conforms"
    assert judge(LIMIT, value, fewer, rule=RULE).outcome == "cannot_be_decided"


def test_no_number_of_repeats_mends_a_gauge_that_is_too_coarse():
    """0.2 µm from the limit with 0.1 µm that stays: 2.0537 × 0.1 is more than 0.2."""
    assert repeats_to_decide(LIMIT, 1.8e-6, budget(others=0.1e-6), repeats=1, rule=RULE, most_repeats=500) is None


def test_the_part_of_the_zero_stays():
    """Half the sensitivity that stays leaves u = s sqrt(0.25 + 0.75/n): with n = 3 it is 0.7071 s."""
    found = repeats_to_decide(LIMIT, 2e-6 - Z98 * 0.2122e-6, budget(), repeats=1, rule=RULE, least_sensitivity=0.5)
    assert found.repeats == 3
    assert found.standard_uncertainty == pytest.approx(0.3e-6 * math.sqrt(0.5))


def test_repeats_teach_the_scatter_itself():
    """Eight degrees of freedom from 2 repeats are 8 (n - 1) from n, and the coverage factor falls with them."""
    found = repeats_to_decide(LIMIT, 1.7e-6, budget(freedom=8.0), repeats=2, rule=RULE)
    assert found.degrees_of_freedom == pytest.approx(8.0 * (found.repeats - 1))


def test_a_value_outside_is_decided_against_by_repeats_too():
    """0.2 µm beyond: decided, and accepted with no more than chance allows."""
    found = repeats_to_decide(LIMIT, 2.2e-6, budget(), repeats=1, rule=RULE)
    assert judge(LIMIT, 2.2e-6, found.standard_uncertainty, rule=RULE).outcome == "does_not_conform"
    assert found.chance_accepted < 0.2


def test_the_uncertainty_that_decides_is_the_distance_over_the_quantile():
    """0.2 µm over 2.0537; and with a factor of one U, over 1.9600."""
    by_chance = uncertainty_that_decides(LIMIT, 1.8e-6, standard_uncertainty=1e-6, rule=RULE)
    assert by_chance == pytest.approx(0.2e-6 / Z98, rel=1e-4)
    by_factor = uncertainty_that_decides(LIMIT, 1.8e-6, standard_uncertainty=1e-6, rule=DecisionRule(guard_factor=1.0))
    assert by_factor == pytest.approx(0.2e-6 / 1.96, rel=1e-4)


def test_a_value_on_the_limit_is_never_decided():
    """Whatever the uncertainty, half of it lies outside."""
    assert uncertainty_that_decides(LIMIT, 2e-6, standard_uncertainty=1e-7, rule=RULE) is None
    assert repeats_to_decide(LIMIT, 2e-6, budget(), repeats=1, rule=RULE) is None


def test_chance_of_acceptance_is_that_of_the_normal_table():
    """One deviation inside the accepted end: 0.8413 (printed normal table)."""
    high = 2e-6 - Z98 * 1e-7
    found = chance_of_acceptance(LIMIT, high - 3e-7, 3e-7, standard_uncertainty=1e-7, rule=RULE)
    assert found == pytest.approx(0.8413, abs=2e-4)
    two = Limit(quantity="thickness", lower=99e-6, upper=101e-6)
    assert chance_of_acceptance(two, 100e-6, 1e-6, standard_uncertainty=0.0, rule=RULE) == pytest.approx(
        0.6827, abs=1e-4
    )
    assert chance_of_acceptance(two, 100e-6, 1e-6, standard_uncertainty=1e-6, rule=RULE) == 0.0


def test_wrong_questions_are_refused():
    """No repeats, a negative deviation."""
    with pytest.raises(OutOfValidRange):
        repeats_to_decide(LIMIT, 1.8e-6, budget(), repeats=0, rule=RULE)
    with pytest.raises(OutOfValidRange):
        chance_of_acceptance(LIMIT, 1.8e-6, -1e-7, standard_uncertainty=1e-7, rule=RULE)
