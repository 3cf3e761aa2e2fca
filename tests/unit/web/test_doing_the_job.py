"""One wafer through the job by pages alone: bonded, judged, lapped, polished, judged, certified."""

import html
import re
from contextlib import closing
from datetime import UTC, datetime

import pytest

from lapwright.testing.lot import BOND_THICKNESS, CARRIER_THICKNESS, flat

WAFER = "AP-1-01"
PAGE = f"/orders/AP-1/wafers/{WAFER}"


def do(client, deed, **fields):
    """Do a deed on the page of the wafer; it must be offered there, and be taken."""
    page = client.get(PAGE).content.decode()
    assert f'action="{PAGE}/do/{deed}"' in page, f"{deed} is not offered"
    answer = client.post(f"{PAGE}/do/{deed}", {f"{deed}-{name}": text for name, text in fields.items()})
    refused = re.findall(r"<li>(.*?)</li>", answer.content.decode()) if answer.status_code != 302 else []
    assert answer.status_code == 302, refused
    return answer


def state():
    """Where the wafer stands."""
    from lapwright.app import orders

    return orders.show_wafer(WAFER).wafer.state


def orders_of(order_id):
    """The names of the wafers of an order."""
    from lapwright.app import orders

    return orders.recorded_order(order_id).wafer_ids


@pytest.fixture
def bonded(client, lot):
    """The wafer read in and bonded by the page, its stack read."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    do(client, "bond", carrier="C1", adhesive="mounting-wax", seen_from="worked", wafer_turn="0°", carrier_turn="0°")
    assert state() == "bonded"
    lot.now = max(lot.now, datetime.now(tz=UTC))  # the page bonded it at the time of this machine
    lot.read(WAFER, "stack", "stack", flat(CARRIER_THICKNESS + BOND_THICKNESS + 500e-6))
    return lot


def test_a_bond_is_judged_and_kept(client, bonded):  # noqa: ARG001  the wafer on its carrier
    """Judging shows the advice with its drawn mark; keeping it makes the wafer ready."""
    do(client, "judge-bond")
    assert "keep the bond" in client.get(PAGE).content.decode()
    do(client, "decide-bond", decision="keep")
    assert state() == "ready"


def test_against_the_advice_the_reason_must_be_given(client, bonded):  # noqa: ARG001  the wafer on its carrier
    """A decision against the advice without a reason is refused on the page, and nothing is recorded."""
    do(client, "judge-bond")
    answer = client.post(f"{PAGE}/do/decide-bond", {"decide-bond-decision": "rebond"})
    assert answer.status_code == 422
    assert 'class="fault" id="id_decide-bond-reason_error"' in answer.content.decode()
    assert state() == "stack_read"


def test_to_bond_again_the_first_thing_offered_is_to_take_it_off(client, bonded):  # noqa: ARG001  on its carrier
    """Decided without words of one's own: the task still says why, and the open form is the next one, not the last."""
    from lapwright.app import orders

    do(client, "judge-bond")
    do(client, "decide-bond", decision="rebond", reason="a grain was seen under it")
    assert state() == "rebond"
    page = client.get(PAGE).content.decode()
    assert re.search(r'<details class="deed acts" id="([\w-]+)" open>', page)[1] == "debond"
    assert orders.show_wafer(WAFER).bonds[-1].decided.reason == "a grain was seen under it"


def test_a_route_is_chosen_and_a_run_recorded(client, bonded):
    """The route page offers routes; with one chosen the wafer's page shows preset and zero, and a run is recorded."""
    from lapwright.app import orders, runs

    do(client, "judge-bond")
    do(client, "decide-bond", decision="keep")
    page = client.get("/orders/AP-1/route").content.decode()
    mark = re.search(r'name="route" value="(\w+)"', page)[1]
    assert client.post("/orders/AP-1/route", {"route": mark, "reason": "shortest"}).status_code == 302
    assert "Chosen" in client.get("/orders/AP-1/route").content.decode()
    while runs.next_stage(WAFER).planned.kind != "lap":
        stage = runs.next_stage(WAFER)
        if stage.planned.kind == "measure" and stage.stage.state != "done":
            bonded.read(WAFER, "stack", "after_stage", flat(CARRIER_THICKNESS + BOND_THICKNESS + 500e-6))
        else:
            do(client, "complete")
    ahead = runs.next_stage(WAFER)
    page = client.get(PAGE).content.decode()
    assert f"{ahead.preset * 1e6:.1f}\u00a0µm" in page
    assert "must be taken" in page
    station = "L1" if ahead.planned.plate == "cast-iron" else "L2"
    put_on(client, station, ahead.planned)
    do(client, "zero", station=station, jig="J1", texts="0.0 0.1 0.2")
    do(client, "start", station=station, jig="J1", preset="")
    assert state() == "in_work"
    do(client, "finish", gauge_removal=f"{ahead.removal * 1e6:.1f} µm", stop_reason="preset reached")
    (run,) = orders.show_wafer(WAFER).runs
    assert run.gauge_removal == pytest.approx(ahead.removal, abs=1e-7)


