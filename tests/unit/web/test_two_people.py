"""Two people at the same wafer: the second learns what the first did, and nothing typed is lost."""

import re

import pytest

from lapwright.app import orders

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
    assert "“rejected” by local at 2026-11-25" in said
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
