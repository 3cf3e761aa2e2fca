"""Who may do what: every address and method, asked by each role, from this machine and from elsewhere.

Expected statuses are RFC 9110: 401 without and 403 with too little; a form that is let through may still be refused as
a form (4xx other than 401 and 403), because it is sent empty. That a viewer writes nothing is common practice, no source.
"""

import html
import json
import re

import pytest

from lapwright.app import accounts, orders, wiring
from lapwright.model.access import ROLE_RIGHTS
from lapwright.web.rights import DEEDS, OPEN, SAFE, TO_WRITE, needed

METHODS = ("GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE")
PASSWORD = "mica-and-pitch-7"
ROLES = ("none", "viewer", "operator", "engineer", "admin")
ELSEWHERE = "192.0.2.7"  # TEST-NET-1, RFC 5737


@pytest.fixture
def demanded(lot, monkeypatch):
    """Accounts demanded, one person of each role."""
    from django.contrib.auth.hashers import ScryptPasswordHasher

    from lapwright.records import models

    monkeypatch.setattr(accounts, "are_demanded", lambda _settings: True)
    for role in ROLES:
        accounts.open_account(role[:3], "", role, **lot.why())
    models.Person.objects.filter(username__in=[role[:3] for role in ROLES]).update(
        password=ScryptPasswordHasher().encode(PASSWORD, "salt", n=16)
    )
    return lot


def asker(role=None, address=ELSEWHERE):
    """A browser, logged in as somebody of a role."""
    from django.contrib.auth import get_user_model
    from django.test import Client

    client = Client(HTTP_HOST="localhost", REMOTE_ADDR=address)
    if role is not None:
        client.force_login(get_user_model().objects.get(username=role[:3]))
    return client


def addresses():
    """Every address of the pages and of the API, with something in each place, and its name."""
    from django.urls import get_resolver, resolve

    def walk(patterns, prefix=""):
        for one in patterns:
            if hasattr(one, "url_patterns"):
                yield from walk(one.url_patterns, prefix + str(one.pattern))
            else:
                yield prefix + str(one.pattern)

    filled = {"order_id": "AP-1", "wafer_id": "AP-1-01", "station_id": "L1", "gauge_id": "G1", "study_id": "S1"}
    for pattern in walk(get_resolver().url_patterns):
        deeds = DEEDS["gauge_do"] if "gauges/" in pattern else DEEDS["do"]
        for deed in deeds if "<slug:" in pattern else ("x",):

            def fill(found, deed=deed):
                kind, _, name = found[1].rpartition(":")
                return filled.get(name) or {"int": "1", "slug": deed}.get(kind, "x")

            path = "/" + re.sub(r"<([^>]+)>", fill, pattern).strip("^$")
            yield path, resolve(path)


def counted():
    """How many rows each table of records holds."""
    from django.apps import apps

    return {model.__name__: model.objects.count() for model in apps.get_app_config("records").get_models()}


@pytest.mark.usefixtures("demanded")
def test_every_address_and_method_asks_for_the_right_of_its_role():
    """Walks all of them for each role: refused exactly where the role lacks the right; nobody without writes a row."""
    before = counted()
    asked = 0
    for role in (None, *ROLES):
        client = asker(role)
        rights = ROLE_RIGHTS[role] if role else frozenset()
        for path, found in addresses():
            for method in METHODS if role in (None, "viewer") else ("POST",):
                right = needed(found.view_name, method, found.kwargs)
                allowed = found.view_name in OPEN or right in rights
                if allowed and (method not in SAFE or found.view_name != "orders"):
                    continue  # what is allowed is tested where it is done
                if found.view_name.startswith("api:") and method not in SAFE:
                    allowed = False
                answer = client.generic(method, path)
                asked += 1
                refused = answer.status_code in (401, 403) or answer.headers.get("Location", "").startswith("/login")
                assert refused is not allowed, (role, method, path, answer.status_code)
    assert asked > 300
    assert counted() == before


@pytest.mark.usefixtures("lot")
def test_without_accounts_nobody_elsewhere_gets_anything():
    """On loopback alone: every address and method from another machine is refused, whatever server is put before it."""
    before = counted()
    client = asker()
    for path, _found in addresses():
        for method in METHODS:
            assert client.generic(method, path).status_code == 403, (method, path)
    assert counted() == before
    assert asker(address="127.0.0.1").get("/orders").status_code == 200
    assert asker(address="::1").get("/orders").status_code == 200


