"""What every database must hold: the same suite on SQLite, and on PostgreSQL when LAPWRIGHT_TEST_DATABASE names one."""

import threading
from dataclasses import replace
from datetime import datetime, timedelta, timezone

import pytest

from lapwright.app import bonding, gauges, orders, readings, routes, shelf
from lapwright.errors import BadInput, Conflict, NotFound, SettingError
from lapwright.model.order import Limit
from lapwright.model.request import BondRequest
from lapwright.model.shelf import Station
from lapwright.model.story import SetBrief
from lapwright.testing.lot import GAUGE, ORDER, flat

WAFER = "AP-1-01"
FROZEN = (
    "reading", "finding", "calibration", "verdict", "document", "note", "waferevent", "change", "surface",
    "gaugecheck", "studyreading", "jigmove", "pricelist",
    "quotation",
)  # fmt: skip


def read_in(lot):
    """The wafer read in."""
    return lot.read(WAFER, "wafer", "incoming", flat(500e-6))


@pytest.mark.usefixtures("lot")
def test_an_order_comes_back_as_it_went_in():
    """Every field, limits and outline included, bit for bit."""
    assert orders.show_order("AP-1").order.order == ORDER


def test_every_row_says_who_when_and_why(lot):
    """A write carries by, reason and at."""
    why = lot.why("taken from the box")
    opened = readings.open_set(lot.request(WAFER, "wafer", "incoming"), **why)
    assert why == {"by": opened.opened.by, "reason": opened.opened.reason, "at": opened.opened.at}


@pytest.mark.usefixtures("lot")
def test_times_are_recorded_in_utc():
    """Half past ten in a zone two hours ahead is half past eight."""
    ahead = datetime(2026, 5, 4, 10, 30, tzinfo=timezone(timedelta(hours=2)))
    note = orders.add_note("AP-1", "early", by="local", reason="", at=ahead)
    assert note.signature.at.isoformat() == "2026-05-04T08:30:00+00:00"
    assert orders.show_order("AP-1").notes[0].signature.at == ahead


@pytest.mark.parametrize("statement", ["UPDATE records_{0} SET reason = 'x'", "DELETE FROM records_{0}"])
def test_the_database_refuses_to_change_a_record(lot, statement):
    """A trigger stands behind the program: on no table of records does UPDATE or DELETE go through."""
    from django.db import DatabaseError, connection, transaction

    _one_row_of_each(lot)
    refused = []
    for name in FROZEN:
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT count(*) FROM records_{name}")
            assert cursor.fetchone()[0] > 0
            try:
                with transaction.atomic():
                    cursor.execute(statement.format(name))
            except DatabaseError as error:
                refused.append((name, "never changed or deleted" in str(error)))
    assert refused == [(name, True) for name in FROZEN]


def test_the_program_refuses_to_change_a_reading(lot):
    """Before the database is asked: save, update and delete are refused with a sentence."""
    from lapwright.records import models

    read_in(lot)
    row = models.Reading.objects.first()
    row.text = "499.0"
    for deed in (row.save, row.delete, models.Reading.objects.all().delete, models.Reading.objects.all().update):
        with pytest.raises(Conflict, match="once recorded is never"):
            deed()


def test_a_stale_version_is_refused_and_told_what_changed(lot):
    """Two people amend the same order; the second learns who changed what, and nothing is overwritten."""
    version = orders.show_order("AP-1").order.version
    orders.amend_order(replace(ORDER, notes="call first"), version=version, **lot.why())
    with pytest.raises(Conflict, match=r"by someone else.*local at .*notes +→ call first"):
        orders.amend_order(replace(ORDER, notes="by post"), version=version, **lot.why())
    assert orders.show_order("AP-1").order.order.notes == "call first"


def test_a_stale_close_is_refused(lot):
    """A set that somebody voided meanwhile is not closed."""
    opened = readings.open_set(lot.request(WAFER, "wafer", "incoming"), **lot.why())
    readings.record_reading(opened.set_id, "500.0", **lot.why())
    readings.void_set(opened.set_id, **lot.why("wrong wafer"))
    with pytest.raises(Conflict, match="void"):
        readings.close_set(opened.set_id, version=opened.version, **lot.why())


