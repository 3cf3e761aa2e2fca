"""Records computed anew: what was recorded by this version comes out again; what differs is named, nothing is written.

Expected values: the numbers on record, and a true removal known to the simulator.
"""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from lapwright.app import reprocess_work, surface_readings, surface_records, verdicts
from lapwright.app.reprocessing import record_changed, reprocess
from lapwright.app.run_ends import LEAST_BAND, endpoint_config
from lapwright.app.workers import Finished, open_workers
from lapwright.errors import BadInput
from lapwright.model.live import Feed, RecordedStream, StreamEvent
from lapwright.model.readings import Signature
from lapwright.model.reprocessed import Changed, ReprocessReport
from lapwright.model.surface_record import FringeSettings, ProfileSettings, RecordedSurface, SurfaceRequest
from lapwright.model.wafer import Round
from lapwright.process.endpoint_follow import followed_run
from lapwright.sim.runs import GaugeTruth, RunTruth, simulated_run
from lapwright.testing import faces
from lapwright.testing.lot import flat

WAFER = "AP-1-01"
SETTINGS = FringeSettings(outline=Round(diameter=faces.DIAMETER), fringe_height=faces.FRINGE)


@pytest.fixture
def finished_lot(lot):
    """A wafer read, measured by fringes and profile, and judged."""
    from lapwright.records import writer

    for state in ("debonded", "read_free"):
        writer.move_wafer(WAFER, state, Signature(**lot.why()))
    lot.read(WAFER, "wafer", "final", flat(100e-6))
    picture = SurfaceRequest(wafer_id=WAFER, moment="final", files=(("face.png", faces.fringe_file()),))
    surface_records.record_fringes(picture, SETTINGS, **lot.why())
    profile = SurfaceRequest(wafer_id=WAFER, moment="final", files=(("a.csv", faces.profile_file()),))
    surface_records.record_profile(profile, ProfileSettings(), **lot.why())
    verdicts.judge_wafer(WAFER, **lot.why())
    return lot


def face_load(change):
    """A recorded face as a worker gets it, its numbers changed."""
    files = (("face.png", faces.fringe_file()),)
    numbers = surface_readings.read_fringes(files, SETTINGS).numbers
    face = RecordedSurface(
        surface_id=4, kind="fringes", wafer_id=WAFER, stage_id=None, moment="final", gauge_id=None, instrument="",
        document_ids=(1,), settings=SETTINGS, numbers={**numbers, **{name: of(numbers) for name, of in change.items()}},
        sign_ambiguous=True, finding_ids=(), not_judged="", software_version="1",
        signature=Signature(by="local", at=datetime(2026, 1, 1, tzinfo=UTC), reason=""),
    )  # fmt: skip
    return reprocess_work.FaceLoad(tolerance=1e-12, faces=((face, files, "silicon"),))


def test_everything_recorded_by_this_version_comes_out_again(finished_lot, tmp_path):
    """Faces, profile and set, by another process; the second time from what was kept of the first."""
    del finished_lot
    for kind in ("fringes", "profiles", "sets"):
        first = reprocess(kind, open_workers(1), finished=Finished(tmp_path / kind), tolerance=1e-12)
        assert (first.agrees, first.records, first.changed) == (True, 1, ())
        assert first.numbers >= 2
        assert reprocess(kind, open_workers(1), finished=Finished(tmp_path / kind), tolerance=1e-12) == first
    assert len(surface_records.list_surfaces("fringes")) == 1


def test_a_number_that_was_recorded_otherwise_is_named():
    """A flatness 1 nm larger, and a number that no longer exists."""
    load = face_load({"pv": lambda numbers: numbers["pv"] + 1e-9, "of_old": lambda _: 1.0})
    told = reprocess_work.faces_again(load)
    assert sorted(name for _, _, name, _, _ in told["changed"]) == ["of_old", "pv"]
    assert told["largest"] == pytest.approx(1e-9)


def test_a_picture_that_gives_no_map_any_more_is_told_with_its_reason():
    """Beside the others, which are done."""
    load = face_load({})
    dark = (load.faces[0][0], (("face.png", faces.dark_file()),), "silicon")
    told = reprocess_work.faces_again(replace(load, faces=(dark, *load.faces)))
    assert (told["records"], len(told["refused"])) == (2, 1)
    assert told["refused"][0][:2] == [4, WAFER]