@pytest.mark.usefixtures("django")
def test_every_address_that_takes_a_form_names_its_right():
    """No address is left to the admin because it was forgotten."""
    forgotten = set()
    for _path, found in addresses():
        cells = [cell.cell_contents for cell in getattr(found.func, "__closure__", None) or ()]
        takes = any(isinstance(one, list) and "POST" in one for one in cells)
        if takes and found.view_name not in (*OPEN, *DEEDS, *TO_WRITE):
            forgotten.add(found.view_name)
    assert forgotten == set()


@pytest.mark.usefixtures("django")
def test_each_deed_to_a_wafer_or_a_gauge_names_its_right():
    """The table of deeds is the one the pages have."""
    from lapwright.web.deeds import DEEDS as WAFER_DEEDS
    from lapwright.web.pages.gauges import _DOERS

    assert set(DEEDS["do"]) == set(WAFER_DEEDS)
    assert set(DEEDS["gauge_do"]) == set(_DOERS)


@pytest.mark.usefixtures("demanded")
def test_what_you_may_do_is_what_you_see():
    """A viewer's page has no form but the log-out; an engineer's has those of planning; an admin's all."""
    seen = {}
    for role in ("viewer", "operator", "engineer"):
        page = asker(role).get("/orders/AP-1").content.decode()
        seen[role] = re.findall(r'<form method="post" action="([^"]+)"', page)
    assert seen == {
        "viewer": [],
        "operator": ["/orders/AP-1/note"],
        "engineer": ["/orders/AP-1/certificate", "/orders/AP-1/note"],
    }
    assert "/orders/new" not in asker("viewer").get("/orders").content.decode()
    assert "/orders/new" in asker("engineer").get("/orders").content.decode()


def log_in(client, name, password):
    """The form of the log-in, sent."""
    return client.post("/login", {"name": name, "password": password, "next": "/orders"})


@pytest.mark.usefixtures("demanded")
def test_logging_in_and_out():
    """The wanted page after a right password; a plain refusal after a wrong one; out is out."""
    client = asker()
    assert client.get("/orders").headers["Location"] == "/login?next=%2Forders"
    assert log_in(client, "eng", "wrong").status_code == 403
    assert log_in(client, "non", PASSWORD).status_code == 403
    assert log_in(client, "eng", PASSWORD).headers["Location"] == "/orders"
    assert client.get("/orders").status_code == 200
    client.post("/logout")
    assert client.get("/orders").status_code == 302
    away = client.post("/login", {"name": "eng", "password": PASSWORD, "next": "https://elsewhere.example/"})
    assert away.headers["Location"] == "/"


@pytest.mark.usefixtures("demanded")
def test_log_ins_are_throttled():
    """After five failures the right password does not help any more; from another machine it does."""
    client = asker()
    for _ in range(5):
        assert log_in(client, "eng", "wrong").status_code == 403
    told = log_in(client, "eng", PASSWORD)
    assert told.status_code == 403
    assert "Too many log-ins failed" in told.content.decode()
    assert log_in(asker(address="192.0.2.8"), "eng", PASSWORD).status_code == 302


def test_a_role_taken_away_holds_at_once(demanded):
    """The session is still there, the rights are not."""
    client = asker("operator")
    assert client.get("/orders").status_code == 200
    accounts.change_role("ope", "none", **demanded.why())
    assert client.get("/orders").status_code == 302


def test_a_token_acts_within_its_scope_and_time(demanded):
    """Read may not write; withdrawn and run out are nothing; only the API takes it; only its digest is on record."""
    from datetime import timedelta

    from lapwright.records import models
    from lapwright.web.surroundings import now

    text, token = accounts.make_token("eng", "fetching", ("read",), 1, **{**demanded.why(), "at": now()})
    bearer = {"HTTP_AUTHORIZATION": f"Bearer {text}"}
    client = asker()
    assert client.get("/api/orders").status_code == 401
    assert json.loads(client.get("/api/orders", **bearer).content)["ok"] is True
    assert client.get("/orders", **bearer).status_code == 302
    assert client.get("/api/orders", HTTP_AUTHORIZATION=f"Bearer {text}x").status_code == 401
    assert text not in str(list(models.ApiToken.objects.values_list()))
    assert accounts.holder_of(text, at=now() + timedelta(days=2)) is None
    accounts.revoke_token(token.token_id, **demanded.why())
    assert client.get("/api/orders", **bearer).status_code == 401


