"""The large shop: copies are what the use cases wrote, under names of their own."""

from datetime import UTC, date, datetime

import pytest

from lapwright.app import gauge_care, orders, readings, supplies, tasks
from lapwright.testing import large_desk, large_shop
from lapwright.testing.lot import Lot


@pytest.fixture
def copied(records, monkeypatch):  # noqa: ARG001  the database it writes to
    """Two orders of ten wafers, read in."""
    monkeypatch.setattr(large_shop, "POINTS", ("measured_in",))
    large_shop.fill(finished=0, waiting=2)


def test_copies_have_the_story_of_the_first_and_hold_together(copied):  # noqa: ARG001
    """Readings, texts, states and result are the same, names and keys are not; no key points nowhere; all 21 wait."""
    from django.db import connection

    first, copy = orders.show_wafer("AP-2-01"), orders.show_wafer("LS-00002-07")
    assert large_shop.counts()["wafer"] == 2 + 2 * 10
    assert [one.reading.text for one in copy.sets[0].readings] == [one.reading.text for one in first.sets[0].readings]
    assert copy.wafer.wafer.wafer_id == "LS-00002-07"
    assert copy.sets[0].set_id != first.sets[0].set_id
    result = readings.set_result(copy.sets[0].set_id)
    assert result.mean == readings.set_result(first.sets[0].set_id).mean
    assert [(one.before, one.after) for one in copy.events] == [(one.before, one.after) for one in first.events]
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA foreign_key_check")
        assert cursor.fetchall() == []
    waiting = tasks.waiting_tasks(now=orders.show_wafer("AP-2-01").wafer.since)
    assert sum(one.verb == "bond it to a carrier" for one in waiting) == 21


def test_what_stands_around_the_wafers_holds_together(copied, monkeypatch):  # noqa: ARG001  the shop it stands in
    """Copies of checks point at what there is, and can be shown; so can stations and lots."""
    from django.db import connection

    for name, few in (("GAUGES", 2), ("WEEKS", 4), ("LOTS", 2), ("PEOPLE", 3)):
        monkeypatch.setattr(large_desk, name, few)
    with connection.cursor() as cursor:
        for part in large_desk.PARTS[:4]:
            part(Lot(now=datetime(2026, 11, 3, 8, 0, tzinfo=UTC)), cursor.execute)
        cursor.execute("PRAGMA foreign_key_check")
        assert cursor.fetchall() == []
    assert len(gauge_care.list_checks("G2")) == 4
    assert gauge_care.checks_judged("G2")[-1].good
    assert supplies.lot_card("al2o3-15/1", on=date(2026, 11, 4)).may == "yes"
