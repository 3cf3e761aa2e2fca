"""Two people at the same wafer: the second learns what the first did, and nothing typed is lost."""

import re

import pytest

from lapwright.app import orders, plates
from lapwright.testing.lot import flat

PAGE = "/orders/AP-1/wafers/AP-1-01"


def mark_of(client):
    """What a page made now would send back."""
    return re.search(r'name="seen" value="(\w+)"', client.get(PAGE).content.decode())[1]


def aside(client, seen, reason):
    """Set the wafer aside, from a page made at `seen`."""
    return client.post(f"{PAGE}/do/set-aside", {"set-aside-reason": reason, "seen": seen})


def test_the_second_save_is_refused_and_says_what_changed(client, lot):
    """From two pages made alike: the first is taken; the second is told who did what, keeps its text, records nothing."""
    seen = mark_of(client)
    orders.reject_wafer("AP-1-01", **lot.why("broken at the edge"))
    answer = aside(client, seen, "a scratch at 4 o'clock")
    said = answer.content.decode()
    assert answer.status_code == 409
    assert "“rejected” by local at 25 Nov 2026" in said
    assert "a scratch at 4 o&#x27;clock" in said
    assert orders.show_wafer("AP-1-01").wafer.state == "rejected"


@pytest.mark.usefixtures("lot")
def test_the_same_form_sent_twice_is_done_once(client):
    """A double press, or the back button and send: once recorded, once refused."""
    seen = mark_of(client)
    assert aside(client, seen, "to be cleaned").status_code == 302
    assert aside(client, seen, "to be cleaned").status_code == 409
    assert [one.after for one in orders.show_wafer("AP-1-01").events].count("set_aside") == 1


@pytest.mark.usefixtures("lot")
def test_after_looking_again_it_can_be_sent(client):
    """The page that refuses carries the new mark; a note in between is no change."""
    seen = mark_of(client)
    client.post(f"{PAGE}/note", {"text": "kept in box 3"})
    assert mark_of(client) == seen
    assert aside(client, "0123456789abcdef", "once").status_code == 409
    assert aside(client, mark_of(client), "once").status_code == 302


def test_a_stale_reading_is_told_what_was_recorded_last(client, lot):
    """Nothing is recorded, the text comes back, and the last reading is named with its site and who took it."""
    lot.read("AP-1-01", "wafer", "incoming", flat(500e-6), repeats=1)
    (one,) = orders.show_wafer("AP-1-01").sets
    answer = client.post(f"/orders/AP-1/readings/{one.set_id}/take", {"value": "499.7", "seen": "3"})
    said = answer.content.decode()
    assert answer.status_code == 409
    last = one.readings[-1]
    assert f"Last, {last.reading.text} at {last.reading.site or 'the zero'} by local" in said
    assert len(orders.show_wafer("AP-1-01").sets[0].readings) == len(one.readings)


@pytest.mark.usefixtures("lot")
def test_a_stale_policy_of_a_gauge_is_refused_and_says_what_changed(client):
    """Two pages of one gauge: the first policy holds, the second is told which field went from what to what."""
    version = re.search(r'name="policy-version" value="(\d+)"', client.get("/gauges/G1").content.decode())[1]
    sent = {"policy-when_unfit": "block", "policy-version": version}
    assert client.post("/gauges/G1/do/policy", sent).status_code == 302
    answer = client.post("/gauges/G1/do/policy", sent | {"policy-when_unfit": "flag"})
    assert answer.status_code == 422
    assert "when_unfit flag → block" in answer.content.decode()


@pytest.mark.usefixtures("lot")
def test_a_stale_line_of_a_plate_is_refused_and_says_what_was_recorded(client):
    """A check from a page made before another check: refused with who and what; a name that is taken is refused, too."""
    plate = {
        "plate_id": "PL9", "name": "glass, 300 mm", "inner_radius": "40 mm", "outer_radius": "150 mm",
        "ring_outer_radius": "65 mm", "ring_inner_radius": "50 mm", "least_offset": "85 mm", "most_offset": "110 mm",
        "offset": "97 mm", "dome_limit": "5 µm", "check_every_h": "8", "reading_uncertainty": "0.5 µm",
    }  # fmt: skip
    first = client.post("/plates", plate)
    assert first.status_code == 302, first.content.decode()
    assert "recorded already" in client.post("/plates", plate).content.decode()
    check = {"sagitta-method": "wafer", "sagitta-size": "50.8 mm", "sagitta-value": "0.3", "seen": "0"}
    assert client.post("/plates/PL9/do/sagitta", check).status_code == 302
    answer = client.post("/plates/PL9/do/sagitta", check)
    assert answer.status_code == 409
    assert "Last: a check, by local" in answer.content.decode()
    assert len(plates.list_plates(at=orders.show_wafer("AP-1-01").wafer.since)[0].lines) == 1