def test_an_order_in_brief_tells_what_its_story_tells(lot):
    """The same rows without their readings; nine sites read twice count 18, one of them corrected, zeros not; names stay words."""
    opened = readings.open_set(lot.request(WAFER, "wafer", "incoming"), **lot.why())
    first = readings.record_reading(opened.set_id, "500.0", **lot.why()).stored.reading.reading_id
    readings.correct_reading(opened.set_id, first, "500.1", **lot.why("slip of the pen"))
    readings.void_set(opened.set_id, **lot.why("wrong wafer"))
    read_in(lot)
    story, brief = orders.show_order("AP-1"), orders.order_brief("AP-1")
    (whole,), (short,) = story.wafers, brief.wafers

    assert [one.n_readings for one in short.sets] == [1, 18]
    assert short.sets == tuple(SetBrief.of(one) for one in whole.sets)
    assert short.wafer == whole.wafer
    assert brief.order == story.order
    assert brief.route is None
    routes.choose_route("AP-1", replace(_plan(), name="17"), **lot.why())
    assert orders.order_brief("AP-1").route == "17"


def test_an_order_is_as_good_as_the_worst_of_its_wafers(lot):
    """By the latest verdict on each limit; what was rejected does not count, and what was never judged has none."""
    from lapwright.model.readings import Signature
    from lapwright.records import writer

    def judge(wafer_id, quantity, outcome):
        verdict = replace(_verdict(), limit=ORDER.limit(quantity), outcome=outcome)
        writer.add_verdicts(wafer_id, [(verdict, None, None)], Signature(**lot.why()))
        return {line.order_id: line.worst for line in orders.list_orders()}

    orders.receive_order(replace(ORDER, order_id="AP-2", quantity=2), **lot.why())
    assert judge("AP-2-01", "ttv", "conforms") == {"AP-1": None, "AP-2": "conforms"}
    assert judge("AP-2-02", "ttv", "does_not_conform")["AP-2"] == "does_not_conform"
    assert judge("AP-2-02", "thickness", "cannot_be_decided")["AP-2"] == "does_not_conform"
    assert judge("AP-2-02", "ttv", "conforms")["AP-2"] == "cannot_be_decided"
    assert judge(WAFER, "ttv", "conforms")["AP-1"] == "conforms"
    orders.reject_wafer("AP-2-02", **lot.why("broken"))
    assert {line.order_id: line.worst for line in orders.list_orders(count=5)}["AP-2"] == "conforms"


def test_what_is_fixed_in_an_order_cannot_change(lot):
    """Once a wafer is read, outline and start thickness stay; limits may be agreed anew."""
    read_in(lot)
    version = orders.show_order("AP-1").order.version
    with pytest.raises(Conflict, match="start thickness"):
        orders.amend_order(replace(ORDER, start_thickness=510e-6), version=version, **lot.why())
    looser = replace(ORDER, limits=(Limit(quantity="ttv", upper=3e-6),))
    assert version + 1 == orders.amend_order(looser, version=version, **lot.why()).version


def test_a_failure_inside_a_transaction_leaves_nothing(lot):
    """The second of two orders is refused, so the first is not there either."""
    from lapwright.records import writer

    def receive_both():
        with writer.transaction():
            orders.receive_order(replace(ORDER, order_id="AP-2"), **lot.why())
            orders.receive_order(ORDER, **lot.why())

    with pytest.raises(Conflict):
        receive_both()
    with pytest.raises(NotFound):
        orders.show_order("AP-2")


@pytest.mark.usefixtures("lot")
def test_a_time_without_zone_and_a_stranger_are_refused_together():
    """All faults of a signature at once."""
    nowhen = datetime(2026, 1, 1)  # noqa: DTZ001  the fault meant here
    with pytest.raises(BadInput) as caught:
        gauges.register_gauge(replace(GAUGE, gauge_id="G9"), by="nobody", reason="", at=nowhen)
    assert [fault.field for fault in caught.value.faults] == ["at", "by"]


def test_a_carrier_bears_one_wafer(lot):
    """The second bond on it is refused and names the first wafer."""
    orders.receive_order(replace(ORDER, order_id="AP-2"), **lot.why())
    for wafer in (WAFER, "AP-2-01"):
        lot.read(wafer, "wafer", "incoming", flat(500e-6))
    request = BondRequest(wafer_id=WAFER, carrier_id="C1", adhesive="wax")
    bonding.record_bond(request, **lot.why())
    with pytest.raises(Conflict, match=WAFER):
        bonding.record_bond(replace(request, wafer_id="AP-2-01"), **lot.why())