@pytest.mark.usefixtures("demanded")
def test_a_form_without_its_token_is_refused_even_with_a_session():
    """CSRF: the browser's cookie alone is not enough."""
    from django.contrib.auth import get_user_model
    from django.test import Client

    client = Client(HTTP_HOST="localhost", enforce_csrf_checks=True, REMOTE_ADDR=ELSEWHERE)
    client.force_login(get_user_model().objects.get(username="adm"))
    assert client.post("/orders/AP-1/note", {"text": "x"}).status_code == 403
    assert client.post("/login", {"name": "adm", "password": PASSWORD}).status_code == 403


def test_a_write_is_signed_by_whoever_is_logged_in(demanded):  # noqa: ARG001
    """Not by the name in the cookie of the screen."""
    from lapwright.app import orders

    client = asker("engineer")
    client.cookies["lapwright_person"] = "local"
    client.post("/orders/AP-1/note", {"text": "seen"})
    assert orders.show_order("AP-1").notes[-1].signature.by == "eng"


@pytest.mark.usefixtures("demanded")
def test_cookies_over_tls_are_for_tls_alone():
    """Secure cookies and HSTS (RFC 6797) when the page came over TLS."""
    client = asker("engineer")
    assert asker().get("/login", secure=True).cookies["csrftoken"]["secure"]
    answer = client.get("/stations", secure=True)
    assert answer.headers["Strict-Transport-Security"].startswith("max-age=")
    assert all(cookie["secure"] for cookie in answer.cookies.values())


@pytest.mark.parametrize(
    ("host", "setting", "wanted"),
    [("127.0.0.1", "elsewhere", False), ("::1", "elsewhere", False), ("localhost", "elsewhere", False),
     ("0.0.0.0", "elsewhere", True), ("::", "elsewhere", True), ("192.0.2.7", "elsewhere", True),
     ("bench.example", "elsewhere", True), ("127.0.0.1", "always", True)],
)  # fmt: skip
def test_accounts_are_demanded_as_soon_as_others_can_reach_the_pages(host, setting, wanted):
    """By the address listened on; 127.0.0.0/8 and ::1 are loopback (RFC 1122, RFC 4291)."""
    from dataclasses import replace

    from lapwright.settings import Settings

    assert accounts.are_demanded(replace(Settings(), host=host, accounts=setting)) is wanted


def test_weak_passwords_are_refused_with_every_reason(demanded):
    """Short, common and digits alone, all at once; a good one is kept as a scrypt hash."""
    from lapwright.errors import BadInput
    from lapwright.records import models

    with pytest.raises(BadInput) as told:
        accounts.set_password("eng", "12345678", **demanded.why())
    assert len(told.value.faults) == 3
    with pytest.raises(BadInput, match="username"):
        accounts.check_password("mara-lindqvist", "mara.lindqvist")  # like the name of somebody not yet recorded
    accounts.set_password("eng", PASSWORD, **demanded.why())
    assert models.Person.objects.get(username="eng").password.startswith("scrypt$")


def test_the_last_admin_stays(demanded):
    """Nobody locks everybody out."""
    from lapwright.errors import Conflict

    with pytest.raises(Conflict, match="nobody who may administer"):
        accounts.change_role("adm", "viewer", **demanded.why())
    assert wiring.current_settings() is not None


@pytest.mark.usefixtures("demanded")
def test_what_was_typed_when_the_session_ended_goes_through_the_log_in():
    """A form sent without a session comes back with the log-in, and is sent by a button once somebody is logged in."""
    client, sent = asker(), {"text": "clean <b>twice</b>\r\nthen weigh", "password": PASSWORD}
    refused = client.post("/orders/AP-1/note?x=1", sent, HTTP_ACCEPT="text/html")
    kept = html.unescape(re.search(r'name="kept" value="([^"]*)"', refused.content.decode())[1])
    assert (refused.status_code, PASSWORD in kept) == (401, False)
    typed = {"name": "ope", "next": "/orders/AP-1/note?x=1", "kept": kept}
    again = client.post("/login", typed | {"password": "wrong"})
    assert (again.status_code, html.escape(kept) in again.content.decode()) == (403, True)
    page = client.post("/login", typed | {"password": PASSWORD}).content.decode()
    assert "clean &lt;b&gt;twice&lt;/b&gt;" in page
    assert orders.order_notes("AP-1") == ()
    action, fields = re.search(r'<form method="post" action="(/orders[^"]*)"', page)[1], dict(_hidden(page))
    assert client.post(action, fields).status_code == 302
    assert [(note.text, note.signature.by) for note in orders.order_notes("AP-1")] == [
        ("clean <b>twice</b>\r\nthen weigh", "ope")
    ]


