"""Quotations: reckoned, recorded as given, and compared with what the job took."""

import json
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from lapwright.app import documents, orders, prices, quotation_actual, quotations, readings, runs, shelf
from lapwright.app.quotation_days import day_done
from lapwright.app.wiring import current_settings
from lapwright.cli.main import exit_status
from lapwright.errors import BadInput, Conflict
from lapwright.formats.order_toml import order_text
from lapwright.model.board import ShopHours, WeekShift
from lapwright.model.prices import PriceList
from lapwright.model.request import RunRequest, ZeroRequest
from lapwright.model.shelf import Station
from lapwright.testing.lot import CARRIER_THICKNESS, ORDER, flat

WAFER = "AP-1-01"
OWN = PriceList(
    currency="EUR", labour=60.0, station_hour=30.0, pad=80.0, pad_life=144e3, piece_price=5.0, scrap=640.0,
    measuring_time=600.0, cleaning_time=300.0, set_up_time=1200.0, overhead=0.25,
)  # fmt: skip


def test_work_is_done_by_the_hours_of_the_shop():
    """18 h of work from Thursday on at 8 h a day, Friday off: Monday 8, Tuesday 16, Wednesday done."""
    hours = ShopHours(
        week=tuple(WeekShift(weekday=day, start=28800.0, end=57600.0) for day in range(5)), off=(date(2026, 11, 27),)
    )
    assert day_done(date(2026, 11, 26), 18 * 3600.0, hours) == date(2026, 12, 2)
    assert day_done(date(2026, 11, 26), 1.0, ShopHours(week=())) is None


@pytest.fixture
def routed(lot):
    """Prices recorded, everything read, the route chosen, the order quoted."""
    prices.record_prices(OWN, **lot.why())
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.route()
    quotations.record_quotation("AP-1", offer=quotations.Offer(started=1), **lot.why("asked by telephone"))
    return lot


def test_a_quotation_stays_as_it_was_given_and_is_compared_at_its_prices(routed):
    """Numbered, with its PDF, untouched by later prices; one run against it by hand at the quoted prices."""
    given = quotations.quotations("AP-1")[0]
    assert (given.quotation.number, given.signature.reason) == ("AP-1-Q1", "asked by telephone")
    printed = [Decimal(f"{one.cost:.2f}") for one in given.quotation.lines]
    assert sum(printed) == Decimal(f"{given.quotation.expected:.2f}")  # as somebody adds up what is printed
    for piece, total in (
        (given.quotation.piece_even, given.quotation.even), (given.quotation.piece_sure, given.quotation.sure),
    ):  # fmt: skip
        assert given.quotation.quantity * Decimal(f"{piece:.2f}") == Decimal(f"{total:.2f}")
    assert given.quotation.even < given.quotation.sure
    names = [one for one in orders.show_order("AP-1").documents if one.kind == "quotation_pdf"]
    assert [one.name for one in names] == ["AP-1-Q1.pdf"]
    assert documents.document_path(names[0].document_id).read_bytes().startswith(b"%PDF")
    prices.record_prices(replace(OWN, labour=900.0), **routed.why())
    assert quotations.quotations("AP-1")[0] == given
    second = quotations.record_quotation("AP-1", language="de", **routed.why()).quotation
    assert (second.number, second.price_version) == ("AP-1-Q2", 2)
    assert second.even > given.quotation.even
    from lapwright.records import writer  # Django must be set up first

    with pytest.raises(Conflict, match="quoted by someone else"):
        writer.add_quotation(given.quotation, given.signature)
    with pytest.raises(BadInput, match="at least as many"):
        quotations.reckoned(replace(ORDER, quantity=3), given.quotation.plan, on=given.quotation.issued,
                            offer=quotations.Offer(started=2))  # fmt: skip

    _one_run(routed)
    actual = quotation_actual.job_actual(given.quotation, orders.order_standing("AP-1"))
    came = {one.name: one.actual for one in actual.lines}
    # 21 writes, a minute each, for the set of the wafer and of the carrier; 25 min of bonding and 21 of its stack
    assert came["measure in"] == pytest.approx(42.0)
    assert came["bond"] == pytest.approx(25.0 + 21.0)
    assert came["set-up"] == pytest.approx(20.0)
    # a minute at 30 an hour; the list prices no slurry
    lap = came[next(name for name in came if name in ("Lap", "Coarse lap"))]
    assert lap == pytest.approx(0.5)
    assert came["overhead"] == pytest.approx(0.25 * (42.0 + 46.0 + 20.0 + lap + 5.0), abs=0.0051)  # in hundredths
    assert (actual.begun, actual.good, actual.lost, actual.is_over) == (1, 0, 0, False)


