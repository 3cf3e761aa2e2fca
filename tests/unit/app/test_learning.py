"""Rates learned from recorded runs, and what they say of the next one."""

import math
import re
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from lapwright.app import learning, orders, rates, runs, shelf, wedge_history
from lapwright.app.run_history import RunHistory, StopMiss, run_history
from lapwright.library import load
from lapwright.model.request import RunRequest
from lapwright.model.shelf import Station
from lapwright.process.learning import PastRun, RunConditions
from lapwright.testing.live import WAFER, ready_lot
from lapwright.testing.lot import BOND_THICKNESS, CARRIER_THICKNESS, flat


@pytest.fixture
def ready(records):
    """A wafer ready to be lapped on L1."""
    return ready_lot(records)


def lapped(lot, removed, *, said=None):
    """A run of half an hour on L1 and the stack read after it; the gauge said the same unless told."""
    started = runs.start_run(RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1"), **lot.why())
    for _ in range(29):
        lot.why()
    told = removed if said is None else said
    ended = runs.finish_run(started.run_id, gauge_removal=f"{told * 1e6:.2f} µm", **lot.why())
    lot.read(WAFER, "stack", "after_stage", flat(CARRIER_THICKNESS + BOND_THICKNESS + 500e-6 - removed))
    return ended


def test_without_runs_it_is_the_library(lot):  # noqa: ARG001  an empty shop
    """Nothing learned, nothing left out."""
    past, model = learning.learned()
    assert (past.runs, past.left_out) == ((), ())
    assert all(not one.checks for one in model.learned.values())
    assert model.library is load()


def test_a_run_is_learned_from_its_thickness(ready):
    """306 µm by the readings in 30 minutes are 10.2 µm/min, though the gauge said 300."""
    lapped(ready, 306e-6, said=300e-6)
    run = run_history(load()).runs[0]
    assert run.removal_rate * 60e6 == pytest.approx(10.2, rel=0.01)
    assert (run.conditions.material, run.conditions.station) == ("LiTaO3", "L1")
    assert run.rate_uncertainty == pytest.approx(math.hypot(0.4 / 306.0, 15.0 / 1800.0), rel=0.01)


def test_pairs_are_worked_out_anew_when_a_run_teaches_and_not_after_a_note(ready):
    """None before the first run; then the very same answer until something teaches more."""
    assert rates.rate_pairs() == ()
    lapped(ready, 306e-6)
    pairs = rates.rate_pairs()
    assert [len(one.runs) for one in pairs] == [1]
    orders.add_note("AP-1", "Looked at.", **ready.why())
    assert rates.rate_pairs() is pairs


def test_a_run_that_is_not_read_after_is_learned_from_its_gauge(ready):
    """No set after it: the gauge's removal, with a gauge's doubt."""
    started = runs.start_run(RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1"), **ready.why())
    for _ in range(29):
        ready.why()
    runs.finish_run(started.run_id, gauge_removal="240.00 µm", **ready.why())
    run = run_history(load()).runs[0]
    assert run.removal_rate * 60e6 == pytest.approx(8.0, rel=0.01)


def test_a_run_that_removed_next_to_nothing_is_left_out_and_named(ready):
    """0.5 µm by a gauge good to one: its rate says nothing."""
    started = runs.start_run(RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1"), **ready.why())
    runs.finish_run(started.run_id, gauge_removal="0.50 µm", **ready.why())
    past = run_history(load())
    assert past.runs == ()
    assert [(one.wafer_id, "not known" in one.why) for one in past.left_out] == [(WAFER, True)]


def test_lot_and_plate_of_a_run_are_those_of_its_time(ready):
    """The station's lot and plate as they stood when the run began, not as they stand now."""
    there = next(one.station for one in shelf.list_stations() if one.station.station_id == "L1")
    named = Station(
        station_id="L1", name="L1", kind="lap", plate=there.plate, abrasive=there.abrasive, abrasive_lot="B7",
        plate_piece="iron 1",
    )  # fmt: skip
    shelf.set_up_station(named, **ready.why())
    lapped(ready, 300e-6)
    shelf.set_up_station(
        Station(station_id="L1", name="L1", kind="lap", plate=there.plate, abrasive=there.abrasive, abrasive_lot="B8"),
        **ready.why(),
    )
    conditions = run_history(load()).runs[0].conditions
    assert (conditions.abrasive_lot, conditions.plate_piece) == ("B7", "iron 1")


def test_what_is_learned_is_kept_until_something_is_recorded(ready):
    """The same value twice; another after a run."""
    first = learning.learned()
    assert learning.learned() is first
    lapped(ready, 300e-6)
    assert learning.learned() is not first
    assert len(learning.learned()[0].runs) == 1


def test_the_next_run_is_told_with_its_origin(ready):
    """Before any run the library's row stands behind it; interval and times are in their order."""
    ahead = runs.next_stage(WAFER)
    found = learning.next_run(ahead, "LiTaO3")
    assert found.prediction.runs == 0
    assert found.prediction.origin.startswith("Library row")
    assert found.times[0] < found.times[1] < found.times[2]
    assert found.stop is None or not found.stop.suggested.is_worth_it
    del ready


def test_a_stage_that_is_no_run_has_no_rate(ready):
    """After the laps are left out comes a measurement."""
    while (ahead := runs.next_stage(WAFER)) is not None and ahead.planned.kind in ("lap", "polish"):
        runs.skip_stage(ahead.stage.stage_id, **ready.why("not today"))
    assert ahead is None or learning.next_run(ahead, "LiTaO3") is None


def test_the_page_of_the_wafer_shows_rate_and_reason(ready):
    """The panel of the next stage: what to expect, from where, and that the plan was made with another rate."""
    from django.test import Client

    page = Client(HTTP_HOST="localhost").get(f"/orders/AP-1/wafers/{WAFER}").content.decode()
    assert re.search(r"Expect [\d.]+ µm/min \([\d.]+…[\d.]+ in nine of ten runs\)", page)
    assert "Library row" in page
    del ready


def test_stops_that_overshoot_suggest_a_smaller_preset(ready):
    """One run is too few; the suggestion says so and changes nothing."""
    lapped(ready, 300e-6)
    found = learning.stop_corrections()
    assert [(one.station_id, one.suggested.change) for one in found] == [("L1", 0.0)]
    assert "needs 3" in found[0].suggested.sentence


def test_the_latest_runs_of_each_combination_are_learned_from():
    """Of five and two runs the latest two each, in their order."""
    lap = RunConditions(material="Si", abrasive="al2o3-9", plate="cast-iron", pressure=1e4, speed=0.5)
    other = replace(lap, abrasive="al2o3-3")
    worked = [lap, lap, other, lap, lap, other, lap]
    runs = tuple(PastRun(name=str(n), conditions=one, removal_rate=1e-8) for n, one in enumerate(worked))
    assert [run.name for run in learning.recent_runs(runs, count=2)] == ["2", "4", "5", "6"]


def test_three_stops_that_overshoot_take_as_much_off_the_preset():
    """2 µm beyond preset and allowance: 30 µm become 28; another station's stops do not count."""
    at = datetime(2026, 5, 4, tzinfo=UTC)
    misses = [
        StopMiss(station_id=station, jig_id="J1", run_id=number, at=at, beyond=beyond * 1e-6, allowance=0.5e-6)
        for number, (station, beyond) in enumerate([("L1", 2.5), ("L2", 9.0), ("L1", 2.6), ("L1", 2.4)])
    ]
    past = RunHistory(runs=(), origins=(), left_out=(), misses=tuple(misses))
    found = learning.learned_stop(past, "L1", 30e-6)
    assert found.preset == pytest.approx(28e-6, abs=0.1e-6)
    assert "suggested" in found.suggested.sentence


def test_wedges_of_a_jig_are_gathered(ready):
    """One wafer whose bond was judged and which was read after its cut: named, and too few for an answer."""
    lapped(ready, 300e-6)
    found = wedge_history.jig_wedges()
    assert [(one.jig_id, one.wafers, one.transfer) for one in found] == [("J1", (WAFER,), None)]
    assert "at least 4" in found[0].why
