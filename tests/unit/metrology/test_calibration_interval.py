"""Drift of a gauge and the risk that it is out of its limit at a time to come."""

import numpy as np
import pytest
from scipy import stats

from lapwright.errors import CannotAnswer, OutOfValidRange, ShapeMismatch
from lapwright.metrology.calibration_interval import gauge_drift, out_of_limit_risk, risk_reached

YEAR = 31557600.0
LIMIT = 1e-6
RATE = 0.2e-6 / YEAR


def history(noise, *, seed):
    """A gauge that drifts 0.2 µm a year, calibrated every half year for three years."""
    along = np.arange(0.0, 3.01, 0.5) * YEAR
    return along, RATE * along + np.random.default_rng(seed).normal(0.0, noise, along.size)


@pytest.mark.parametrize("noise", [0.05e-6, 0.1e-6])
def test_at_the_suggested_time_about_a_twentieth_of_the_gauges_is_out(noise):
    """800 planted drifts, 5 % borne: found out at that time 5 % within 2.5 points (3 standard errors of the share)."""
    draw = np.random.default_rng(7)
    out = []
    for seed in range(800):
        line = gauge_drift(*history(noise, seed=seed))
        ahead = risk_reached(line, gauge_limit=LIMIT, borne_risk=0.05, search_from=0.0, search_until=6.0 * YEAR)
        assert ahead is not None
        out.append(abs(RATE * (line.last + ahead) + draw.normal(0.0, noise)) > LIMIT)
    assert np.mean(out) == pytest.approx(0.05, abs=0.025)


def test_a_gauge_that_drifts_faster_is_due_sooner():
    """Twice the drift with the same scatter: sooner, and before the limit is crossed at 5 and 2.5 years."""
    along, deviation = history(0.02e-6, seed=1)
    found = [
        risk_reached(gauge_drift(along, one), gauge_limit=LIMIT, borne_risk=0.05, search_from=-3.0 * YEAR,
                     search_until=6.0 * YEAR)
        for one in (deviation, deviation + RATE * along)
    ]  # fmt: skip
    assert 1.0 * YEAR < found[0] < 2.0 * YEAR
    assert -1.0 * YEAR < found[1] < -0.5 * YEAR


def test_slope_and_risk_are_those_of_a_textbook_regression():
    """Against scipy: slope, its deviation, and the chance of a single new observation."""
    along, deviation = history(0.1e-6, seed=3)
    line, reference = gauge_drift(along, deviation), stats.linregress(along, deviation)
    assert line.slope == pytest.approx(reference.slope, rel=1e-9)
    assert line.slope_deviation == pytest.approx(reference.stderr, rel=1e-9)
    time = 4.0 * YEAR
    expected = reference.intercept + reference.slope * time
    residual = deviation - reference.intercept - reference.slope * along
    scatter = np.sqrt(residual @ residual / (along.size - 2))
    lever = 1.0 + 1.0 / along.size + (time - along.mean()) ** 2 / np.sum((along - along.mean()) ** 2)
    new = stats.t(along.size - 2, loc=expected, scale=scatter * np.sqrt(lever))
    risk = out_of_limit_risk(line, gauge_limit=LIMIT, ahead=time - line.last)
    assert risk == pytest.approx(new.sf(LIMIT) + new.cdf(-LIMIT), rel=1e-8)


def test_a_standard_that_is_worth_something_else_changes_nothing():
    """Its own level takes up its unknown value: slope and risk stay to the last digits."""
    along, deviation = history(0.05e-6, seed=5)
    source = np.array([0, 1, 0, 1, 0, 1, 0])
    lines = [gauge_drift(along, deviation + off * source, source=source) for off in (0.0, 3e-6)]
    assert lines[1].slope == pytest.approx(lines[0].slope, rel=1e-9)
    risks = [out_of_limit_risk(line, gauge_limit=LIMIT, ahead=YEAR) for line in lines]
    assert risks[1] == pytest.approx(risks[0], rel=1e-8)


def test_check_readings_sharpen_the_forecast():
    """Twenty readings of a standard beside three calibrations: a narrower interval of the slope; drift seen."""
    draw = np.random.default_rng(2)
    along = np.array([0.0, 1.0, 2.0]) * YEAR
    more = np.linspace(0.0, 2.0, 20) * YEAR
    deviation = RATE * along + draw.normal(0.0, 0.05e-6, 3)
    checks = RATE * more + draw.normal(0.0, 0.05e-6, 20)
    both = gauge_drift(
        np.concatenate([along, more]), np.concatenate([deviation, checks]), source=np.repeat([0, 1], [3, 20])
    )
    alone = gauge_drift(along, deviation)
    assert (both.degrees_of_freedom, alone.degrees_of_freedom) == (20, 1)
    assert stats.t.ppf(0.975, 20) * both.slope_deviation < stats.t.ppf(0.975, 1) * alone.slope_deviation
    assert both.is_seen
    assert both.slope == pytest.approx(RATE, abs=3.0 * both.slope_deviation)


