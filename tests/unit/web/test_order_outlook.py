"""Order entry: what the order would be like while it is typed, an earlier order copied, wafers named by a column."""

from dataclasses import replace

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


def test_a_copied_value_keeps_its_digits():
    """Six of them would change what a lost wafer costs."""
    assert order_fields(replace(ORDER, value_per_wafer=1234567.25))["value_per_wafer"] == "1234567.25"


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


def test_a_list_with_thickness_and_spare_columns_is_taken_whole(client, lot):  # noqa: ARG001
    """Three pieces and the marked spare, wherever it stands, each as thick as listed; an empty cell as the order says."""
    pasted = "wafer\tthickness_um\tspare\nB1\t501,5\t\nB2\t498\tyes\nB3\t\tno\nB4\t0.5 mm\t"
    assert client.post("/orders/new", {**FORM, "wafer_names": pasted}).status_code == 302
    found = [one.wafer.wafer for one in orders.show_order("N-1").wafers]
    assert [(one.wafer_id, one.spare) for one in found] == [("B1", False), ("B2", True), ("B3", False), ("B4", False)]
    assert [one.nominal_thickness for one in found] == [pytest.approx(um * 1e-6) for um in (501.5, 498.0, 500.0, 500.0)]


def test_a_list_with_faults_is_refused_with_all_its_rows(client, lot):  # noqa: ARG001
    """A number without unit and a spare too many: rows named, text kept, nothing recorded."""
    said = client.post(
        "/orders/new", {**FORM, "wafer_names": "wafer\tthickness\nB1\t500\nB2\t0.5 km x"}
    ).content.decode()
    assert "Row 2: The thickness &#x27;500&#x27; has no unit" in said
    assert "Row 3:" in said
    said = client.post("/orders/new", {**FORM, "wafer_names": "wafer;spare\nB1;x\nB2;x\nB3;\nB4;"}).content.decode()
    assert "The list marks 2 as spare; the order says 1." in said
    said = client.post(
        "/orders/new", {**FORM, "wafer_names": "wafer;thickness_um\nB1;80\nB2;500\nB3;500\nB4;500"}
    ).content.decode()
    assert "Wafer B1 is listed with 80.0" in said
    assert [line.order_id for line in orders.list_orders()] == ["AP-1"]
