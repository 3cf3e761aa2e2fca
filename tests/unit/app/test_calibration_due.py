"""The suggested due date of a gauge from its calibrations and check standards, in sentences."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from lapwright.app import gauge_care, gauges
from lapwright.app.calibration_due import due_forecast
from lapwright.model.gauge_care import CheckStandard
from lapwright.model.readings import Calibration
from lapwright.testing.lot import GAUGE

GAUGE_9 = replace(GAUGE, gauge_id="G9", limit=1e-6)
#: As found, each half year: 0.2 µm a year, off the line by turns by 0.02 µm.
FOUND = (0.02e-6, 0.08e-6, 0.22e-6, 0.28e-6, 0.42e-6)


def calibrate(lot, found, *, left=None, due=date(2027, 6, 1), start=date(2024, 11, 1)):
    """Gauge G9 calibrated each half year; adjusted to `left` each time when given."""
    gauges.register_gauge(GAUGE_9, **lot.why())
    for number, one in enumerate(found):
        done = start + timedelta(days=183 * number)
        kept = one if left is None else left
        calibration = Calibration(
            gauge_id="G9", certificate=f"C-{number}", done=done, due=max(due, done + timedelta(days=1)),
            deviation=kept, expanded_uncertainty=1e-7, as_found=one,
        )  # fmt: skip
        gauges.record_calibration(calibration, **lot.why())


def test_a_drifting_gauge_is_due_sooner_than_recorded(lot):
    """0.42 µm at 2 years and 0.2 µm a year: 1 µm is reached 2.9 years later; 5 % before, and within the history."""
    calibrate(lot, FOUND, due=date(2028, 10, 1))
    found = due_forecast("G9", on=lot.now.date())
    assert found.recorded == date(2028, 10, 1)
    assert found.suggested is None
    assert "no other date is suggested" in found.sentence
    steeper = [3.0 * one for one in FOUND[:4]]
    lot.now += timedelta(days=1)
    gauges.register_gauge(replace(GAUGE_9, gauge_id="G8", limit=1.4e-6), **lot.why())
    for number, one in enumerate(steeper):
        done = date(2025, 5, 1) + timedelta(days=183 * number)
        gauges.record_calibration(
            Calibration(gauge_id="G8", certificate=f"D-{number}", done=done, due=date(2027, 10, 1), deviation=one,
                        expanded_uncertainty=1e-7, as_found=one), **lot.why())  # fmt: skip
    found = due_forecast("G8", on=lot.now.date())
    assert lot.now.date() < found.suggested < found.recorded
    assert found.risk > 0.05
    assert "sooner than recorded. The recorded date stays" in found.sentence


def test_adjusting_each_time_hides_no_drift(lot):
    """As found 0.1 µm after each half year, adjusted to nought each time: a drift of 0.2 µm a year all the same."""
    calibrate(lot, (0.0, 0.1e-6, 0.11e-6, 0.09e-6, 0.1e-6), left=0.0)
    found = due_forecast("G9", on=lot.now.date())
    assert "drifts by +0.20\N{NO-BREAK SPACE}µm" in found.sentence
    assert "may be none" not in found.sentence


def test_the_readings_of_a_check_standard_count(lot):
    """One calibration says nothing; with five readings of a piece of unknown value there is a drift."""
    calibrate(lot, (0.0,), start=date(2026, 1, 1))
    before = due_forecast("G9", on=lot.now.date())
    assert (before.risk, before.suggested) == (None, None)
    assert "needs 2 more deviations" in before.sentence
    gauge_care.register_standard(CheckStandard(standard_id="R9", name="disc"), **lot.why())
    for number, value in enumerate(("400.00", "400.02", "400.02", "400.04", "400.05")):
        lot.now += timedelta(days=30 * (number > 0))
        gauge_care.record_check("G9", "R9", value, **lot.why())
    assert "it drifts by +" in due_forecast("G9", on=lot.now.date()).sentence


def test_the_history_begins_where_it_was_not_told_what_was_adjusted(lot):
    """A calibration without as-found deviation: what was before cannot be chained to now."""
    calibrate(lot, FOUND)
    gauges.record_calibration(
        Calibration(gauge_id="G9", certificate="C-X", done=date(2026, 11, 20), due=date(2027, 6, 1), deviation=0.0,
                    expanded_uncertainty=1e-7), **lot.why())  # fmt: skip
    found = due_forecast("G9", on=lot.now.date())
    assert found.suggested is None
    assert "needs 2 more deviations" in found.sentence


@pytest.mark.parametrize(("day", "said"), [(date(2029, 1, 1), "nothing is foretold"), (date(2027, 6, 2), "past due")])
def test_what_lies_too_far_ahead_is_not_foretold(lot, day, said):
    """Two years of history: two years ahead at most; past due it is the risk of today that is told."""
    calibrate(lot, FOUND)
    assert said in due_forecast("G9", on=day).sentence


def test_a_check_that_was_right_again_the_same_day_is_no_drift(lot):
    """Dirt of 3 µm on the last check: cleaned and read again it counts nothing; left so it counts in full."""
    calibrate(lot, (0.0,), start=date(2026, 1, 1))
    gauge_care.register_standard(CheckStandard(standard_id="R9", name="disc", value=400e-6), **lot.why())
    for number, value in enumerate(("400.00", "400.02", "400.02", "400.04", "400.05")):
        lot.now += timedelta(days=30 * (number > 0))
        gauge_care.record_check("G9", "R9", value, **lot.why())
    clean = due_forecast("G9", on=lot.now.date()).sentence
    gauge_care.record_check("G9", "R9", "403.05", **lot.why())
    dirty = due_forecast("G9", on=lot.now.date()).sentence
    gauge_care.record_check("G9", "R9", "400.05", **lot.why())
    again = due_forecast("G9", on=lot.now.date()).sentence
    assert "left out" not in clean + dirty
    assert "1 check was wrong and right again the same day" in again
    assert "± 0.0" in again
    assert "± 0.0" not in dirty
