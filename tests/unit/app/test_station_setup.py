"""What is on a station, noted by whoever starts a run, and the ages that rates are learned with."""

from datetime import timedelta

import pytest

from lapwright.app import plates, runs, shelf, station_setup
from lapwright.app.run_history import PlannedRun, conditions_now, run_history
from lapwright.app.station_setup import SetupNote
from lapwright.errors import BadInput, Conflict
from lapwright.library import load
from lapwright.model.plates import Plate
from lapwright.model.request import RunRequest
from lapwright.testing.live import WAFER, ready_lot, take_zero

HOUR = 3600.0


@pytest.fixture
def ready(records):
    """A wafer ready to be lapped on L1."""
    return ready_lot(records)


def lapped(lot):
    """Half an hour of lapping on L1, 24 µm by the gauge; when it began."""
    started = runs.start_run(RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1", step="first"), **lot.why())
    lot.now += timedelta(minutes=29)
    ended = runs.finish_run(started.run_id, gauge_removal="24.0 µm", **lot.why())
    take_zero(lot)
    return ended.started


def test_lot_piece_and_ages_reach_what_is_learned(ready):
    """Slurry put on, a run two hours later; then dressed, and the next run knows that the plate has not worked since."""
    first = shelf.show_station("L1")
    noted = station_setup.note_setup(
        "L1",
        SetupNote(abrasive_lot=" B7 ", plate_piece="iron 1", is_charged=True),
        version=first.version,
        **ready.why(),
    )
    charged = noted.station.charged_at
    assert (noted.station.abrasive_lot, noted.station.plate_piece, charged) == ("B7", "iron 1", ready.now)
    ready.now += timedelta(hours=2)
    began = lapped(ready)
    station_setup.note_setup("L1", SetupNote(abrasive_lot="B7", plate_piece="iron 1", is_dressed=True), **ready.why())
    lapped(ready)
    lapped(ready)
    told = [one.conditions for one in run_history(load()).runs]
    assert [one.abrasive_lot for one in told] == ["B7"] * 3
    assert told[0].slurry_age == pytest.approx((began - charged).total_seconds())
    assert told[0].slurry_age > 2.0 * HOUR
    assert [one.pad_age for one in told] == [None, 0.0, pytest.approx(0.5 * HOUR)]
    there = shelf.show_station("L1").station
    asked = PlannedRun(abrasive=there.abrasive, plate=there.plate, pressure=1e4, speed=0.5, station_id="L1")
    ahead = conditions_now(load(), material="LiTaO3", planned_run=asked, at=ready.now)
    assert (ahead.abrasive_lot, ahead.pad_age) == ("B7", pytest.approx(HOUR))
    assert ahead.slurry_age == pytest.approx((ready.now - charged).total_seconds())
    tomorrow = conditions_now(load(), material="LiTaO3", planned_run=asked, at=charged + timedelta(hours=24.1))
    assert tomorrow.slurry_age is None


def test_another_lot_is_fresh_and_another_piece_was_not_dressed(ready):
    """The same lot said again keeps its age; the next drum begins anew; a dressing belongs to its piece."""
    at = ready.why()
    station_setup.note_setup("L1", SetupNote(abrasive_lot="B7", plate_piece="iron 1", is_dressed=True), **at)
    again = station_setup.note_setup("L1", SetupNote(abrasive_lot="B7", plate_piece="iron 1"), **ready.why()).station
    assert (again.charged_at, again.dressed_at) == (at["at"], at["at"])
    later = ready.why()
    other = station_setup.note_setup("L1", SetupNote(abrasive_lot="B8", plate_piece="iron 2"), **later).station
    assert (other.charged_at, other.dressed_at) == (later["at"], None)


def test_a_note_is_refused_while_it_runs_when_stale_and_when_too_long(ready):
    """A run goes on; somebody changed the station since; a lot of 61 letters. Nothing is changed."""
    version = shelf.show_station("L1").version
    with pytest.raises(BadInput) as refused:
        station_setup.note_setup("L1", SetupNote(abrasive_lot="x" * 61, plate_piece="y" * 61), **ready.why())
    assert [fault.field for fault in refused.value.faults] == ["abrasive_lot", "plate_piece"]
    station_setup.note_setup("L1", SetupNote(abrasive_lot="B7"), version=version, **ready.why())
    with pytest.raises(Conflict, match="changed by someone else"):
        station_setup.note_setup("L1", SetupNote(abrasive_lot="B8"), version=version, **ready.why())
    runs.start_run(RunRequest(wafer_id=WAFER, station_id="L1", jig_id="J1"), **ready.why())
    with pytest.raises(Conflict, match="A run goes on"):
        station_setup.note_setup("L1", SetupNote(abrasive_lot="B9"), **ready.why())
    assert shelf.show_station("L1").station.abrasive_lot == "B7"


def test_a_dressing_stands_with_the_plate_and_with_the_station(ready):
    """Noted at the station it is a line of the plate; recorded with the plate it begins the station's hours anew."""
    plate = Plate(
        plate_id="I1", name="iron", station_id="L1", inner_radius=0.04, outer_radius=0.15, ring_outer_radius=0.065,
        least_offset=0.08, most_offset=0.11, offset=0.095,
    )  # fmt: skip
    plates.register_plate(plate, **ready.why())
    station_setup.note_setup("L1", SetupNote(is_dressed=True), **ready.why())
    assert [one.recorded.entry.kind for one in plates.show_plate("I1", at=ready.now).lines] == ["dressed"]
    why = ready.why()
    plates.record_dressing("I1", **why)
    assert shelf.show_station("L1").station.dressed_at == why["at"]


def test_a_station_set_up_anew_keeps_the_ages_of_what_stays(ready):
    """The same plate and slurry keep their times; another abrasive has none; fresh and dressed are now."""
    station_setup.note_setup("L1", SetupNote(abrasive_lot="B7", is_dressed=True), **ready.why())
    there, now = shelf.show_station("L1").station, ready.why()["at"]
    bare = type(there)(
        station_id="L1", name="L1", kind="lap", plate=there.plate, abrasive=there.abrasive, abrasive_lot="B7"
    )
    kept = station_setup.with_ages(bare, is_charged=False, is_dressed=False, at=now)
    assert (kept.charged_at, kept.dressed_at) == (there.charged_at, there.dressed_at)
    anew = station_setup.with_ages(bare, is_charged=True, is_dressed=True, at=now)
    assert (anew.charged_at, anew.dressed_at) == (now, now)
    other = station_setup.with_ages(
        type(there)(station_id="L1", name="L1", kind="lap", plate=there.plate, abrasive="x"),
        is_charged=False, is_dressed=False, at=now,
    )  # fmt: skip
    assert (other.charged_at, other.dressed_at) == (None, there.dressed_at)


def test_the_form_stands_on_countdown(ready, records):  # noqa: ARG001  the database behind the page
    """It opens with what is known, records what was ticked, and goes back to the wafer that was chosen."""
    from django.test import Client

    client = Client(HTTP_HOST="localhost")
    page = client.get(f"/stations/L1?wafer={WAFER}").content.decode()
    assert "lot not named" in page
    version = shelf.show_station("L1").version
    sent = {"abrasive_lot": "B7", "plate_piece": "iron 1", "is_charged": "on", "version": version, "wafer": WAFER}
    assert client.post("/stations/L1/on-it", sent)["Location"] == f"/stations/L1?wafer={WAFER}"
    assert "lot B7" in client.get("/stations/L1").content.decode()
    assert client.post("/stations/L1/on-it", sent).status_code == 409
    assert client.post("/stations/L1/on-it", sent | {"abrasive_lot": "x" * 61}).status_code == 422
