"""What the pages know by themselves: which carrier to read, what a closed set says, where one goes on."""

import html
import re
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from lapwright.app import orders, readings, shelf, tasks
from lapwright.app.steps import STATES_OF_MOMENT
from lapwright.model.readings import Signature
from lapwright.testing.lot import BOND_THICKNESS, CARRIER_THICKNESS, flat
from lapwright.web.pages.hands import lines_of

WAFER = "AP-1-01"
PAGE = f"/orders/AP-1/wafers/{WAFER}"
READINGS = "/orders/AP-1/readings"
BOND = {"adhesive": "mounting-wax", "seen_from": "worked", "wafer_turn": "0°", "carrier_turn": "0°"}


def text_of(answer):
    """A page as text."""
    return html.unescape(re.sub(r"\s+", " ", answer.content.decode()))


def bond(client, **fields):
    """What the form of a bond answers."""
    return client.post(f"{PAGE}/do/bond", {f"bond-{name}": value for name, value in (BOND | fields).items()})


def open_set(client, piece, moment, **more):
    """A set opened on the page; the answer, which leads to it."""
    gauge = "G1"
    sent = {"piece": piece, "moment": moment, "gauge": gauge, "pattern": "five", "repeats": "1", "unit": "µm"}
    return client.post(READINGS, sent | {"hold": "free", "soaked": "", "temperature": ""} | more)


def read(client, piece, moment, value):
    """A set of five sites typed and closed by the pages; where its page leads on to."""
    address = open_set(client, piece, moment).headers["Location"]
    for site in range(5):
        seen = re.search(r'name="seen" value="(\d+)"', client.get(address).content.decode())[1]
        answer = client.post(f"{address}/take", {"value": f"{value + 0.1 * (site % 2):.1f}", "seen": seen})
        assert answer.status_code == 302
    assert client.post(f"{address}/close").status_code == 302
    return client.get(address)


def waiting(now=None):
    """The lines of Hands that belong to wafers and carriers: verb and address."""
    listed = lines_of(tasks.waiting_tasks(now=now or datetime.now(tz=UTC)))
    return [(line.verb, line.address) for line in listed if line.order_id]


def test_a_bare_carrier_is_read_before_it_is_bonded(client, lot):
    """Hands sends to the carrier first; a begun set is found again; a closed one leads to the bond."""
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    name = next(one.carrier.carrier_id for one in shelf.list_carriers())
    assert waiting() == [("read a bare carrier", f"{READINGS}?piece={name}")]
    begun = open_set(client, name, "carrier").headers["Location"]
    assert ("finish reading the sites", f"{READINGS}?piece={name}") in waiting()
    assert client.get(f"{READINGS}?piece={name}").headers["Location"] == begun
    assert open_set(client, name, "carrier").headers["Location"] == begun  # on the phone begun, at the desk gone on
    assert "on with" not in text_of(client.get(READINGS))
    client.post(f"{begun}/void", {"reason": "dust"})
    page = read(client, name, "carrier", 6000.0)
    assert "Bond the next wafer" in text_of(page)
    assert waiting()[0] == ("bond it to a carrier", PAGE)


def test_an_unread_carrier_is_asked_about_once(client, lot):
    """Under a wafer it cannot be read: the first press is refused with the reason, the second is taken."""
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    name = next(one.carrier.carrier_id for one in shelf.list_carriers())
    answer = bond(client, carrier=name)
    assert answer.status_code == 422
    assert f"{name} was never read bare" in text_of(answer)
    asked = re.search(r'name="bond-asked_about" value="([^"]*)"', answer.content.decode())[1]
    assert bond(client, carrier=name, asked_about=asked).status_code == 302


def test_the_bond_is_judged_by_the_set_that_closes_it(client, lot):
    """Closing the stack judges the bond; where the carrier was not read, closing the carrier does."""
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    page = client.get(PAGE).content.decode()
    assert re.search(r'<option value="C1" selected', page)  # the carrier that was read
    assert bond(client, carrier="C1").status_code == 302
    thick = (CARRIER_THICKNESS + BOND_THICKNESS + 500e-6) * 1e6
    read(client, WAFER, "stack", thick)
    verdict = orders.show_wafer(WAFER).bonds[-1].verdict
    assert verdict is not None
    page = client.get(PAGE).content.decode()
    assert re.search(rf'value="{verdict.advice}"[^>]*checked', page)  # what is advised is chosen already
    assert f"{PAGE}/do/judge-bond" not in page


def test_a_wafer_that_is_given_up_gives_its_carrier_back(client, lot):
    """A wafer that broke on its carrier is not delivered; then the carrier is taken off it and is free again."""
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    bond(client, carrier="C1")
    assert client.post(f"{PAGE}/do/reject", {"reject-reason": "broke"}).status_code == 302
    assert f"{PAGE}/do/debond" in client.get(PAGE).content.decode()
    assert client.post(f"{PAGE}/do/debond", {"debond-method": "heat"}).status_code == 302
    assert [one.wafer_id for one in shelf.list_carriers() if one.carrier.carrier_id == "C1"] == [None]


def test_a_zero_with_the_piece_still_under_the_probe_is_questioned(client, lot):  # noqa: ARG001  the shop
    """The thickness typed where the zero is asked for is not taken at once; the same once more is."""
    address = open_set(client, WAFER, "incoming", zero="on").headers["Location"]
    answer = client.post(f"{address}/take", {"value": "499.8", "seen": "0"})
    assert "is something under the probe?" in text_of(answer)
    assert readings.show_set(int(address.rsplit("/", 1)[1])).readings == ()
    answer = client.post(f"{address}/take", {"value": "499.8", "seen": "0", "questioned": "499.8"})
    assert answer.status_code == 302


