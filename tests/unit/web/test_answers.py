"""Headers, refusals and faults: what every answer carries, and what none may show."""

import json
import logging
import re

import pytest

TYPED = {
    "order_id": "AP-9", "customer": "Fennbach Filters", "quantity": "1", "spares": "0", "material": "LiTaO3",
    "shape": "round", "diameter": "50,8 mm", "mark": "none", "start_thickness": "500 µm", "target_thickness": "0.1 mm",
    "tolerance": "2 µm", "edge_exclusion": "2 mm", "hold": "free", "rule": "guarded", "risk": "2",
}  # fmt: skip


def faulty(answer):
    """The fields of a form that a sentence stands beside."""
    return set(re.findall(r'class="fault" id="id_(\w+)_error"', answer.content.decode()))


@pytest.mark.parametrize("address", ["/", "/orders", "/orders/new", "/who", "/nowhere", "/orders/nowhere"])
def test_every_page_carries_the_headers(client, address):
    """A page may load from here only, be framed by nobody, and send nothing elsewhere."""
    answer = client.get(address)
    assert "default-src 'self'" in answer["Content-Security-Policy"]
    assert "'unsafe-inline'" not in answer["Content-Security-Policy"]
    assert answer["X-Frame-Options"] == "DENY"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] == "same-origin"


@pytest.mark.parametrize("address", ["/", "/orders", "/orders/new", "/who", "/nowhere"])
def test_no_page_holds_script_or_style_inside(client, address):
    """Scripts and styles are files; a page has no inline ones, so the policy needs no exception."""
    page = client.get(address).content.decode()
    assert "<style" not in page
    assert " style=" not in page
    assert " onclick=" not in page
    for part in page.split("<script")[1:]:
        assert part.split(">")[1].startswith("</script")


def test_an_unknown_address_is_a_clear_sentence(client):
    """404: one sentence, a way on, no internals."""
    answer = client.get("/nowhere")
    assert answer.status_code == 404
    assert "No page has this address" in answer.content.decode()


def test_an_unknown_order_names_what_was_not_found(client):
    """404 of an order: the sentence of the records."""
    answer = client.get("/orders/AP-77")
    assert answer.status_code == 404
    assert "AP-77" in answer.content.decode()


def test_a_wrong_method_is_refused_in_words(client):
    """405: the address does not take it."""
    answer = client.post("/orders")
    assert answer.status_code == 405
    assert answer["Allow"] == "GET, HEAD"
    assert "does not take that kind of request" in answer.content.decode()


def test_a_form_from_elsewhere_is_refused(records):  # noqa: ARG001  the database behind the pages
    """403: a form without our token does nothing; without our cookie it is told how to let one be kept."""
    from django.test import Client

    client = Client(HTTP_HOST="localhost", enforce_csrf_checks=True)
    answer = client.post("/orders/new", {"order_id": "X"})
    assert (answer.status_code, "Allow cookies" in answer.content.decode()) == (403, True)
    client.get("/orders/new")
    answer = client.post("/orders/new", {"order_id": "X"})
    assert (answer.status_code, "did not come from this program" in answer.content.decode()) == (403, True)


def test_a_request_under_another_name_is_refused(records):  # noqa: ARG001  the database behind the pages
    """400: a page of somebody else's that points its name at this machine gets nothing."""
    from django.test import Client

    answer = Client(HTTP_HOST="elsewhere.example").get("/orders")
    assert answer.status_code == 400


def test_too_much_at_once_is_413(client, monkeypatch):
    """413: larger than the limit, in a sentence."""
    from django.conf import settings

    monkeypatch.setattr(settings, "DATA_UPLOAD_MAX_MEMORY_SIZE", 100)
    answer = client.post("/orders/new", "notes=" + 200 * "x", content_type="application/x-www-form-urlencoded")
    assert answer.status_code == 413
    assert "larger than this page takes" in answer.content.decode()


def test_a_fault_of_ours_shows_a_reference_and_no_internals(client, monkeypatch, caplog):
    """500: a sentence with a reference that is in the log, and nothing of the fault itself."""
    from lapwright.app import orders

    def broken():
        raise RuntimeError("secret of the inside")

    monkeypatch.setattr(orders, "list_orders", broken)
    client.raise_request_exception = False
    monkeypatch.setattr(logging.getLogger("django.request"), "disabled", True)
    answer = client.get("/orders")
    page = answer.content.decode()
    assert answer.status_code == 500
    assert "secret of the inside" not in page
    assert "Traceback" not in page
    told = re.search(r"this reference: (\w{8})\.", page)
    assert f"fault {told[1]} at /orders" in caplog.messages


def test_api_failures_have_the_one_shape(client):
    """Under /api/ every failure is {ok, code, error, errors}."""
    for answer in (
        client.get("/api/nowhere"),
        client.get("/api/jig"),
        client.post("/api/jig", "{", content_type="application/json"),
        client.post("/api/jig", "{}", content_type="application/json"),
    ):
        told = json.loads(answer.content)
        assert told["ok"] is False
        assert set(told) == {"ok", "code", "error", "errors"}
        assert 400 <= answer.status_code < 500


