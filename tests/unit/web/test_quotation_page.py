"""Pages: the quotation of an order, its line on the Traveller, and the carriers for a wafer."""

import html

import pytest

from lapwright.app import quotations
from lapwright.testing.lot import CARRIER_THICKNESS, flat


def page(client, address):
    """The text of a page."""
    answer = client.get(address)
    assert answer.status_code == 200
    return html.unescape(answer.content.decode())


def test_a_quotation_is_shown_recorded_and_refused_in_words(lot, client):
    """Before it is recorded it says so; a POST makes Q1 with its PDF; nonsense is told beside its field."""
    lot.route()
    before = page(client, "/orders/AP-1/quotation")
    assert "Not recorded" in before
    assert "In nine of ten such jobs" in before
    refused = client.post("/orders/AP-1/quotation", {"chance": "120", "days": "30", "language": "en", "start": ""})
    assert refused.status_code == 422
    assert "less than 100 %; found 120 %" in refused.content.decode()
    sent = client.post("/orders/AP-1/quotation", {"chance": "90", "days": "14", "language": "de", "start": "2"})
    assert sent.status_code == 302
    held = quotations.quotations("AP-1")[0].quotation
    assert (held.started, (held.valid_until - held.issued).days) == (2, 14)
    after = page(client, "/orders/AP-1/quotation")
    assert "AP-1-Q1.pdf" in after
    assert f"{held.piece_sure:.2f}" in after
    assert f"{held.sure:.2f}" in page(client, "/orders/AP-1")
    told = client.get("/api/orders/AP-1/quotation").json()["result"]
    assert told["cost_expected"] == pytest.approx(sum(one["cost"] for one in told["stages"]))
    assert "latest_against_actual" not in told  # nothing was done yet


def test_a_wafer_about_to_be_bonded_is_told_its_carrier(lot, client):
    """On its page and on the Shelf; not once it lies on one."""
    wafer = lambda x, _y: 500e-6 + 3e-6 * x / 0.0508  # noqa: E731  a field
    lot.read("AP-1-01", "wafer", "incoming", wafer, is_sure=True)
    lot.read("C1", "carrier", "carrier", lambda _x, y: CARRIER_THICKNESS + 3e-6 * y / 0.0762, is_sure=True)
    for address in ("/orders/AP-1/wafers/AP-1-01", "/shelf"):
        assert "Carrier C1: turn it by" in page(client, address)
    lot.bond("AP-1-01", flat(500e-6))
    assert "Carrier C1: turn it by" not in page(client, "/orders/AP-1/wafers/AP-1-01")