@pytest.mark.usefixtures("demanded")
@pytest.mark.parametrize("kept", ["{", "[1]", '[["a"]]', "null", '{"a": 1}'])
def test_a_kept_form_that_is_none_is_left_alone(kept):
    """The log-in goes on as without it."""
    answer = asker().post("/login", {"name": "ope", "password": PASSWORD, "next": "/orders", "kept": kept})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/orders")


@pytest.mark.usefixtures("demanded")
def test_people_refused_come_back_with_what_was_typed():
    """A weak password: a status that says so, and name, full name and role still in the form; a token that is none."""
    client = asker("admin")
    new = {"deed": "add", "name": "nils", "full_name": "Nils Ek", "role": "engineer", "password": "short"}
    answer = client.post("/people", new)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert all(text in page for text in ('value="nils"', 'value="Nils Ek"', '<option value="engineer" selected>'))
    assert [one.name for one in accounts.list_accounts()].count("nils") == 0
    for told in ("x", "9" * 30, ""):
        assert client.post("/people", {"deed": "revoke", "token_id": told}).status_code == 404
        assert client.post("/account", {"deed": "revoke", "token_id": told}).status_code == 404


def test_a_browser_that_keeps_no_cookies_is_told_so(lot):  # noqa: ARG001  the shop
    """Without the cookie no form is taken, and the reason is not an old form."""
    from django.test import Client

    client = Client(HTTP_HOST="localhost", enforce_csrf_checks=True)
    answer = client.post("/orders/AP-1/note", {"text": "x"})
    assert (answer.status_code, "Allow cookies" in answer.content.decode()) == (403, True)


def test_people_before_the_first_admin(lot):
    """Whoever comes before the admin takes nothing away from anybody, so neither the first nor the second is refused."""
    from lapwright.records import models

    for name in ("mara", "nils"):
        assert accounts.open_account(name, "", "operator", **lot.why()).role == "operator"
        models.Person.objects.filter(username=name).update(password="scrypt$1$a$1$1$b")
    assert not accounts.has_an_admin()
    assert accounts.change_role("nils", "viewer", **lot.why()).role == "viewer"


@pytest.mark.usefixtures("demanded")
def test_signing_a_certificate_asks_for_the_password_again(monkeypatch):
    """Without it nothing is written; with it meaning, name, time and the files' SHA-256 are on record."""
    from lapwright.app import certificates, signing
    from lapwright.app.documents import store_document

    asked = []

    def written(order_id, *, method, by, reason, at):
        asked.append(method)
        store_document(order_id, "AP-1-C1.pdf", b"%PDF", kind="certificate_pdf", by=by, reason=reason, at=at)
        signing.sign_certificate(order_id, "AP-1-C1", "issued", method=method, by=by, reason=reason, at=at)

    monkeypatch.setattr(certificates, "issue_certificate", written)
    client = asker("engineer")
    for given in ({}, {"password": "wrong"}):
        client.post("/orders/AP-1/certificate", given)
    assert asked == []
    client.post("/orders/AP-1/certificate", {"password": PASSWORD})
    assert asked == ["password"]
    client.post("/orders/AP-1/certificate/sign", {"number": "AP-1-C1", "meaning": "released", "password": PASSWORD})
    asker("operator").post("/orders/AP-1/certificate/sign", {"number": "AP-1-C1", "meaning": "checked"})
    signed = signing.signatures_of("AP-1")
    assert [(one.meaning, one.by, one.method, len(one.documents)) for one in signed] == [
        ("issued", "eng", "password", 1), ("released", "eng", "password", 1),
    ]  # fmt: skip
    assert "released" in client.get("/orders/AP-1").content.decode()
    refused = client.post("/orders/AP-1/certificate/sign", {"number": "C9", "meaning": "so", "password": PASSWORD})
    assert refused.status_code == 422


# ----------------------------------------------------------------------------------------------------------------------


def _hidden(page):
    """Names and values of the hidden text of a page, as a browser sends them."""
    for name, value in re.findall(r'<textarea name="([^"]*)" hidden>\n(.*?)</textarea>', page, re.DOTALL):
        yield name, html.unescape(value)