def test_two_writers_at_once_both_succeed_in_turn(lot):
    """Forty writes from four threads: none lost, none twice, every version counted."""
    from django.db import connections

    troubles = []

    def write(number):
        try:
            for turn in range(10):
                station = Station(station_id="L1", name=f"{number}-{turn}", kind="lap")
                shelf.set_up_station(station, by="local", reason=f"{number}-{turn}", at=lot.now)
        except Exception as error:  # noqa: BLE001  shown by the assertion
            troubles.append(error)
        finally:
            connections.close_all()

    before = _station("L1").version
    threads = [threading.Thread(target=write, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert troubles == []
    assert before + 40 == _station("L1").version


def test_two_readings_at_once_get_two_places(lot):
    """Two people typing into one set: both readings are there, in different places."""
    from django.db import connections

    opened = readings.open_set(lot.request(WAFER, "wafer", "incoming"), **lot.why())
    together = threading.Barrier(2)

    def write(site):
        together.wait()
        try:
            readings.record_reading(opened.set_id, "500.0", site=site, by="local", reason="", at=lot.now)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=write, args=(site,)) for site in opened.pattern.labels[:2]]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    found = readings.show_set(opened.set_id).readings
    assert [one.sequence for one in found] == [1, 2]
    assert set(opened.pattern.labels[:2]) == {one.reading.site for one in found}


def test_other_settings_in_the_same_process_are_refused(started_records, tmp_path):
    """Django is set up once; the sentence says to use a second process."""
    from lapwright.app import wiring

    wiring.start(started_records)
    with pytest.raises(SettingError, match="Use a second process"):
        wiring.start(replace(started_records, data=tmp_path))


def test_the_list_of_orders_puts_the_earliest_due_first(lot):
    """Those without a date come last."""
    from datetime import date

    orders.receive_order(replace(ORDER, order_id="AP-2", due=date(2026, 12, 9)), **lot.why())
    orders.receive_order(replace(ORDER, order_id="AP-3", due=date(2026, 12, 1)), **lot.why())
    assert [line.order_id for line in orders.list_orders()] == ["AP-3", "AP-2", "AP-1"]


# ----------------------------------------------------------------------------------------------------------------------


def _station(name):
    return next(one for one in shelf.list_stations() if one.station.station_id == name)


def _one_row_of_each(lot):
    """A row in each table that never changes."""
    from lapwright.app import gauge_care, gauge_studies, jig_moves, prices, surface_records, verdicts
    from lapwright.app.documents import store_document
    from lapwright.model.gauge_care import StudyRequest
    from lapwright.model.readings import Signature
    from lapwright.model.request import FindingRequest
    from lapwright.model.surface_record import ProfileSettings, SurfaceRequest
    from lapwright.records import writer
    from lapwright.testing.faces import profile_file

    read_in(lot)
    orders.add_note("AP-1", "handle with care", **lot.why())
    store_document("AP-1", "a.txt", b"a", **lot.why())
    finding = FindingRequest(wafer_id=WAFER, quantity="bow", text="3 µm", method="three balls")
    verdicts.record_finding(finding, **lot.why())
    face = SurfaceRequest(wafer_id=WAFER, moment="final", files=(("a.csv", profile_file()),))
    surface_records.record_profile(face, ProfileSettings(), **lot.why())
    gauge_care.record_check("G1", None, "0.1", **lot.why())
    study = StudyRequest(study_id="S1", gauge_id="G1", parts=("a", "b"), operators=("c", "d"), repeats=2, seed=1)
    gauge_studies.plan_study(study, **lot.why())
    gauge_studies.record_study_reading("S1", "500", **lot.why())
    writer.add_verdicts(WAFER, [(_verdict(), None, None)], Signature(**lot.why()))
    jig_moves.record_move("J1", (1.0, -1.0, 0.0), wafer_id=WAFER, **lot.why())
    prices.record_prices(replace(prices.usual_prices(), currency="EUR"), **lot.why())
    writer.add_quotation(_quotation(lot), Signature(**lot.why()))


def _verdict():
    """A verdict on the thickness."""
    from lapwright.model.order import DecisionRule
    from lapwright.model.verdict import Verdict

    return Verdict(
        limit=ORDER.limits[0], value=1e-4, expanded_uncertainty=1e-6, rule=DecisionRule(), outcome="conforms",
        chance_inside=0.99, reason="",
    )  # fmt: skip


