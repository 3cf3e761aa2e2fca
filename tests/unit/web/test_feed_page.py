"""The gauge of a station, chosen on its page."""

import pytest

from lapwright.app import live
from lapwright.testing.live import STATION, ready_lot

SENT = {
    "source": "replay:run.csv?speed=10", "stop_output": "dry-run:", "gauge_id": "G1", "direction": "shrinking",
    "resolution": "0.5 µm", "noise": "0,4 µm", "latency_s": "1,5", "latency_spread_s": "0.2", "stale_s": "4",
    "drift_limit": "0 µm",
}  # fmt: skip


@pytest.fixture
def ready(records, client):
    """The client over a shop whose L1 has no gauge."""
    ready_lot(records)
    return client


def test_a_gauge_is_chosen_and_shown_again(ready):
    """Recorded in SI, and the form holds it with its unit the next time."""
    assert ready.post(f"/stations/{STATION}/gauge", SENT).status_code == 302
    feed = live.list_feeds()[0].feed
    assert (feed.source, feed.gauge_id, feed.direction) == ("replay:run.csv?speed=10", "G1", "shrinking")
    assert (feed.resolution, feed.noise, feed.latency, feed.stale) == pytest.approx((0.5e-6, 0.4e-6, 1.5, 4.0))
    page = ready.get(f"/stations/{STATION}/gauge").content.decode()
    assert 'value="replay:run.csv?speed=10"' in page
    assert "0.500" in page


@pytest.mark.parametrize(("field", "text"), [("source", "teletype:7"), ("noise", "quiet"), ("stale_s", "0")])
def test_what_cannot_be_is_refused_and_nothing_is_recorded(ready, field, text):
    """422, the text still in its box."""
    answer = ready.post(f"/stations/{STATION}/gauge", SENT | {field: text})
    assert answer.status_code == 422
    assert f'value="{text}"' in answer.content.decode()
    assert live.list_feeds() == ()


def test_the_only_gauge_on_record_is_proposed_and_all_faults_are_told_at_once(ready):
    """A time below zero is found together with a step without a unit."""
    assert '<option value="G1" selected>' in ready.get(f"/stations/{STATION}/gauge").content.decode()
    page = ready.post(f"/stations/{STATION}/gauge", SENT | {"resolution": "0", "latency_s": "-1"}).content.decode()
    assert "2 fields need another look" in page
    assert "Found -1; it must be 0 or more." in page


def test_a_change_upon_an_old_state_is_refused(ready):
    """Two people at once: the second is told, 409."""
    ready.post(f"/stations/{STATION}/gauge", SENT)
    first = live.list_feeds()[0].version
    assert ready.post(f"/stations/{STATION}/gauge", SENT | {"version": first, "stale_s": "5"}).status_code == 302
    assert ready.post(f"/stations/{STATION}/gauge", SENT | {"version": first, "stale_s": "3"}).status_code == 409
