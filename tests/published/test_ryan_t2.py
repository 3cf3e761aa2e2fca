"""Hotelling's T² of twenty subgroups of four readings of two values."""

from pathlib import Path

import pytest

from lapwright.metrology.multivariate_charts import joint_subgroup_chart
from lapwright.testing.checks_charts import chart_checks, joint_table

DATA = Path(__file__).parent / "data"


def test_statistics_and_limits():
    """Means 60.375 and 18.4875, pooled covariance, T² of two subgroups, limits of both phases."""
    found = joint_subgroup_chart(joint_table(DATA), false_alarm=0.0054)
    later = joint_subgroup_chart(joint_table(DATA), phase="second", false_alarm=0.0054)
    assert pytest.approx(found.means.tolist()) == [60.375, 18.4875]
    assert pytest.approx(found.covariance[[0, 0, 1], [0, 1, 1]].tolist(), abs=5e-5) == [222.0333, 103.1167, 56.5792]
    assert pytest.approx((found.chart.upper[0], later.chart.upper[0]), abs=5e-5) == (11.0366, 12.1984)
    assert [signal.index for signal in found.chart.signals] == [9, 19]
    assert [check.what for check in chart_checks(DATA) if check.key == "ryan_t2" and check.digits < check.needed] == []