def _quotation(lot):
    """What the order costs by a plan of one reading."""
    from lapwright.app import quotations

    return quotations.reckoned(ORDER, _plan(), on=lot.now.date())


def _plan():
    """A plan of one reading."""
    from lapwright.model.plan import Plan, Stage

    reading = Stage(kind="measure", name="Measure", time=600.0)
    return Plan(
        name="read", stages=(reading,), start_thickness=500e-6, target_thickness=100e-6, total_time=600.0,
        chance_in_tolerance=0.9, damage_left=0.0,
    )  # fmt: skip


def test_a_quotation_comes_back_as_it_went_in(lot):
    """Route, prices and every line bit for bit; a version is given once."""
    from lapwright.app import quotations
    from lapwright.model.readings import Signature
    from lapwright.records import writer

    given = _quotation(lot)
    writer.add_quotation(given, Signature(**lot.why()))
    assert [one.quotation for one in quotations.quotations("AP-1")] == [given]
    with pytest.raises(Conflict, match="quoted by someone else"):
        writer.add_quotation(given, Signature(**lot.why()))


def test_a_flag_a_curve_and_a_study_come_back_as_they_went_in(lot):
    """What a set was flagged with, the corrections of a certificate, the plan, the readings and the figures."""
    from lapwright.app import gauge_care, gauge_studies
    from lapwright.model.gauge_care import StudyRequest
    from lapwright.model.readings import Calibration, CurvePoint

    curve = (CurvePoint(value=0.0, correction=1e-7, expanded_uncertainty=1e-7),)
    day = lot.now.date()
    failed = Calibration(
        gauge_id="G1", certificate="K-2", done=day, due=day, deviation=1e-6, expanded_uncertainty=1e-7, passed=False,
        interval_days=90, as_found=2e-6, curve=curve,
    )  # fmt: skip
    gauges.record_calibration(failed, **lot.why())
    assert gauge_care.list_calibrations("G1")[-1] == failed
    opened = readings.open_set(lot.request(WAFER, "wafer", "incoming"), **lot.why())
    assert readings.show_set(opened.set_id).gauge_flag == opened.gauge_flag
    assert "K-2" in opened.gauge_flag or "failed" in opened.gauge_flag
    asked = StudyRequest(
        study_id="S1", gauge_id="G1", parts=("a", "b"), operators=("c", "d"), repeats=2, seed=1, tolerance=4e-6
    )
    study = gauge_studies.plan_study(asked, **lot.why())
    for line in study.plan.sheet:
        value = 500 + (line.part == "b") + 0.1 * (line.operator == "d") + 0.05 * line.repeat
        gauge_studies.record_study_reading("S1", f"{value:.2f}", **lot.why())
    filed = gauge_studies.file_study("S1", **lot.why())
    assert (filed.plan, filed.state, len(filed.readings)) == (study.plan, "filed", 8)
    assert filed.figures == gauge_studies.list_studies("G1")[0].figures
    with pytest.raises(Conflict):
        gauge_studies.void_study("S1", by="local", reason="late", at=lot.now, version=1)


def test_a_stream_comes_back_bit_by_bit_and_is_never_changed(records):
    """Readings in portions become blocks; tails are read along; a block, an event and the end refuse every change."""
    import numpy as np
    from django.db import DatabaseError, connection, transaction

    from lapwright.model.live import Feed, StreamEvent
    from lapwright.model.readings import Signature
    from lapwright.records import queries, stream_queries, writer
    from lapwright.records.stream_blocks import Portion
    from lapwright.records.writer.streams import NewEnd
    from lapwright.testing.live import open_streams, ready_lot

    lot = ready_lot(records)
    (stream_id,) = open_streams(lot, 1)
    times, lengths = np.round(np.arange(1, 431) / 100.0, 6), np.arange(430) / 1e7
    for first in range(0, 430, 43):
        part = slice(first, first + 43)
        event = StreamEvent(kind="gap", time=float(first), code="gauge.gap", sentence="Silent.")
        writer.add_portions([Portion(stream_id=stream_id, times=times[part], lengths=lengths[part], events=(event,))])
    back = stream_queries.stream_readings(stream_id)
    assert (times.tolist(), lengths.tolist()) == (back[0].tolist(), back[1].tolist())
    writer.end_stream(stream_id, NewEnd(outcome="target", removed=1e-5), Signature(**lot.why()))
    ended = stream_queries.stream(stream_id)
    assert (ended.outcome, ended.readings, len(ended.events)) == ("target", 430, 10)
    assert times.tolist() == stream_queries.stream_readings(stream_id)[0].tolist()
    writer.put_feed(Feed(station_id="L1", source="keyboard:?unit=um"), Signature(**lot.why()))
    writer.add_request("L1", "stop", None, Signature(**lot.why()))
    assert queries.station("L1").station.station_id == stream_queries.open_requests()[0][1] == "L1"
    for table in ("stream", "streamend", "streamblock", "streamevent", "liverequest"):
        with connection.cursor() as cursor:
            with pytest.raises(DatabaseError), transaction.atomic():
                cursor.execute(f"DELETE FROM records_{table}")
            cursor.execute(f"SELECT COUNT(*) FROM records_{table}")
            assert cursor.fetchone()[0] > 0