def test_a_pause_in_a_set_is_no_work(routed):
    """22 moments a minute apart with 45 min more between two of them: 20 min of work, a pause of 46; by hand."""
    before = _measured()
    read_with_a_pause(routed, timedelta(minutes=45))
    after = _measured()
    assert [now - then for now, then in zip(after, before, strict=True)] == pytest.approx([20 * 60.0, 46 * 60.0])


def test_a_reading_before_its_set_was_opened_counts(routed):
    """One reading 8 min early, so 3 before its set, which is open for 21 min: 24 in all; by hand."""
    before = _measured()
    read_with_a_pause(routed, timedelta(0), back=timedelta(minutes=8))
    assert _measured()[0] - before[0] == pytest.approx(24 * 60.0)


def test_the_command_quotes_a_file_and_an_order(lot, tmp_path, capsys):
    """The same fields from both; nothing recorded unless asked; both or neither is refused."""
    data = str(current_settings().data)
    lot.now = lot.now.replace(hour=9)
    file = tmp_path / "order.toml"
    file.write_text(order_text(replace(ORDER, order_id="AP-9", quantity=6, value_per_wafer=400.0)), encoding="utf-8")
    assert exit_status(["quote", str(file), "--json", "--data", data]) == 0
    told = json.loads(capsys.readouterr().out)["result"]
    assert told["number"] is None
    assert told["wafers_to_start"] >= 6
    assert told["chance_of_enough"] >= 0.90 > told["chance_with_one_fewer"]
    assert told["cost_expected"] == pytest.approx(sum(one["cost"] for one in told["stages"]))
    assert quotations.quotations("AP-1") == ()
    assert exit_status(["quote", "--json", "--data", data]) == 2
    assert json.loads(capsys.readouterr().out)["ok"] is False


# ----------------------------------------------------------------------------------------------------------------------


def _measured():
    """Seconds of work and of pauses in the sets of the order."""
    actual = quotation_actual.latest_actual("AP-1")[1]
    return next(one.person for one in actual.lines if one.name == "measure in"), actual.pauses


def read_with_a_pause(bench, pause, back=timedelta(0)):
    """The carrier read once more; before the fourth reading somebody is away, and its clock goes wrong."""
    opened = readings.open_set(bench.request("C1", "carrier", "carrier", repeats=2), **bench.why())
    readings.record_zero(opened.set_id, "0.0", when="before", **bench.why())
    site, number = opened.pattern.labels[0], 0
    while site is not None:
        number += 1
        bench.now += pause if number == 4 else timedelta(0)
        why = bench.why()
        why["at"] -= back if number == 4 else timedelta(0)
        site = readings.record_reading(opened.set_id, "1000.0", confirmed=True, **why).progress.site
    readings.record_zero(opened.set_id, "0.0", when="after", **bench.why())
    readings.close_set(opened.set_id, **bench.why())


def _one_run(bench):
    bench.bond(WAFER, flat(500e-6))
    planned = runs.next_stage(WAFER).planned
    station = Station(station_id="L1", name="L1", kind="lap", plate=planned.plate, abrasive=planned.abrasive)
    shelf.set_up_station(station, **bench.why())
    zero = ZeroRequest(wafer_id=WAFER, station_id="L1", jig_id="J1", texts=("0.0", "0.1", "0.2"))
    runs.take_zero(zero, **bench.why())
    started = runs.start_run(RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1"), **bench.why())
    runs.finish_run(started.run_id, gauge_removal="300 µm", **bench.why())