@pytest.mark.parametrize(
    ("along", "deviation", "source", "sentence"),
    [
        ([0.0, 1.0], [0.0, 1e-7], [0, 0], "needs 1 more"),
        ([0.0, 1.0, 2.0], [0.0, 1e-7, 3e-7], [0, 1, 2], "needs 2 more"),
        ([0.0, 1.0, 2.0, 3.0], [0.0, 1e-7, 3e-7, 3e-7], [1, 1, 1, 1], "none found"),
        ([1.0, 1.0, 1.0], [0.0, 1e-7, 3e-7], [0, 0, 0], "of one time"),
        ([0.0, 1.0, 2.0], [1e-7, 2e-7, 3e-7], [0, 0, 0], "without any scatter"),
    ],
)
def test_too_little_evidence_is_refused_with_the_reason(along, deviation, source, sentence):
    """Never a date from nothing."""
    with pytest.raises(CannotAnswer, match=sentence):
        gauge_drift(np.array(along), np.array(deviation), source=np.array(source))


def test_wrong_questions_are_told_apart_from_thin_evidence():
    """Lengths that differ, a deviation not taken, a limit of nought, a search that ends before it begins."""
    along, deviation = history(0.1e-6, seed=1)
    line = gauge_drift(along, deviation)
    with pytest.raises(ShapeMismatch):
        gauge_drift(along, deviation[1:])
    with pytest.raises(OutOfValidRange):
        gauge_drift(along, np.where(along > YEAR, np.nan, deviation))
    with pytest.raises(OutOfValidRange):
        out_of_limit_risk(line, gauge_limit=0.0, ahead=YEAR)
    with pytest.raises(OutOfValidRange):
        risk_reached(line, gauge_limit=0.0, borne_risk=0.05, search_from=0.0, search_until=YEAR)
    with pytest.raises(OutOfValidRange):
        risk_reached(line, gauge_limit=LIMIT, borne_risk=1.0, search_from=0.0, search_until=YEAR)
    with pytest.raises(OutOfValidRange):
        risk_reached(line, gauge_limit=LIMIT, borne_risk=0.05, search_from=YEAR, search_until=0.0)


def test_no_time_is_named_when_the_risk_stays_small():
    """A steady gauge far inside its limit: none within the search; one already out: at once."""
    along = np.arange(6.0) * YEAR
    steady = np.array([1.0, -1.0, 0.5, -0.5, 1.0, -1.0]) * 1e-8
    asked = {"gauge_limit": LIMIT, "borne_risk": 0.05, "search_from": 0.0, "search_until": 2.0 * YEAR}
    assert risk_reached(gauge_drift(along, steady), **asked) is None
    assert risk_reached(gauge_drift(along, steady + 2e-6), **asked) == pytest.approx(0.0, abs=1.0)


@pytest.mark.parametrize("borne", [1e-9, 0.01, 0.05, 0.5, 0.999])
def test_the_risk_is_below_what_is_borne_until_it_is_reached(borne):
    """Student's t of scipy about the line, at a thousand times: below before the time found, as large at it."""
    for seed in range(8):
        line = gauge_drift(*history(0.3e-6, seed=seed))
        ahead = risk_reached(line, gauge_limit=LIMIT, borne_risk=borne, search_from=-2.0 * YEAR, search_until=8 * YEAR)
        times = np.linspace(-2.0 * YEAR, 8.0 * YEAR if ahead is None else ahead, 1001)
        away = line.last + times - line.middle
        spread = np.hypot(line.residual * np.sqrt(1.0 + 1.0 / line.counted), line.slope_deviation * away)
        beyond = [sign * (line.level + line.slope * away) - LIMIT for sign in (1.0, -1.0)]
        risk = sum(stats.t.cdf(one / spread, line.degrees_of_freedom) for one in beyond)
        if ahead == -2.0 * YEAR:
            assert risk[0] >= borne
        else:
            assert np.all(risk[:-1] < borne * (1.0 + 1e-6))
            assert ahead is None or risk[-1] == pytest.approx(borne, rel=1e-6)