def test_what_a_gauge_touched_and_whom_it_meets_are_found_alike(lot):
    """Standard, check, sets of two gauges on one wafer, a face with its file: each back as it went in, and listed."""
    from dataclasses import replace

    from lapwright.app import gauge_care, gauge_pairs, surface_records
    from lapwright.model.gauge_care import CheckStandard
    from lapwright.model.surface_record import ProfileSettings, SurfaceRequest
    from lapwright.testing.faces import profile_file
    from lapwright.testing.lot import GAUGE

    gauges.register_gauge(replace(GAUGE, gauge_id="G2"), **lot.why())
    standard = CheckStandard(standard_id="R5", name="disc ⌀ 25", value=5e-4, expanded_uncertainty=8e-8)
    assert gauge_care.register_standard(standard, **lot.why()) == gauge_care.list_standards()[0]
    check = gauge_care.record_check("G1", "R5", "500,07 µm", **lot.why())
    assert (check.text, check.value, gauge_care.list_checks("G1")) == ("500,07 µm", 5.0007e-4, (check,))
    first = read_in(lot)
    again = readings.open_set(replace(lot.request(WAFER, "wafer", "incoming"), gauge_id="G2"), **lot.why())
    readings.record_zero(again.set_id, "0", when="before", **lot.why())
    for _ in range(18):
        readings.record_reading(again.set_id, "500.2", confirmed=True, **lot.why())
    readings.record_zero(again.set_id, "0", when="after", **lot.why())
    second = readings.close_set(again.set_id, **lot.why())
    assert [one.set_ids for one in gauge_pairs.list_pairs("G1")] == [(first.set_id, second.set_id)]
    touched = gauge_care.what_did_this_gauge_touch("G1", since=check.signature.at)
    assert ([one.set_id for one in touched.sets], touched.wafers) == ([first.set_id], ((WAFER, "AP-1"),))
    face = SurfaceRequest(wafer_id=WAFER, moment="final", files=(("a.csv", profile_file()),))
    kept = surface_records.record_profile(face, ProfileSettings(), **lot.why())
    assert surface_records.show_surface(kept.surface_id) == kept


def test_a_plate_and_its_history_come_back_as_they_went_in(lot):
    """Plate, readings as typed, the ring's place, a correction; the history is never changed."""
    from django.db import DatabaseError, connection, transaction

    from lapwright.app import plates
    from lapwright.model.plates import Plate

    plate = Plate(
        plate_id="P1", name="glass", inner_radius=0.04, outer_radius=0.15, ring_outer_radius=0.065,
        least_offset=0.085, most_offset=0.112, offset=0.105,
    )  # fmt: skip
    assert plates.register_plate(plate, **lot.why()).plate == plate
    rows = tuple((float(x), 0, text) for x, text in ((-145, "0,0"), (-45, "4.4 um"), (45, "4.5"), (145, "0.1")))
    check = plates.CheckRequest(method="straightedge", rows=rows, ran=0.0)
    first = plates.record_check("P1", check, **lot.why()).lines[0].recorded
    plates.set_ring("P1", 0.097, ran=60.0, **lot.why())
    again = plates.CheckRequest(method="straightedge", rows=(*rows[:3], (145.0, 0, "0.2")), corrects=first.entry_id)
    lines = plates.record_check("P1", again, **lot.why()).lines
    assert [line.recorded.entry.kind for line in lines] == ["check", "check", "ring"]
    assert lines[0].recorded.replaced_by == lines[1].recorded.entry_id
    assert [one.text for one in lines[0].recorded.entry.readings] == ["0,0", "4.4 um", "4.5", "0.1"]
    assert lines[2].recorded.entry.offset == 0.097
    for statement in ("UPDATE records_plateentry SET ran_s = 1", "DELETE FROM records_plateentry"):
        with pytest.raises(DatabaseError, match="never changed"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)