def test_the_form_changes_the_terms_and_keeps_why(client, lot):  # noqa: ARG001  the shop
    """Filled with what stands, sent with a new limit: the order has it, a note says what and why; once, not twice."""
    page = client.get("/orders/AP-1/change").content.decode()
    sent = {name: html.unescape(value) for name, value in re.findall(r'name="(\w+)" value="([^"]*)"', page)}
    for name, body in re.findall(r'<select name="(\w+)"[^>]*>(.*?)</select>', page, flags=re.DOTALL):
        sent[name] = re.search(r'value="([^"]*)" selected', body)[1]
    assert client.post("/orders/AP-1/change", sent | {"reason": "mail"}).status_code == 409  # nothing is new
    before = orders.recorded_order("AP-1").order
    changed = sent | {"ttv_limit": "2.5 µm", "reason": "mail of the customer"}
    assert client.post("/orders/AP-1/change", changed).status_code == 302
    after = orders.recorded_order("AP-1").order
    ttv = after.limit("ttv")
    assert ttv.upper == pytest.approx(2.5e-6)
    assert replace(after, limits=before.limits) == before  # nothing else, to the last bit
    assert orders.order_notes("AP-1")[-1].text == "Terms changed: limit of ttv. mail of the customer"
    assert client.post("/orders/AP-1/change", changed | {"ttv_limit": "2 µm"}).status_code == 409  # an old page


@pytest.mark.parametrize(
    ("state", "moment"),
    [
        ("received", "incoming"), ("measured_in", "incoming"), ("bonded", "stack"), ("in_work", "after_stage"),
        ("worked", "on_carrier"), ("read_on_carrier", "on_carrier"), ("debonded", "final"), ("judged", "final"),
    ],
)  # fmt: skip
def test_a_set_opens_for_the_moment_that_the_wafer_stands_at(client, lot, state, moment):
    """The form is sent as it stands by whoever is in a hurry; another moment is refused or leads nowhere."""
    if state != "received":
        path = ("measured_in", "bonded", "stack_read", "ready", "in_work", "worked", "read_on_carrier", "debonded")
        from lapwright.records import writer

        for step in (*path[: path.index(state) + 1],) if state in path else (*path, "read_free", "judged"):
            writer.move_wafer(WAFER, step, Signature(**lot.why()))
    page = client.get(f"{READINGS}?wafer={WAFER}").content.decode()
    assert re.search(rf'<option value="{moment}" selected', page)
    assert STATES_OF_MOMENT[moment].count(state) == 1


def test_what_is_limited_and_not_measured_is_asked_for_before_the_verdict(client, lot):
    """The order limits Ra, which no set answers: Hands leads to Finish, filled; judging is offered once it is there."""
    from lapwright.records import writer

    for step in ("measured_in", "bonded", "stack_read", "ready", "in_work", "worked", "debonded", "read_free"):
        writer.move_wafer(WAFER, step, Signature(**lot.why()))
    assert waiting() == [("measure the Ra", f"/profiles?wafer={WAFER}&moment=final")]
    page = client.get(f"/profiles?wafer={WAFER}&moment=final").content.decode()
    assert re.search(rf'<option value="{WAFER}" selected', page)
    assert re.search('<option value="final" selected', page)
    page = client.get(PAGE).content.decode()
    assert f"{PAGE}/do/judge" not in page
    assert re.search('<option value="roughness_ra" selected', page)
    found = {"finding-quantity": "roughness_ra", "finding-text": "0.8 nm", "finding-method": "stylus"}
    assert client.post(f"{PAGE}/do/finding", found).status_code == 302
    assert waiting() == [("judge it", PAGE)]
    assert f"{PAGE}/do/judge" in client.get(PAGE).content.decode()


def test_readings_found_wrong_later_are_asked_for_again(client, lot):
    """Void the set that a verdict rests on: a certified wafer waits with a warning, is read again, judged again."""
    from lapwright.app import verdicts
    from lapwright.model.request import FindingRequest
    from lapwright.records import writer

    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    first = orders.list_sets("AP-1")[-1].set_id
    client.post(f"{READINGS}/{first}/void", {"reason": "wrong wafer"})
    assert waiting() == [("read it again", f"{READINGS}?wafer={WAFER}")]
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    assert waiting()[0][0] == "read a bare carrier"
    for step in ("bonded", "stack_read", "ready", "in_work", "worked", "debonded"):
        writer.move_wafer(WAFER, step, Signature(**lot.why()))
    lot.read(WAFER, "wafer", "final", flat(100e-6))
    finding = FindingRequest(wafer_id=WAFER, quantity="roughness_ra", text="0.5 nm", method="stylus")
    verdicts.record_finding(finding, **lot.why())
    verdicts.judge_wafer(WAFER, **lot.why())
    writer.move_wafer(WAFER, "certified", Signature(**lot.why()))
    assert waiting() == []
    final = orders.list_sets("AP-1")[-1].set_id
    client.post(f"{READINGS}/{final}/void", {"reason": "grain under it"})
    (line,) = [one for one in lines_of(tasks.waiting_tasks(now=datetime.now(tz=UTC))) if one.order_id]
    assert line.warning
    assert line.why.endswith("tell the customer: grain under it")
    assert re.search('<option value="final" selected', client.get(line.address).content.decode())
    lot.now = max(lot.now, datetime.now(tz=UTC))
    lot.read(WAFER, "wafer", "final", flat(100e-6))
    assert waiting() == [("judge it", PAGE)]
