"""The large shop: copies are what the use cases wrote, under names of their own."""

import pytest

from lapwright.app import orders, readings, tasks
from lapwright.testing import large_shop


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
