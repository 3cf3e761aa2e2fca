"""Series from the records as charts: what is collected, what is signalled, and in which words."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from lapwright.app import drift, drift_series, kept_results, orders, readings
from lapwright.app.drift_series import DriftEvent, DriftPoint, DriftSeries
from lapwright.metrology.run_length import shewhart_run_length
from lapwright.testing.lot import CARRIER_THICKNESS, flat

WAFER = "AP-1-01"
START = datetime(2026, 5, 4, 8, tzinfo=UTC)


def series(values, signal="check", **changes):
    """Values in µm, an hour apart."""
    points = tuple(
        DriftPoint(at=START + timedelta(hours=number), value=value * 1e-6, by="ada")
        for number, value in enumerate(values)
    )
    return DriftSeries(signal=signal, place="G1 on R500", points=points, events=(), **changes)


def quiet(count, level=0.0):
    """Seeded noise of 0.1 µm about a level."""
    return list(level + 0.1 * np.random.default_rng(5).standard_normal(count))


def test_a_jump_is_named_with_its_causes():
    """Thirty quiet values, then one 2 µm off: that point, upwards, dirt first."""
    found = drift.chart_of(series([*quiet(30), 2.0]))
    jump = next(one for one in found.signals if one.rule == "beyond_limit")
    assert (jump.points, jump.direction) == ((30,), "up")
    assert jump.sentence == "Point 31 lies above the limit."
    assert jump.causes[0].cause == "Dirt on gauge or standard"


def test_a_moved_level_is_one_signal_and_not_many():
    """Ten values a little above: one sentence that spans them."""
    found = drift.chart_of(series([*quiet(40), *[0.18 + 0.002 * n for n in range(10)]]))
    runs = [one for one in found.signals if one.rule == "eight_on_one_side" and one.points[-1] == 49]
    assert [one.sentence for one in runs] == ["Points 41 to 50 all lie above the centre: the level has moved."]


def test_weighted_averages_see_a_slow_drift():
    """A slope of 0.01 µm a point is a drift up, and its cause is not dirt."""
    values = [one + 0.01 * max(0, number - 30) for number, one in enumerate(quiet(70))]
    found = drift.chart_of(series(values), "ewma", last=70)
    assert found.signals[0].direction in ("up", "down")
    assert "level is drifting" in found.signals[0].sentence
    assert all("Dirt" not in cause.cause for one in found.signals for cause in one.causes)
    assert found.plotted.size == 70


def test_the_run_length_stands_beside_the_chart():
    """Coarse values are watched by the limits alone: 1/P(|z| > 3) = 370; fine ones by a second rule too, so less."""
    coarse = drift.chart_of(series([0.0, 1.0, 0.0, 1.0, 2.0, 1.0, 0.0, 1.0]))
    fine = drift.chart_of(series(quiet(30)))
    assert coarse.run_length == pytest.approx(shewhart_run_length(3.0))
    assert any("steps as coarse" in note for note in coarse.notes)
    assert fine.run_length == pytest.approx(152.7, abs=0.1)  # Champ and Woodall 1987, rules 1 and 4


@pytest.mark.parametrize("values", [[1.0, 2.0], [1.0] * 6])
def test_without_enough_points_or_scatter_no_limits_are_drawn(values):
    """Two points, or six that are alike."""
    found = drift.chart_of(series(values))
    assert (found.centre, found.lower, found.upper, found.run_length, found.signals) == (None, None, None, None, ())
    assert found.notes


def test_a_size_has_no_limit_below_zero():
    """A wedge cannot fall below a limit under zero; a deviation can."""
    values = [1.0, 0.1, 1.2, 0.2, 1.1, 0.15]
    assert drift.chart_of(series(values, "bond_wedge")).lower is None
    assert drift.chart_of(series(values, "check")).lower < 0.0


def test_only_the_last_points_are_shown():
    """Sixty of a hundred, the newest."""
    assert len(drift.chart_of(series(quiet(100))).series.points) == 60


def test_points_set_aside_are_named():
    """The limits do not rest on the outlier, and it says so."""
    found = drift.chart_of(series([*quiet(25), 9.0, *quiet(5)]))
    assert any("Set aside for the limits, and shown: point 26" in note for note in found.notes)


@pytest.fixture
def finished(lot):
    """One wafer taken through the whole job."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.route()
    bond = lot.bond(WAFER, flat(500e-6))
    drift_series.collect_series()  # kept, and carried on by what is recorded after it
    lot.work(WAFER)
    drift_series.collect_series()
    lot.finish(WAFER, bond.bond_id, flat(100e-6))
    return lot