def test_a_set_judged_by_another_value_is_named(finished_lot):
    """A verdict over 1 nm more than the readings say."""
    from lapwright.records import reprocess_queries

    del finished_lot
    ((recorded, judged),) = reprocess_queries.sets_of(reprocess_queries.judged_set_ids())
    off = tuple((verdict, quantity, value + 1e-9) for verdict, quantity, value in judged)
    load = reprocess_work.SetLoad(tolerance=1e-12, allowed_drift=1e-6, sets=((recorded, off),))
    told = reprocess_work.sets_again(load)
    assert len(told["changed"]) == len(judged) == told["numbers"]
    assert {piece for _, piece, *_ in told["changed"]} == {WAFER}


def test_only_what_changed_is_recorded_once_more_and_only_when_asked(finished_lot):
    """The new face stands beside the old one with the reason and the old one's number."""
    (old,) = surface_records.list_surfaces("fringes")
    report = ReprocessReport(
        kind="fringes", version="1", tolerance=0.0, records=1, numbers=1, largest=0.1, refused=(), left_out=(),
        changed=(Changed(record_id=old.surface_id, piece=WAFER, name="pv", told=1e-6, found=2e-6),),
    )  # fmt: skip
    done = record_changed(report, **finished_lot.why("new version"))
    newest, kept = surface_records.list_surfaces("fringes")
    assert kept == old
    assert done.recorded == (newest.surface_id,)
    assert newest.signature.reason.startswith(f"new version; face {old.surface_id} read again")
    assert dict(newest.numbers) == dict(old.numbers)


def test_readings_are_not_recorded_anew(records):
    """Their values are computed whenever they are shown."""
    del records
    report = reprocess("sets", open_workers(1))
    assert (report.records, report.agrees) == (0, True)
    with pytest.raises(BadInput, match="Nothing is kept of sets"):
        record_changed(report, by="a", reason="b", at=datetime(2026, 1, 1, tzinfo=UTC))


def recorded_run(**changes):
    """A recorded run of 20 µm at 2 µm/min as the recorder would have left it, and its readings."""
    run = simulated_run(RunTruth(rate=2e-6 / 60.0, duration=900.0), GaugeTruth(), rng=np.random.default_rng(5))
    feed = Feed(station_id="L1", source="tcp:127.0.0.1:9", latency=1.0, noise=0.5e-6, resolution=1e-6)
    config = endpoint_config(feed, target=20e-6, rate=2e-6 / 60.0, rate_band=LEAST_BAND)
    decision = followed_run(config, run.time.tolist(), run.length.tolist()).decision
    assert run.removal_at(decision.at) == pytest.approx(20e-6, abs=0.5e-6)
    stream = RecordedStream(
        stream_id=3, run_id=7, station_id="L1", wafer_id=WAFER, feed=feed, target=20e-6, time=None, zero=0.0,
        rate=2e-6 / 60.0, started=datetime(2026, 1, 1, tzinfo=UTC), readings=len(run.time), outcome="target",
        ended_after=decision.at, ended_removed=decision.removed, ended_uncertainty=decision.removed_uncertainty,
    )  # fmt: skip
    return (replace(stream, **changes), run.time.tolist(), run.length.tolist())


def test_a_recorded_run_comes_to_the_same_removal():
    """Followed again from its raw readings."""
    told = reprocess_work.runs_again(reprocess_work.RunLoad(streams=(recorded_run(),)))
    assert (told["records"], told["changed"], told["refused"]) == (1, [], [])
    assert told["largest"] < 1e-6


def test_a_run_that_would_end_otherwise_is_named():
    """One recorded with 1 µm less, and one that was stopped for a fault which the readings do not show."""
    less = recorded_run(ended_removed=19e-6)
    fault = recorded_run(outcome="fault", ended_code="gauge.frozen")
    told = reprocess_work.runs_again(reprocess_work.RunLoad(streams=(less, fault)))
    assert [row[2] for row in told["changed"]] == ["removal at the stop"]
    assert told["refused"] == [[3, WAFER, "Ended by gauge.frozen; this version would end it by the target."]]


def test_a_run_with_a_check_in_its_middle_is_left_out_and_says_so():
    """Its estimate was moved by hand."""
    event = StreamEvent(kind="check", time=60.0, code="run.checked", sentence="moved")
    told = reprocess_work.runs_again(reprocess_work.RunLoad(streams=(recorded_run(events=(event,)),)))
    assert (told["records"], len(told["left_out"])) == (0, 1)
