"""Gauges with their calibrations, and the look at the whole program."""

import shutil
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from lapwright.app import backups, gauges, health, tasks
from lapwright.model.readings import Calibration
from lapwright.testing.lot import GAUGE

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


def calibrated(lot, *, due, passed=True):
    """A second gauge whose calibration is due on a day."""
    gauges.register_gauge(replace(GAUGE, gauge_id="G2"), **lot.why())
    found = Calibration(
        gauge_id="G2", certificate="K-2", done=date(2025, 12, 1), due=due, deviation=0.0, expanded_uncertainty=1e-7,
        passed=passed,
    )  # fmt: skip
    return gauges.record_calibration(found, **lot.why())


@pytest.mark.parametrize(
    ("due", "passed", "state", "words"),
    [
        (date(2027, 11, 25), True, "in_date", None),
        (date(2026, 12, 5), True, "due_soon", "in 10 days"),
        (date(2026, 11, 25), True, "due_soon", "in 0 days"),
        (date(2026, 11, 20), True, "overdue", "5 days ago"),
        (date(2027, 11, 25), False, "failed", "failed its calibration"),
    ],
)
def test_a_calibration_holds_until_its_day_and_is_announced(lot, due, passed, state, words):
    """30 days before, on the day itself it still holds, after it not."""
    recorded = calibrated(lot, due=due, passed=passed)
    assert recorded.calibration_state == state
    sentences = gauges.gauge_warnings("G2", on=NOW.date())
    assert (words is None and sentences == ()) or words in sentences[0]


def test_a_gauge_without_calibration_says_so(lot):
    """Never calibrated is not the same as in date."""
    recorded = gauges.register_gauge(replace(GAUGE, gauge_id="G3"), **lot.why())
    assert recorded.calibration_state == "never_calibrated"
    assert "no calibration on record" in gauges.gauge_warnings("G3", on=NOW.date())[0]


def test_an_overdue_gauge_waits_for_a_hand_as_a_warning(lot):
    """First in the list, since the day it was due."""
    calibrated(lot, due=date(2026, 11, 20))
    first = tasks.waiting_tasks(now=NOW)[0]
    assert (first.verb, first.warning, first.since.date()) == ("gauge G2: have it calibrated", True, date(2026, 11, 20))


def test_everything_in_order_is_told_as_such(lot, records, monkeypatch):  # noqa: ARG001  its writes end the chain
    """Each thing looked at is good, once there is a backup that was restored, on another disk."""
    folder = records.data / "backups"
    now = datetime.now(UTC)
    made = backups.make_backup(records, folder, at=now)
    monkeypatch.setattr(health, "is_on_one_disk", lambda *_: False)
    (untried,) = [one for one in health.examine(records, now=now) if not one.is_good]
    backups.mark_verified(made, at=now)
    checks = health.examine(records, now=now)
    shutil.rmtree(folder)
    assert "never restored" in untried.sentence
    assert [check.name for check in checks] == [
        "version", "clock", "data folder", "disk", "permissions", "database", "schema", "clocks", "recorder", "gauges",
        "chain", "backups",
    ]  # fmt: skip
    assert [check.sentence for check in checks if not check.is_good] == []
    assert [check.advice for check in checks if check.advice] == []


def test_what_is_wrong_is_told_with_what_to_do(lot, records):
    """A wrong clock, a key that others may read, a gauge overdue, no backup; nothing is raised."""
    calibrated(lot, due=date(2026, 11, 20))
    key = records.data / "session-key"
    key.chmod(0o644)
    try:
        found = {one.name: one for one in health.examine(records, now=datetime(1970, 1, 1, tzinfo=UTC))}
        late = {one.name: one for one in health.examine(records, now=NOW)}
    finally:
        key.chmod(0o600)
    assert (found["clock"].verdict, found["clocks"].verdict) == ("wrong", "wrong")
    assert "still to come" in found["clocks"].sentence
    assert found["permissions"].advice == f"Run: chmod 600 {key}"
    assert "G2 was due" in late["gauges"].sentence
    assert late["backups"].advice.startswith("Run: lapwright backup")
    assert all(one.advice for one in late.values() if not one.is_good)


def test_a_backup_too_old_and_a_chain_without_its_end_are_told(lot, records):
    """Three days are more than the two that the setting allows; an anchor of a link that is not there."""
    folder = records.data / "backups"
    backups.make_backup(records, folder, at=NOW)
    anchors = records.data / "chain-anchors"
    text = anchors.read_text(encoding="ascii")
    first = text.split()[2]
    anchors.write_text(f"{text}999999 {'0' * 64} {first}\n", encoding="ascii")
    found = {one.name: one for one in health.examine(records, now=NOW + timedelta(days=3))}
    anchors.write_text(text, encoding="ascii")
    shutil.rmtree(folder)
    assert found["backups"].sentence.startswith("The last one is 3.0 days old")
    assert (found["chain"].verdict, found["chain"].advice) == ("wrong", "Run: lapwright verify")
    del lot
