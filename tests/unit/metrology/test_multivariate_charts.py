"""T² beside the published example: units do not matter, dependent columns are refused."""

import numpy as np
import pytest
from scipy import stats

from lapwright.errors import OutOfValidRange
from lapwright.metrology.multivariate_charts import joint_individuals_chart, joint_subgroup_chart

POINTS = np.random.default_rng(4).multivariate_normal(
    [1.0, 2.0, 3.0], [[1.0, 0.5, 0.0], [0.5, 2.0, 0.3], [0.0, 0.3, 1.5]], 60
)


def test_units_do_not_matter():
    """Each column in another unit: the same T²."""
    plain = joint_individuals_chart(POINTS).chart.points
    scaled = joint_individuals_chart(POINTS * [1e6, 1e-3, 2.0] + [5.0, 0.0, -3.0]).chart.points
    assert plain.tolist() == pytest.approx(scaled.tolist(), rel=1e-9)


def test_limits_of_both_phases():
    """Beta and F quantiles from scipy."""
    m, p, alpha = 60, 3, 0.01
    first, second = (
        joint_individuals_chart(POINTS, phase=phase, false_alarm=alpha).chart.upper[0] for phase in ("first", "second")
    )
    assert (m - 1) ** 2 / m * stats.beta.ppf(1 - alpha, p / 2, (m - p - 1) / 2) == pytest.approx(first)
    assert p * (m + 1) * (m - 1) / (m * (m - p)) * stats.f.ppf(1 - alpha, p, m - p) == pytest.approx(second)


def test_a_pair_that_breaks_the_pattern_is_seen():
    """Each value usual by itself, together never seen."""
    rng = np.random.default_rng(5)
    common = rng.normal(size=100)
    pairs = np.column_stack((common, common + 0.1 * rng.normal(size=100)))
    pairs[50] = [1.5, -1.5]
    assert [signal.index for signal in joint_individuals_chart(pairs).chart.signals] == [50]


@pytest.mark.parametrize(
    "call",
    [
        lambda: joint_individuals_chart(np.column_stack((POINTS, POINTS.sum(axis=1)))),
        lambda: joint_individuals_chart(np.column_stack((POINTS, np.ones(60)))),
        lambda: joint_individuals_chart(POINTS[:4]),
        lambda: joint_individuals_chart(POINTS, false_alarm=0.0),
        lambda: joint_individuals_chart(np.where(POINTS > 3.5, np.nan, POINTS)),
        lambda: joint_subgroup_chart(POINTS[:, None, :]),
    ],
    ids=["sum of others", "constant", "too few", "no alarm", "not measured", "one reading a subgroup"],
)
def test_wrong_questions(call):
    """Refused with advice."""
    with pytest.raises(OutOfValidRange):
        call()
