"""Intake: a request drawn, answered and asked back about, and made an order by the same refusals as order entry.

Which definitions a thickness limit needs (unit, edge exclusion, free or clamped) is SEMI MF533 and MF657 (from memory).
"""

import html
import re

import pytest

from lapwright.app import orders
from lapwright.testing.browsing import CHOICES
from lapwright.testing.browsing import ORDER as TYPED

FORM = {**TYPED, **CHOICES, "shape": "round", "rule": "guarded", "risk": "2"}


def text(answer):
    """An answer as text."""
    assert answer.status_code == 200
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))).replace("\u00a0", " ")


def looked(client, **changes):
    """What the page answers to a request as typed."""
    return client.post("/intake/look", {**FORM, **changes})


def test_a_whole_request_is_answered_with_the_binding_limit_chance_and_time(client, lot):  # noqa: ARG001
    """Answer, binding limit, chance, time; the drawing says the thicknesses; nothing is recorded."""
    said = text(looked(client))
    for words in ("It can be met", "Binding:", "Chance within all limits", "Time of one wafer"):
        assert words in said
    assert "as it comes: 500 µm; as wanted: 100 µm ± 2 µm, TTV ≤ 2 µm" in said
    assert [one.order_id for one in orders.list_orders()] == ["AP-1"]


@pytest.mark.parametrize(
    ("field", "typed", "question"),
    [
        ("edge_exclusion", "", "How wide is the rim that does not count"),
        ("hold", "", "for the free piece, or for one that is clamped flat?"),
        ("tolerance", "2", "Tolerance ±: you wrote “2”. Which value, and in which unit?"),
        ("ttv_limit", "2", "TTV at most: you wrote “2”. Which value, and in which unit?"),
        ("ttv_limit", "", "Is there a limit on TTV"),
        ("start_damage", "", "how deep is the damage"),
        ("diameter", "", "Which outline do the pieces have"),
    ],
)
def test_what_is_open_is_asked_with_its_reason(client, lot, field, typed, question):  # noqa: ARG001
    """Once in the list, once in the letter; an answered one is gone."""
    asked = text(looked(client, **{field: typed}))
    assert asked.count(question) == 2
    filled = {"start_damage": "10 µm", "tolerance": "2 µm", "hold": "free"}.get(field, "2 mm")
    assert question not in text(looked(client, **{field: filled}))


def test_a_limit_that_does_not_hold_is_asked_to_be_wider(client, lot):  # noqa: ARG001
    """± 10 nm with a gauge of ± 0.5 µm."""
    assert "Could it be wider?" in text(looked(client, tolerance="0.01 µm"))


@pytest.mark.parametrize(("field", "typed"), [("tolerance", "2"), ("edge_exclusion", ""), ("hold", "")])
def test_no_order_comes_of_it_without_unit_exclusion_or_hold(client, lot, field, typed):  # noqa: ARG001
    """The button is that of order entry: refused with the sentence at the field, nothing recorded."""
    answer = client.post("/orders/new", {**FORM, "order_id": "N-2", field: typed})
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in answer.content.decode()
    assert [one.order_id for one in orders.list_orders()] == ["AP-1"]


def test_the_page_begins_empty_or_with_an_earlier_order_and_works_without_script(client, lot):  # noqa: ARG001
    """Letters with question marks; the terms of an earlier order; sent to itself it looks and keeps what was typed."""
    page = client.get("/intake").content.decode()
    assert ">a?<" in page
    assert page.count('class="fault"') == 0
    assert 'value="50.8 mm"' in client.get("/intake?from=AP-1").content.decode()
    sent = client.post("/intake", {**FORM, "customer": "<script>alert(1)</script>", "tolerance": "2"})
    page = sent.content.decode()
    assert sent.status_code == 200
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "<script>alert" not in page
    assert 'value="2"' in page
    assert client.get("/intake?from=nobody").status_code == 404