def test_openapi_describes_the_questions(client):
    """The API describes itself."""
    described = client.get("/api/openapi.json").json()
    assert {"/api/thickness", "/api/bond", "/api/jig", "/api/route", "/api/orders"} <= set(described["paths"])


def test_health_answers_with_the_version(client):
    """Whoever watches the process gets one line."""
    from lapwright import __version__

    assert client.get("/health").json() == {"ok": True, "version": __version__}


def test_all_faults_of_the_order_form_at_once(client):
    """Three faults, three sentences beside their fields, status 422, and what was typed stays."""
    answer = client.post("/orders/new", TYPED | {"diameter": "50.8", "tolerance": "2", "hold": ""})
    assert answer.status_code == 422
    assert faulty(answer) == {"diameter", "tolerance", "hold"}
    assert 'value="50.8"' in answer.content.decode()


def test_the_model_refuses_beside_its_field(client):
    """What only the model knows (a tolerance of zero is no range) stands beside the field, too."""
    answer = client.post("/orders/new", TYPED | {"tolerance": "0 µm"})
    assert faulty(answer) == {"tolerance"}


def test_an_order_is_received_with_its_units(client):
    """Lengths typed in different units, with point or comma, become the same SI values."""
    from lapwright.app import orders

    answer = client.post("/orders/new", TYPED)
    assert answer.status_code == 302
    order = orders.show_order("AP-9").order.order
    assert order.outline.diameter == pytest.approx(0.0508)
    assert order.target_thickness == pytest.approx(100e-6)
    assert order.rule.false_accept == pytest.approx(0.02)


def test_an_order_is_judged_by_a_factor(client):
    """A guard band of 1.5 expanded uncertainties is kept with the order and stands on its Traveller."""
    from lapwright.app import orders

    answer = client.post("/orders/new", TYPED | {"rule": "factor", "guard_factor": "1,5"}, follow=True)
    assert orders.show_order("AP-9").order.order.rule.guard_factor == pytest.approx(1.5)
    assert "guard band of 1.5 U" in answer.content.decode()


@pytest.mark.parametrize(
    ("rule", "factor"), [("factor", ""), ("factor", "0"), ("factor", "wide"), ("guarded", "1"), ("simple", "1")]
)
def test_a_factor_goes_with_its_rule_and_no_other(client, rule, factor):
    """Missing, nought, no number, or with a rule that has none: a fault beside the field, beside all the others."""
    assert faulty(client.post("/orders/new", TYPED | {"rule": rule, "guard_factor": factor})) == {"guard_factor"}
    answer = client.post("/orders/new", TYPED | {"rule": "factor", "guard_factor": "", "tolerance": "2"})
    assert faulty(answer) == {"guard_factor", "tolerance"}


def test_what_no_gauge_can_prove_is_told_when_the_order_comes_in(client):
    """± 2 µm against a gauge of ± 3 µm: told after saving, and when its number is taken; a better gauge settles it."""
    from lapwright.app import gauges
    from lapwright.model.readings import Gauge
    from lapwright.web.surroundings import now

    poor = Gauge(gauge_id="poor", name="poor", limit=3e-6, local=1.5e-6, repeatability=0.5e-6)
    gauges.register_gauge(poor, by="local", reason="test", at=now())
    told = client.post("/orders/new", TYPED, follow=True).content.decode()
    assert "Order AP-9 is recorded" in told
    assert "cannot prove" in told
    again = client.post("/orders/new", TYPED)
    assert again.status_code == 422
    assert "cannot prove" in again.content.decode()
    fine = Gauge(gauge_id="fine", name="fine", limit=1e-7, local=5e-8, repeatability=2e-8)
    gauges.register_gauge(fine, by="local", reason="test", at=now())
    assert "cannot prove" not in client.post("/orders/new", TYPED | {"order_id": "AP-10"}, follow=True).content.decode()


@pytest.mark.parametrize("number", ["new", "a/b", "", "../x", "a?b"])
def test_an_order_number_that_is_no_address_is_refused(client, number):
    """An order's number becomes part of an address; what cannot is refused."""
    answer = client.post("/orders/new", TYPED | {"order_id": number})
    assert faulty(answer) == {"order_id"}


def test_the_cookie_says_who_signs(client):
    """Whoever works at the screen signs what is recorded there."""
    from lapwright.app import orders, people
    from lapwright.web.surroundings import now

    people.add_person("ines", "Ines Reuter", by="local", reason="test", at=now())
    client.post("/who", {"name": "ines"})
    client.post("/orders/new", TYPED)
    assert orders.show_order("AP-9").order.signature.by == "ines"


def test_nobody_signs_under_a_name_that_is_not_known(client):
    """A name that nobody here has is refused."""
    answer = client.post("/who", {"name": "nobody"})
    assert answer.status_code == 404
    assert "lapwright_person" not in answer.cookies
