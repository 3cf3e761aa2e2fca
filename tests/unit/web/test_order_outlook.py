"""Order entry: what the order would be like while it is typed, an earlier order copied, wafers named by a column."""

import pytest

from lapwright.app import orders
from lapwright.testing.browsing import CHOICES
from lapwright.testing.browsing import ORDER as TYPED
from lapwright.testing.lot import ORDER
from lapwright.web.order_fields import order_fields

FORM = {**TYPED, **CHOICES, "order_id": "N-1", "shape": "round", "rule": "guarded", "risk": "2"}


def asked(client, **changes):
    """The outlook of the form, changed where told."""
    answer = client.post("/orders/new/outlook", {**FORM, **changes})
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_whole_form_is_answered_with_chance_time_and_proof(client, lot):  # noqa: ARG001
    """Answer, chance, time, and whether the gauge on record can prove the limits; nothing is recorded."""
    said = asked(client)
    for words in ("Chance within all limits", "Time of one wafer", "expanded uncertainties"):
        assert words in said
    assert [line.order_id for line in orders.list_orders()] == ["AP-1"]


def test_a_tolerance_that_nothing_holds_is_told_at_once(client, lot):  # noqa: ARG001
    """± 10 nm on a gauge of ± 0.5 µm: not to be met, and in words."""
    assert "It can be met" not in asked(client, tolerance="0.01 µm")


def test_what_the_free_wafer_will_be_like_is_told(client, lot):  # noqa: ARG001
    """500 to 100 µm: a bevel becomes a blade, and the stack bows while it is lapped."""
    said = asked(client)
    assert "Once it is off its carrier" in said
    assert "blade" in said


def test_a_form_half_typed_says_what_is_missing(client, lot):  # noqa: ARG001
    """No scolding: the fields still to type, and those not understood."""
    said = asked(client, customer="", target_thickness="thin")
    assert "Still to type: Customer" in said
    assert "Not understood yet: Thickness wanted" in said


def test_an_earlier_order_is_copied_with_all_its_terms(client, lot):  # noqa: ARG001
    """The form is filled with the terms; recorded under a new number they are equal, and a note says after which."""
    page = client.get("/orders/new?from=AP-1").content.decode()
    assert 'value="50.8 mm"' in page
    sent = {**order_fields(ORDER), "copied_from": "AP-1", "order_id": "AP-9"}
    assert client.post("/orders/new", sent).status_code == 302
    copied = orders.show_order("AP-9")
    terms = copied.order.order
    assert (terms.outline, terms.edge_exclusion, terms.hold) == (ORDER.outline, ORDER.edge_exclusion, ORDER.hold)
    assert [(one.quantity, one.upper) for one in terms.limits] == [
        (one.quantity, pytest.approx(one.upper)) for one in ORDER.limits
    ]
    assert "AP-1" in copied.notes[0].text


def test_wafers_are_named_by_a_pasted_column(client, lot):  # noqa: ARG001
    """Four names for three pieces and a spare; of a row with more cells the first counts."""
    answer = client.post("/orders/new", {**FORM, "wafer_names": "B1\t500\nB2\nB3\n\nB4\n"})
    assert answer.status_code == 302
    assert orders.show_order("N-1").order.wafer_ids == ("B1", "B2", "B3", "B4")


def test_names_that_do_not_fit_the_pieces_are_refused(client, lot):  # noqa: ARG001
    """Three names for four wafers, one twice: both sentences, nothing recorded."""
    answer = client.post("/orders/new", {**FORM, "wafer_names": "B1\nB1\nB2"})
    said = answer.content.decode()
    assert answer.status_code == 422
    assert "3 wafers are named" in said
    assert "Named twice: B1" in said