def put_on(client, station, stage):
    """By the wafer's page the station gets what the stage wants; then that page leads to a run there."""
    page = html.unescape(client.get(PAGE).content.decode())
    way = re.search(rf'href="(/room\?station={station}&[^"]*)#station-form"', page)[1]
    form = client.get(way).content.decode()
    for tool in (stage.plate, stage.abrasive):
        assert re.search(rf'<option value="{tool}" selected', form)
    sent = dict(re.findall(r'name="(station-(?:version|wafer))" value="([^"]*)"', form))
    chosen = {"station_id": station, "kind": "lap", "plate": stage.plate, "abrasive": stage.abrasive}
    answer = client.post("/room/station", sent | {f"station-{name}": value for name, value in chosen.items()})
    assert answer.headers["Location"] == f"/stations/{station}?wafer={WAFER}#start"
    assert answer.headers["Location"] in client.get(PAGE).content.decode()


def test_a_stale_route_is_refused(client, lot):  # noqa: ARG001  the shop
    """A route that is no longer on offer is refused with a sentence, and none is chosen."""
    from lapwright.app import routes

    answer = client.post("/orders/AP-1/route", {"route": "0123456789abcdef"})
    assert answer.status_code == 409
    assert "Nothing was chosen" in answer.content.decode()
    assert routes.chosen_route("AP-1") is None


def test_a_finished_wafer_is_certified_and_its_papers_open(client, lot):
    """Judged by the page, certified by the Traveller; the documents open, the HTML one without any rights."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    bond = lot.bond(WAFER, flat(500e-6))
    from lapwright.app import orders

    lot.route()
    lot.work(WAFER)
    lot.finish(WAFER, bond.bond_id, flat(100e-6))
    assert client.post("/orders/AP-1/certificate").status_code == 302
    assert state() == "certified"
    page = client.get("/orders/AP-1").content.decode()
    assert "thickness conforms" in page
    for kept in orders.show_order("AP-1").documents:
        with closing(client.get(f"/orders/AP-1/documents/{kept.document_id}")) as answer:
            assert answer.status_code == 200
            assert len(b"".join(answer.streaming_content)) == kept.size
        if kept.kind == "certificate_html":
            assert answer["Content-Security-Policy"].startswith("sandbox;")
        if kept.kind == "certificate_csv":
            assert answer["Content-Disposition"].startswith("attachment;")


def test_a_document_of_another_order_is_not_found(client, lot):
    """A document opens from its own order alone."""
    from lapwright.app import certificates

    kept = certificates.store_document("AP-1", "note.txt", b"words", **lot.why())
    with closing(client.get(f"/orders/AP-1/documents/{kept.document_id}")) as answer:
        assert answer.status_code == 200
    assert client.get(f"/orders/AP-2/documents/{kept.document_id}").status_code == 404


def test_a_wafer_set_aside_is_taken_up_again(client, lot):  # noqa: ARG001  the shop
    """Setting aside needs a reason; taking up puts the wafer where it stood."""
    answer = client.post(f"{PAGE}/do/set-aside", {"set-aside-reason": ""})
    assert answer.status_code == 422
    do(client, "set-aside", reason="waits for the customer")
    assert state() == "set_aside"
    do(client, "take-up", reason="the customer answered")
    assert state() == "received"


def test_a_wafer_that_broke_leaves_an_order_short_and_its_page_says_so(client, lot):  # noqa: ARG001  the shop
    """One piece is promised; what broke is not delivered."""
    assert "be delivered" not in client.get("/orders/AP-1").content.decode()
    for one in orders_of("AP-1"):
        client.post(f"/orders/AP-1/wafers/{one}/do/reject", {"reject-reason": "slipped from the tweezers"})
    assert "The piece promised cannot be delivered any more." in client.get("/orders/AP-1").content.decode()


def test_a_deed_that_nobody_knows_is_not_found(client, lot):  # noqa: ARG001  the shop
    """An address with a deed that does not exist is a clear 404."""
    assert client.post(f"{PAGE}/do/nonsense").status_code == 404


def test_a_note_is_kept_and_shown_as_text(client, lot):  # noqa: ARG001  the shop
    """A note of ten thousand characters with markup in it is kept whole and shown as text."""
    text = "<b>wet</b> " + 9_980 * "x"
    client.post("/orders/AP-1/note", {"text": text})
    page = client.get("/orders/AP-1").content.decode()
    assert "&lt;b&gt;wet&lt;/b&gt;" in page
    assert 9_980 * "x" in page
