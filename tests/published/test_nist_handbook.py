"""Gauge studies, charts, capability and tolerance factors of the NIST/SEMATECH e-Handbook."""

from itertools import chain
from pathlib import Path

import numpy as np
import pytest

from lapwright.metrology import control_charts as charts
from lapwright.metrology.capability import capability_indices
from lapwright.metrology.chart_setup import autocorrelation
from lapwright.metrology.gauge_checks import bias_study
from lapwright.metrology.nested_study import summarised_study
from lapwright.testing.checks_charts import series, value_checks
from lapwright.testing.checks_studies import nested_checks
from lapwright.testing.tables import codes, numbers, published_table

DATA = Path(__file__).parent / "data"
CHECKS = [check for check in chain(nested_checks(DATA), value_checks(DATA)) if check.key == "nist_handbook"]


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: f"nist_handbook-{check.what}")
def test_printed_values(check):
    """As many digits as were printed."""
    assert check.digits >= check.needed


def test_every_point_of_the_ewma():
    """Twenty points after the target, to two decimals as printed (6.3.2.4)."""
    printed = "50.00 50.60 49.52 50.56 50.18 50.16 49.21 49.75 49.85 50.26 50.33 50.11 49.36 49.52 50.05 49.38 49.92 50.73 51.23 51.94 51.99"
    chart = charts.ewma_chart(series(DATA, "nist_ewma"), weight=0.3, target=50.0, sigma=2.0539)
    assert [float(one) for one in printed.split()] == pytest.approx(chart.points.tolist(), abs=0.0051)
    assert chart.signals == ()


def test_every_sum_of_the_cusum():
    """Upper and lower sums; the first signal at the fourteenth reading (6.3.2.3)."""
    upper, lower = charts.cusum_chart(
        series(DATA, "nist_cusum"), target=325.0, sigma=1.0, reference=0.3175, decision=4.1959
    )
    assert pytest.approx(upper.points[12:].tolist(), abs=0.0051) == [
        3.01,
        4.94,
        7.45,
        10.63,
        11.99,
        14.44,
        16.00,
        19.04,
    ]
    assert pytest.approx({place: float(lower.points[place]) for place in (1, 3, 6, 7, 8, 9, 10)}, abs=0.0076) == {
        1: 0.01,
        3: 0.33,
        6: 0.56,
        7: 0.72,
        8: 0.17,
        9: 0.25,
        10: 0.31,
    }
    assert upper.signals[0].index == 13


def test_points_outside_of_the_attribute_charts():
    """Wafer 24 of the counts; wafers 15 and 23 of the shares."""
    counts = charts.count_chart(numbers(published_table(DATA / "nist_counts_chart.csv")["defects"]))
    shares = numbers(published_table(DATA / "nist_proportions_chart.csv")["fraction"])
    chart = charts.share_chart(shares * 50.0, np.full(30, 50.0))
    assert [signal.index for signal in counts.signals] == [23]
    assert [signal.index for signal in chart.signals] == [14, 22]


@pytest.mark.parametrize(("by", "upper", "lower"), [("range", 24.90885, 22.54315), ("deviation", 24.89708, 22.55492)])
def test_means_of_silicon_thickness(by, upper, lower):
    """Limits with A2 0.577 and A3 1.427 (nothing printed: worked out with the printed factors of the manual)."""
    table = published_table(DATA / "nist_silicon_thickness_xbar.csv")
    means, _ = charts.mean_chart(numbers(table["thickness"]).reshape(20, 5), by=by)
    assert pytest.approx(23.726, abs=1e-9) == means.centre
    assert (lower, upper) == pytest.approx((means.lower[0], means.upper[0]), abs=2e-3)


@pytest.mark.parametrize(
    ("ratio", "share", "relative"), [(1.0, 0.0027, 1e-3), (4 / 3, 64e-6, 0.02), (1.66, 0.6e-6, 0.07), (2.0, 2e-9, 0.02)]
)
def test_expected_rejects_of_a_centred_process(ratio, share, relative):
    """Cp 1, 1.33, 1.66 and 2 (6.1.6)."""
    assert share == pytest.approx(capability_indices(0.0, 1.0, lower=-3 * ratio, upper=3 * ratio).outside, rel=relative)


@pytest.mark.parametrize(
    "printed", [("a1", "b1", -0.0086, 0.0242, -1.94), ("a2", "b2", -0.0119, 0.0354, -1.84)], ids=["before", "after"]
)
def test_two_wirings_of_one_probe(printed):
    """Mean, deviation and t of the difference before and after (2.6.3.1)."""
    first, second, mean, deviation, t = printed
    table = published_table(DATA / "nist_check_std_wiring_2362.csv")
    found = bias_study(numbers(table[first]) - numbers(table[second]), reference=0.0)
    assert (mean, deviation) == pytest.approx((found.bias, found.deviation), abs=5.1e-5)
    assert t == pytest.approx(found.t, abs=0.0051)


@pytest.mark.parametrize(
    ("column", "mean", "deviation", "t"),
    [("d_run1", -0.003834, 0.005145, -4.0133), ("d_run2", 0.004886, 0.004004, 6.5713)],
)
def test_wirings_of_the_second_probe(column, mean, deviation, t):
    """Mean, deviation and t of the difference (2.5.3.2; printed -4.0 and +6.6, the digits are a regression value)."""
    found = bias_study(numbers(published_table(DATA / "nist_mpc536_wiring_difference.csv")[column]), reference=0.0)
    assert (mean, deviation, t) == pytest.approx((found.bias, found.deviation, found.t), rel=2e-4)
    assert found.is_seen


def test_levels_of_a_gauge_study_by_run():
    """Repeatability and day to day of probe 2362, run 1 and run 2 apart, with degrees of freedom (2.6.1)."""
    table = published_table(DATA / "nist_mpc61_gauge_study.csv")
    for run, repeats, days in (("1", 0.06751, 0.03334), ("2", 0.07786, 0.03879)):
        chosen = (np.array(table["probe"]) == "2362") & (np.array(table["run"]) == run)
        average, deviation = numbers(table["average"])[chosen], numbers(table["stddev"])[chosen]
        levels = (("wafer", codes(table["wafer"])[chosen]),)
        first, second = summarised_study(average, deviation, repeats=6, levels=levels)
        assert (first.degrees_of_freedom, second.degrees_of_freedom) == (150, 25)
        assert (repeats, days) == pytest.approx((first.deviation, second.deviation), abs=5.1e-6)


def test_a_beam_that_swings_warns_of_its_correlation():
    """Lew: mean -177.4350, deviation 277.3322, r1 -0.307305, r2 -0.740350: a warning at either lag (1.4.2.5)."""
    value = numbers(published_table(DATA / "nist_lew_beam_deflection.csv")["deflection"])
    assert pytest.approx((value.mean(), value.std(ddof=1)), abs=5.1e-5) == (-177.435, 277.3322)
    for lag, coefficient in ((1, -0.307305), (2, -0.740350)):
        found = autocorrelation(value, lag=lag)
        assert coefficient == pytest.approx(found.coefficient, abs=1e-6)
        assert "against each other" in found.warning
