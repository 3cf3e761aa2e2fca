"""What runs say of a station's gauge reaches the next preset, with its origin."""

from dataclasses import replace

import pytest

from lapwright.app import gauge_biases, run_ends, runs
from lapwright.app.gauge_biases import GaugeBias
from lapwright.model.request import RunRequest
from lapwright.process.gauge_bias import ShareTold, learned_bias
from lapwright.testing.live import STATION, WAFER, feed_of, ready_lot
from lapwright.testing.lot import BOND_THICKNESS, CARRIER_THICKNESS, flat


@pytest.fixture
def ready(records):
    """A wafer ready to be lapped on L1."""
    return ready_lot(records)


def test_runs_are_looked_back_on_once_they_are_read(ready, monkeypatch):
    """The gauge said 97 µm of 100: a share of 3 % that it missed, told by that run."""
    started = runs.start_run(RunRequest(wafer_id=WAFER, station_id=STATION, jig_id="J1"), **ready.why())
    runs.finish_run(started.run_id, gauge_removal="97.00 µm", **ready.why())
    assert gauge_biases.gauge_bias(STATION, "J1") is None
    ready.read(WAFER, "stack", "after_stage", flat(CARRIER_THICKNESS + BOND_THICKNESS + 500e-6 - 100e-6))
    from lapwright.records import run_queries

    conforming = tuple(replace(one, preset_datum="conforming") for one in run_queries.ended_runs(STATION, newest=8))
    monkeypatch.setattr(run_queries, "ended_runs", lambda *_, **__: conforming)
    gauge_biases._gauge_bias.cache_clear()
    found = gauge_biases.gauge_bias(STATION, "J1")
    assert found.learned.share == pytest.approx(0.03, abs=0.002)
    assert (found.learned.finding, found.run_ids) == ("unknown", (started.run_id,))
    assert gauge_biases.gauge_bias(STATION, "J2") is None


def test_a_gauge_sure_to_read_too_little_makes_the_preset_smaller(ready, monkeypatch):
    """3 % off the number to dial in and said to be so; the recorder aims at the full removal and corrects the gauge."""
    before = runs.next_stage(WAFER, jig_id="J1", station_id=STATION)
    learned = learned_bias([ShareTold(share=0.03, uncertainty=0.002)] * 3)
    bias = GaugeBias(learned=learned, run_ids=(4, 5, 6), sentence="The gauge read 3.0 % too little in runs 4, 5, 6.")
    monkeypatch.setattr(gauge_biases, "gauge_bias", lambda *_: bias)
    after = runs.next_stage(WAFER, jig_id="J1", station_id=STATION)
    assert after.preset == pytest.approx(0.97 * before.preset)
    assert after.travel == before.travel
    assert sum(length for _, length in after.contains) == pytest.approx(after.preset)
    feed = run_ends.feed_for(feed_of("tcp:127.0.0.1:9?unit=um"), after)
    assert (feed.foot_wear, feed.foot_wear_uncertainty) == (pytest.approx(0.03), learned.uncertainty)
    del ready


def test_a_feed_stays_as_it_is_while_nothing_is_sure(ready):
    """No run has told anything."""
    ahead = runs.next_stage(WAFER, jig_id="J1", station_id=STATION)
    feed = feed_of("tcp:127.0.0.1:9?unit=um", foot_wear=0.01)
    assert run_ends.feed_for(feed, ahead) == feed
    del ready
