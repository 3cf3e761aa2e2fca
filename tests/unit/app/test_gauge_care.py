"""Care of gauges: policies, checks, corrections, and what a gauge has touched."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from lapwright.app import gauge_care, gauges, importing, readings
from lapwright.errors import BadInput, Conflict, NotFound, OutOfValidRange, UnitError
from lapwright.model.gauge_care import CheckStandard
from lapwright.model.readings import Calibration, CurvePoint
from lapwright.model.request import ImportRequest
from lapwright.testing.lot import GAUGE, flat

WAFER = "AP-1-01"
STANDARD = CheckStandard(standard_id="R500", name="glass disc", value=500e-6, expanded_uncertainty=0.2e-6)


def calibrate(lot, **changes):
    """A calibration of the gauge of the bench, done today, in order unless told otherwise."""
    day = lot.now.date()
    given = {"gauge_id": "G1", "certificate": "K-2", "done": day, "due": day + timedelta(days=365), "deviation": 0.0,
             "expanded_uncertainty": 1e-7, **changes}  # fmt: skip
    return gauges.record_calibration(Calibration(**given), **lot.why())


def check(lot, text):
    """The standard read once."""
    gauge_care.register_standard(STANDARD, **lot.why())
    return gauge_care.record_check("G1", "R500", text, **lot.why())


@pytest.mark.parametrize("changes", [{"passed": False}, {"due": date(2026, 11, 20), "done": date(2026, 11, 25)}])
def test_a_gauge_past_due_or_failed_flags_a_new_set(lot, changes):
    """The set is taken and carries the sentence for good."""
    calibrate(lot, **changes)
    opened = readings.open_set(lot.request(WAFER, "wafer", "incoming"), **lot.why())
    assert "G1" in opened.gauge_flag
    assert readings.show_set(opened.set_id).gauge_flag == opened.gauge_flag


def test_a_gauge_in_date_leaves_no_flag(lot):
    """Nothing to say, nothing said."""
    opened = readings.open_set(lot.request(WAFER, "wafer", "incoming"), **lot.why())
    assert opened.gauge_flag is None
    assert gauge_care.fitness("G1", on=lot.now.date()).may_use == "yes"


def test_a_gauge_with_the_policy_block_refuses_new_sets(lot, tmp_path):
    """By hand and from a file; the sentence says why and what to do."""
    gauges.register_gauge(replace(GAUGE, when_unfit="block"), **lot.why())
    calibrate(lot, passed=False)
    with pytest.raises(Conflict, match=r"takes no new sets now.*failed its calibration.*another gauge"):
        readings.open_set(lot.request(WAFER, "wafer", "incoming"), **lot.why())
    file = tmp_path / "set.csv"
    rows = "".join(f"{WAFER},{site},{x},{y},500.{site}\n" for site, x, y in ((1, 0, 0), (2, 15, 0), (3, 0, 15)))
    file.write_text("wafer,site,x_mm,y_mm,thickness_um\n" + rows, encoding="utf-8")
    request = ImportRequest(subject="wafer", moment="incoming", gauge_id="G1", order_id="AP-1")
    with pytest.raises(Conflict, match="takes no new sets now"):
        importing.import_readings(file, request, **lot.why())


@pytest.mark.parametrize(("text", "good"), [("500.53", True), ("500.55", False), ("0.49946 mm", False)])
def test_a_check_is_judged_by_gauge_limit_and_standard_together(lot, text, good):
    """sqrt(0.5² + 0.2²) µm = 0.5385 µm: 0.53 is within, 0.55 and 0.54 are not."""
    check(lot, text)
    assert [one.good for one in gauge_care.checks_judged("G1")] == [good]
    assert (gauge_care.fitness("G1", on=lot.now.date()).may_use == "yes") == good


def test_a_wrong_check_flags_until_a_right_one(lot):
    """The last check counts."""
    check(lot, "501.2")
    assert "read wrong on R500" in gauge_care.flag_of("G1", on=lot.now.date())
    gauge_care.record_check("G1", "R500", "500.1", **lot.why())
    assert gauge_care.flag_of("G1", on=lot.now.date()) is None


def test_a_check_needs_a_length_and_something_known(lot):
    """A dash, a word, a gauge or a standard that is not recorded."""
    with pytest.raises(BadInput, match="found a dash"):
        gauge_care.record_check("G1", None, "-", **lot.why())
    with pytest.raises(UnitError):
        gauge_care.record_check("G1", None, "heavy", **lot.why())
    with pytest.raises(NotFound):
        gauge_care.record_check("G9", None, "0.1", **lot.why())
    with pytest.raises(NotFound):
        gauge_care.record_check("G1", "R9", "0.1", **lot.why())
    assert gauge_care.list_checks("G1") == ()


def test_a_zero_check_is_kept_as_typed(lot):
    """Text, unit and value; no standard."""
    found = gauge_care.record_check("G1", None, " 0.3 ", **lot.why())
    assert (found.text, found.unit, found.value, found.standard_id) == ("0.3", "µm", pytest.approx(0.3e-6), None)


def test_the_zeros_of_sets_are_the_zero_history(lot):
    """Before and after each set, with the wafer."""
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    found = gauge_care.zero_history("G1")
    assert [(one.piece, one.before, one.after) for one in found] == [(WAFER, 0.0, pytest.approx(0.0, abs=1e-6))]


def test_a_zero_counts_as_soon_as_it_is_read(lot):
    """Before, after, and corrected: of all gauges the same as of one, while the set is still open; readings are none."""
    opened = readings.open_set(lot.request(WAFER, "wafer", "incoming", repeats=1), **lot.why())
    assert gauge_care.zeros_of_all()["G1"] == ()
    readings.record_zero(opened.set_id, "0.3", when="before", **lot.why())
    (first,) = gauge_care.zeros_of_all()["G1"]
    assert (first.before, first.after) == (pytest.approx(0.3e-6), None)
    readings.record_reading(opened.set_id, "500.0", confirmed=True, **lot.why())
    assert gauge_care.zeros_of_all()["G1"] == (first,) == gauge_care.zero_history("G1")
    readings.record_zero(opened.set_id, "0.5", when="after", **lot.why())
    (last,) = gauge_care.zeros_of_all()["G1"]
    assert (last.before, last.after) == (pytest.approx(0.3e-6), pytest.approx(0.5e-6))


def test_a_correction_curve_moves_the_result_and_not_the_readings(lot):
    """+0.4 µm at 500 µm: the mean moves by that, the text stays, the budget and a notice say so."""
    taken = lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    plain = readings.set_result(taken.set_id)
    curve = (CurvePoint(value=0.0, correction=0.0, expanded_uncertainty=0.2e-6),
             CurvePoint(value=1e-3, correction=0.8e-6, expanded_uncertainty=0.2e-6))  # fmt: skip
    calibrate(lot, curve=curve)
    corrected = readings.set_result(taken.set_id)
    assert corrected.mean - plain.mean == pytest.approx(0.4e-6, abs=1e-9)
    assert [one.reading for one in readings.show_set(taken.set_id).readings] == [one.reading for one in taken.readings]
    line = corrected.mean_budget.contributions[-1]
    assert (line.name, line.standard_uncertainty) == ("correction curve, certificate K-2", pytest.approx(0.1e-6))
    assert corrected.mean_uncertainty.standard_uncertainty > plain.mean_uncertainty.standard_uncertainty
    assert dict(corrected.warnings)["thickness.corrected_by_curve"].startswith("Corrected by certificate K-2: +0.40")
    assert corrected.ttv == pytest.approx(plain.ttv, abs=2e-9)


def test_readings_beyond_the_curve_are_not_corrected_and_it_is_said(lot):
    """A curve to 100 µm says nothing about 500 µm."""
    taken = lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    plain = readings.set_result(taken.set_id)
    calibrate(lot, curve=(CurvePoint(value=0.0, correction=0.0, expanded_uncertainty=0.0),
                          CurvePoint(value=1e-4, correction=1e-6, expanded_uncertainty=0.0)))  # fmt: skip
    result = readings.set_result(taken.set_id)
    assert result.mean == plain.mean
    assert "Nothing was corrected" in dict(result.warnings)["thickness.not_corrected"]


def test_a_curve_rises_and_comes_back_as_it_went_in(lot):
    """A certificate with the same reading twice is refused; as found and interval are kept."""
    point = CurvePoint(value=0.0, correction=1e-7, expanded_uncertainty=1e-7)
    with pytest.raises(OutOfValidRange):
        calibrate(lot, curve=(point, point))
    calibrate(lot, curve=(point,), as_found=0.3e-6, interval_days=180)
    latest = gauge_care.list_calibrations("G1")[-1]
    assert (latest.curve, latest.as_found, latest.interval_days) == ((point,), 0.3e-6, 180)


def test_what_a_gauge_touched_since_its_last_good_check(lot):
    """A right check, two sets with verdicts, a wrong check: both sets, the wafer and its verdicts; not what was before."""
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    check(lot, "500.1")
    carrier = lot.read("C1", "carrier", "carrier", flat(6e-3))
    gauge_care.record_check("G1", "R500", "502.0", **lot.why())
    found = gauge_care.what_did_this_gauge_touch("G1")
    assert [one.set_id for one in found.sets] == [carrier.set_id]
    assert "read right on R500" in found.why
    assert "read wrong on R500" in found.why
    assert found.until is None
    assert gauge_care.touched_of_late("G1") == found
    later = lot.read("C1", "carrier", "carrier", flat(6e-3))
    assert [one.set_id for one in gauge_care.touched_of_late("G1").sets] == [carrier.set_id, later.set_id]
    check(lot, "500.0")
    assert gauge_care.touched_of_late("G1") == gauge_care.what_did_this_gauge_touch("G1") != found


def test_a_set_that_was_closed_since_then_was_touched_too(lot):
    """Opened before the moment and closed after it, as late as to the minute; not one that was closed before it."""
    before = lot.now
    read = lot.read("C1", "carrier", "carrier", flat(6e-3))
    (touched,) = gauge_care.what_did_this_gauge_touch("G1", since=before).sets
    for since in (touched.at + timedelta(seconds=1), lot.now):
        found = gauge_care.what_did_this_gauge_touch("G1", since=since)
        assert [one.set_id for one in found.sets] == [read.set_id]
    assert gauge_care.what_did_this_gauge_touch("G1", since=lot.now + timedelta(seconds=1)).sets == ()


def test_a_gauge_found_beyond_its_limit_puts_the_time_before_in_doubt(lot, monkeypatch):
    """As found 2 µm off, then adjusted: from the last good check to the calibration; wafer and verdicts are named.

    The same when the database is asked for one row after the other, as it is in batches where there are many.
    """
    lot.read("C1", "carrier", "carrier", flat(6e-3))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.route()
    bond = lot.bond(WAFER, flat(500e-6))
    lot.work(WAFER)
    judged = lot.finish(WAFER, bond.bond_id, flat(100e-6))
    lot.now += timedelta(days=1)
    calibrate(lot, as_found=2e-6)
    found = gauge_care.what_did_this_gauge_touch("G1")
    by_sets = [one for one in judged if one.set_id is not None]
    assert found.until is not None
    assert "found off by 2.00" in found.why
    assert found.wafers == ((WAFER, "AP-1"),)
    assert [one.verdict_id for one in found.verdicts] == [one.verdict_id for one in by_sets]
    assert len(found.sets) >= 5
    monkeypatch.setattr("lapwright.records.touched_queries.MOST_ASKED", 1)
    assert gauge_care.what_did_this_gauge_touch("G1") == found


def test_a_gauge_never_shown_to_be_good_touched_everything(lot):
    """No calibration, no check: no beginning."""
    gauges.register_gauge(replace(GAUGE, gauge_id="G3"), **lot.why())
    found = gauge_care.what_did_this_gauge_touch("G3")
    assert (found.since, found.sets, found.why) == (None, (), "It was never shown to be good.")


def test_a_policy_stays_until_it_is_changed(lot):
    """What is newly known of a gauge does not change what happens while it is unfit."""
    assert gauge_care.policy_of("G1") == gauge_care.policy_of("not recorded") == "flag"
    gauges.register_gauge(gauge_care.with_policy(GAUGE, "block"), **lot.why())
    assert gauge_care.policy_of("G1") == "block"