def test_the_records_of_a_job_give_its_series(finished, monkeypatch):
    """Zero of the gauge, one point a set; rates by gauge and clock: removal over the minute that each run took."""
    from lapwright.records import drift_queries

    runs = drift_queries.ended_runs()
    found = {(one.signal, one.place): one for one in drift_series.collect_series()}
    zeros = found["zero", "G1"]
    assert len(zeros.points) >= 5
    assert {point.wafer_id for point in zeros.points} == {None, WAFER}  # None: the set of a carrier
    monkeypatch.setattr(drift_queries, "ended_runs", lambda: runs + runs)
    twice = [one for one in drift_series.collect_series() if one.signal == "rate"]
    lapped = [run for run in runs if run.gauge_removal is not None]
    expected = {run.gauge_removal / (run.ended - run.started).total_seconds() for run in lapped}
    assert {point.value for one in twice for point in one.points} >= expected
    monkeypatch.undo()
    assert drift_series.collect_series() == collected_at_once()
    for one in orders.list_sets("AP-1"):
        readings.void_set(one.set_id, **finished.why())
        assert drift_series.collect_series() == collected_at_once()


def collected_at_once():
    """With nothing kept; what is kept now comes back afterwards."""
    from lapwright.records import kept

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(kept_results, "_until_write", {})
        patch.setattr(kept, "_grown_to", {})
        patch.setattr(kept, "_means", {})
        return drift_series.collect_series()


def test_new_people_and_lots_are_events():
    """Each once, at the first point they turn up, the very first left out."""
    points = [
        DriftPoint(at=START + timedelta(hours=n), value=0.0, by=who, wafer_id=wafer)
        for n, (who, wafer) in enumerate([("ada", "A-1"), ("ben", "A-1"), ("ada", "B-1"), ("ben", "B-1")])
    ]
    plain = DriftSeries(signal="rate", place="L1", points=tuple(points), events=())
    told = drift_series.with_lots(plain, {"A-1": ("A", "A"), "B-1": ("B", "B")})
    assert [(event.at, event.what) for event in told.events] == [
        (points[1].at, "new person: ben"),
        (points[2].at, "new lot: B"),
    ]


@pytest.mark.usefixtures("started_records")
def test_a_new_plate_is_an_event_of_its_station_alone():
    """Another abrasive is another series, another plate an event; other stations are not touched."""
    from lapwright.model.shelf import Station
    from lapwright.records.drift_queries import StationChange

    iron = Station(station_id="L1", name="L1", kind="lap", plate="cast-iron", abrasive="a")
    changes = (
        StationChange(station_id="L1", at=START + timedelta(hours=1), before=iron, after=replace(iron, abrasive="b")),
        StationChange(station_id="L1", at=START + timedelta(hours=2), before=iron, after=replace(iron, plate="glass")),
        StationChange(station_id="L2", at=START + timedelta(hours=2), before=iron, after=replace(iron, plate="tin")),
    )
    found = drift_series.plate_events("L1", changes, [DriftPoint(at=START, value=0.0, by="ada")])
    assert found == (DriftEvent(at=START + timedelta(hours=2), what="new plate or pad: glass"),)


def test_the_dome_of_each_plate_is_followed(lot):
    """Checks of 0, 2 and 4 µm on one plate, the ring moved between: one chart, domed above zero, with that event."""
    from lapwright.app import plates
    from lapwright.app.plates import CheckRequest
    from lapwright.model.plates import Plate

    glass = Plate(
        plate_id="L2-glass", name="glass", station_id=None, inner_radius=0.04, outer_radius=0.15,
        ring_outer_radius=0.065, least_offset=0.085, most_offset=0.112, offset=0.105,
    )  # fmt: skip
    plates.register_plate(glass, **lot.why())
    for number, dome in enumerate((0.0, 2.0, 4.0)):
        rows = tuple((x, 0, f"{-dome * (x / 150) ** 2:.3f}") for x in (-145, -95, -45, 45, 95, 145))
        plates.record_check("L2-glass", CheckRequest(method="straightedge", rows=rows, ran=3600.0), **lot.why())
        if number == 1:
            plates.set_ring("L2-glass", 0.097, ran=0.0, **lot.why())
    (found,) = [one for one in drift.drift_charts() if one.series.signal == "plate_dome"]
    assert found.series.place == "L2-glass"
    assert found.plotted == pytest.approx([0.0, 2.0, 4.0], abs=0.01)
    assert found.series.events[0].what.startswith("ring set to 97 mm")