def test_moves_prices_and_set_ups_come_back_as_they_went_in(lot):
    """Each screw with its way, each price, the time of fresh slurry to the microsecond."""
    from lapwright.app import jig_moves, prices, station_setup

    moved = jig_moves.record_move("J1", (1.5, -0.25, 0.0), wafer_id=WAFER, **lot.why())
    assert jig_moves.list_moves("J1") == (moved,)
    assert moved.move.divisions == (1.5, -0.25, 0.0)
    listed = replace(prices.usual_prices(), currency="EUR", station_hours=(("L1", 12.5),), scrap=640.0)
    assert prices.record_prices(listed, **lot.why()).prices == prices.price_list() == listed
    why = lot.why()
    why["at"] = why["at"].replace(microsecond=123456)
    station_setup.note_setup("L1", station_setup.SetupNote(abrasive_lot="B7", is_dressed=True), **why)
    there = next(one.station for one in shelf.list_stations() if one.station.station_id == "L1")
    assert (there.abrasive_lot, there.charged_at, there.dressed_at) == ("B7", why["at"], why["at"])


def test_a_lot_keeps_its_keys_through_new_names(lot):
    """The station and the bond that point at it follow; its old name finds it, and goes to no other."""
    from lapwright.app import lot_traces, station_setup, supplies
    from lapwright.model.supply import SupplyLot

    wax = SupplyLot(lot_id="W-1", kind="adhesive", item="mounting-wax", measure="mass", amount=0.1, per_bond=4e-4,
                    received=lot.now.date())  # fmt: skip
    own = SupplyLot(lot_id="B7", kind="slurry", item="our own", measure="volume", amount=1e-3, received=lot.now.date())
    for one in (wax, own):
        supplies.record_lot(one, **lot.why())
    station_setup.note_setup("L1", station_setup.SetupNote(abrasive_lot="B7"), **lot.why())
    lot.read(WAFER, "wafer", "incoming", flat(500e-6), repeats=1)
    request = BondRequest(wafer_id=WAFER, carrier_id="C1", adhesive="mounting-wax", adhesive_lot="W-1")
    bonding.record_bond(request, **lot.why())
    for old, new in (("B7", "B8"), ("B8", "B9"), ("W-1", "W-2")):
        supplies.rename_lot(old, new, **lot.why())
    assert shelf.show_station("L1").station.abrasive_lot == "B9"
    assert [(one.name, one.is_on_shelf) for one in lot_traces.lots_of_wafer(WAFER)] == [("W-2", True)]
    card = supplies.lot_card("W-1", on=lot.now.date())
    assert (card.recorded.lot.lot_id, card.wafers) == ("W-2", (("AP-1", WAFER),))
    assert card.left == pytest.approx(0.1 - 4e-4)
    with pytest.raises(Conflict, match="was called 'B7' before"):
        supplies.record_lot(replace(wax, lot_id="B7"), **lot.why())


def test_searches_for_routes_are_kept_to_the_byte_and_the_oldest_make_room(lot, monkeypatch):
    """The one asked for last is wanted first; bytes come back as they went in; the chain knows nothing of them."""
    from lapwright.records import kept, route_searches

    monkeypatch.setattr(route_searches, "MOST_KEPT", 2)
    start, before = lot.now, kept.last_write()
    for number, name in enumerate("abc"):
        route_searches.want(name, {"order": name}, start + timedelta(seconds=number), is_typed=name == "c")
    assert route_searches.search("a") is None
    assert route_searches.next_wanted(most_tries=3, typed_after=start).key == "c"
    assert route_searches.next_wanted(most_tries=3, typed_after=start + timedelta(hours=1)).key == "b"
    data = bytes(range(256))
    route_searches.put("c", {"order": "c"}, made_at=start, data=data)
    assert (route_searches.data_of("c"), route_searches.search("c").made_at) == (data, start)
    route_searches.begin("b", 3, start)
    assert route_searches.next_wanted(most_tries=3, typed_after=start) is None
    route_searches.drop("c")  # found already: stays
    assert route_searches.data_of("c") == data
    assert kept.last_write() == before
