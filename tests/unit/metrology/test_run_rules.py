"""Rules fire where a person would mark them, and as often as a chain and a simulation say."""

import numpy as np
import pytest

from lapwright.metrology.run_rules import ALL_RULES, ZONE_RULES, Signal, rule_signals, rules_run_length


@pytest.mark.parametrize(
    ("z", "rule", "at"),
    [
        ([0, 3.1, 0], "beyond_limit", [1]),
        ([0, -3.1, 0], "beyond_limit", [1]),
        ([2.1, 0, 2.1], "two_of_three_far_out", [2]),
        ([2.1, 0, 0, 2.1], "two_of_three_far_out", []),
        ([2.1, -2.1], "two_of_three_far_out", []),
        ([1.1, 1.1, 0, 1.1, 1.1], "four_of_five_off_centre", [4]),
        ([1.1, 1.1, 0, 0, 1.1, 1.1], "four_of_five_off_centre", []),
        ([0.1] * 8, "eight_on_one_side", [7]),
        ([0.1] * 4 + [-0.1] + [0.1] * 4, "eight_on_one_side", []),
        ([0, 1, 2, 3, 4, 5], "six_rising_or_falling", [5]),
        ([5, 4, 3, 2, 1], "six_rising_or_falling", []),
    ],
)
def test_where_a_rule_fires(z, rule, at):
    """At the last point of the pattern, and nowhere else."""
    found = rule_signals(np.array(z, dtype=float), centre=0.0, sigma=1.0, rules=(rule,))
    assert tuple(Signal(index=i, rule=rule) for i in at) == found


def test_run_length_agrees_with_simulation():
    """All four rules at half a deviation: 4000 runs, four standard errors."""
    rng = np.random.default_rng(12)
    exact = rules_run_length(ZONE_RULES, shift=0.5)
    lengths = []
    points = rng.normal(0.5, 1.0, 400_000)
    start = 0
    while len(lengths) < 4000 and start < points.size - 2000:
        signals = rule_signals(points[start : start + 2000], centre=0.0, sigma=1.0, rules=ZONE_RULES)
        lengths.append(signals[0].index + 1)
        start += lengths[-1]
    assert exact == pytest.approx(np.mean(lengths), abs=4 * np.std(lengths) / len(lengths) ** 0.5)


def test_more_rules_signal_sooner_and_trends_are_not_known():
    """Monotone in the set of rules; the trend rule has no zones; no rule never signals."""
    lengths = [rules_run_length(ZONE_RULES[:k]) for k in range(1, 5)]
    assert lengths == sorted(lengths, reverse=True)
    assert rules_run_length(ALL_RULES) is None
    assert rules_run_length(()) == np.inf


def test_a_shift_down_is_a_shift_up():
    """Symmetric."""
    assert rules_run_length(ZONE_RULES, shift=0.7) == pytest.approx(rules_run_length(ZONE_RULES, shift=-0.7))
