"""Lines of Hands: the same thing to do for several wafers is one line."""

from datetime import UTC, datetime, timedelta

import pytest

from lapwright.model.story import DialNumber, Task

pytestmark = pytest.mark.usefixtures("django")
SINCE = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)


def task(wafer, *, number=38e-6, page="traveller", minutes=0, piece=None):
    """A task with a number to dial in."""
    dial = DialNumber(label="preset", value=number, dimension="length", symbol="µm") if number else None
    return Task(
        verb="lap", order_id="AP-1", wafer_id=wafer, station_id="L1", number=dial, since=SINCE + timedelta(minutes=minutes),
        why="it is zeroed", page=page, piece=piece,
    )  # fmt: skip


def lines(*tasks):
    """The lines of some tasks."""
    from lapwright.web.pages.hands import lines_of

    return lines_of(tasks)


def test_wafers_with_the_same_number_share_a_line():
    """Two wafers, one verb, one number: one line that names both, waiting since the first."""
    (line,) = lines(task("AP-1-01", minutes=3), task("AP-1-02"))
    assert line.wafers == ("AP-1-01", "AP-1-02")
    assert line.dial == "38.0\u00a0µm"
    assert line.since == SINCE


def test_another_number_is_another_line():
    """A wafer with a number of its own never hides behind another's."""
    assert [line.dial for line in lines(task("AP-1-01"), task("AP-1-02", number=41e-6))] == [
        "38.0\u00a0µm", "41.0\u00a0µm",
    ]  # fmt: skip


def test_the_order_of_tasks_stays():
    """What the use case puts first stands first."""
    shown = lines(task("AP-1-02", number=1e-6), task("AP-1-01", number=2e-6), task("AP-1-03", number=1e-6))
    assert [line.wafers[0] for line in shown] == ["AP-1-02", "AP-1-01"]


def test_a_line_leads_to_where_the_work_is_recorded():
    """Readings are taken on Readings, a run on the page of the wafer, a gauge or a plate is cared for by its own form."""
    leads = {
        page: lines(task("AP-1-01", page=page, piece=piece))[0].address
        for page, piece in (
            ("readings", None), ("carrier", "C-1"), ("traveller", None), ("route", None), ("changeover", None),
            ("gauges", "G1"), ("plates", "L1-plate"),
        )
    }  # fmt: skip
    assert leads == {
        "readings": "/orders/AP-1/readings?wafer=AP-1-01",
        "carrier": "/orders/AP-1/readings?piece=C-1",
        "traveller": "/orders/AP-1/wafers/AP-1-01",
        "route": "/orders/AP-1/route",
        "changeover": "/orders/AP-1/wafers/AP-1-01/changeover",
        "gauges": "/gauges/G1#calibrate-form",
        "plates": "/plates/L1-plate#check-form",
    }
