"""Laws of gauge studies, uncertainty and verdicts: scaling, shift, order; and coverage of their intervals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.metrology.component_intervals import difference_interval, sum_interval
from lapwright.metrology.gauge_study import crossed_study
from lapwright.metrology.monte_carlo import linear_model, monte_carlo
from lapwright.metrology.nested_study import nested_study
from lapwright.metrology.uncertainty import Budget, Contribution, combined_uncertainty
from lapwright.model.order import DecisionRule, Limit
from lapwright.process.decisions import acceptance_range, judge
from lapwright.process.risks import decision_risks

PART, OPERATOR = np.repeat(np.arange(5), 6), np.tile(np.repeat(np.arange(3), 2), 5)
seeds = st.integers(0, 2**32 - 1)


def _value(seed):
    rng = np.random.default_rng(seed)
    return rng.normal(0, 2.0, 5)[PART] + rng.normal(0, 0.5, 3)[OPERATOR] + rng.normal(0, 0.3, 30)


@settings(deadline=None)
@given(seeds, st.floats(1e-6, 1e6), st.floats(-1e3, 1e3))
def test_variances_scale_with_the_square_and_do_not_shift(seed, scale, shift):
    """Another unit and another zero: variances times k², categories the same."""
    value = _value(seed)
    one, other = (
        crossed_study(v, part=PART, operator=OPERATOR, interaction="keep") for v in (value, scale * (value + shift))
    )
    for name in ("part", "operator", "interaction", "repeatability"):
        assert scale**2 * getattr(one.components, name) == pytest.approx(
            getattr(other.components, name), rel=1e-6, abs=1e-8 * scale**2
        )
    assert one.distinct_categories == pytest.approx(other.distinct_categories, rel=1e-5)


@settings(deadline=None)
@given(seeds)
def test_the_order_of_rows_does_not_matter(seed):
    """Any order of the readings, any names of the parts."""
    value, rng = _value(seed), np.random.default_rng(seed)
    order, names = rng.permutation(30), rng.permutation(5)
    plain = crossed_study(value, part=PART, operator=OPERATOR)
    mixed = crossed_study(value[order], part=names[PART][order], operator=OPERATOR[order])
    assert plain.components.part == pytest.approx(mixed.components.part, rel=1e-9)
    nested = nested_study(value, levels=(("part", PART), ("operator", OPERATOR))).components
    again = nested_study(value[order], levels=(("part", PART[order]), ("operator", OPERATOR[order]))).components
    assert nested == pytest.approx(again, rel=1e-9)


@settings(deadline=None, max_examples=20)
@given(st.lists(st.tuples(st.floats(0.01, 10.0), st.floats(-3.0, 3.0)), min_size=1, max_size=4), seeds)
def test_draws_agree_with_the_law_of_propagation(pairs, seed):
    """Sums of normal lines: standard uncertainties within 3 %."""
    lines = tuple(Contribution(name=f"x{i}", standard_uncertainty=u, sensitivity=c) for i, (u, c) in enumerate(pairs))
    budget = Budget(contributions=lines)
    first = combined_uncertainty(budget, value=0.0).standard_uncertainty
    found = monte_carlo(linear_model(budget), budget, generator=np.random.default_rng(seed), trials=20_000)
    assert first == pytest.approx(found.standard_uncertainty, rel=0.03, abs=1e-12)


def test_intervals_of_components_cover():
    """5000 imagined studies: 93.5 to 97 % of 95 % intervals hold the truth, for a difference and for a sum."""
    rng = np.random.default_rng(1)
    held = {"difference": 0, "sum": 0}
    for _ in range(5000):
        upper, lower = 7.0 * rng.chisquare(9) / 9, 1.0 * rng.chisquare(20) / 20
        one = difference_interval((upper, 9.0), (lower, 20.0), count=3.0)
        held["difference"] += one.low <= 2.0 <= one.high
        other = sum_interval([(0.5, (upper, 9.0)), (0.8, (lower, 20.0))])
        held["sum"] += other.low <= 4.3 <= other.high
    assert all(0.935 <= count / 5000 <= 0.97 for count in held.values()), held


@settings(deadline=None)
@given(
    st.floats(0.01, 1.0),
    st.floats(-3.0, 3.0),
    st.floats(0.3, 3.0),
    st.sampled_from([DecisionRule(kind="simple"), DecisionRule(), DecisionRule(guard_factor=1.0)]),
)
def test_risks_are_shares_and_guard_bands_lower_the_consumers(u, mean, deviation, rule):
    """All shares lie in 0 to 1; a guard band never raises the consumer's risk."""
    limit = Limit(quantity="thickness", lower=-2.0, upper=2.0)
    found = decision_risks(limit, u, process_mean=mean, process_deviation=deviation, rule=rule)
    plain = decision_risks(limit, u, process_mean=mean, process_deviation=deviation, rule=DecisionRule(kind="simple"))
    assert all(
        -1e-9 <= share <= 1.0 + 1e-9 for share in (found.conforming, found.accepted, found.consumer, found.producer)
    )
    assert found.consumer <= plain.consumer + 1e-9
    assert found.conforming == pytest.approx(found.accepted - found.consumer + found.producer, abs=1e-9)


@given(st.floats(-3.0, 3.0), st.floats(0.01, 0.4), st.floats(0.1, 2.0))
def test_a_factor_rule_accepts_what_lies_in_its_range(value, u, factor):
    """The verdict and the acceptance range agree."""
    limit, rule = Limit(quantity="thickness", lower=-2.0, upper=2.0), DecisionRule(guard_factor=factor)
    low, high = acceptance_range(limit, u, rule=rule)
    assert (judge(limit, value, u, rule=rule).outcome == "conforms") is (low <= value <= high)
