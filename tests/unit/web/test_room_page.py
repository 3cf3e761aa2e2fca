"""Room: a laboratory that has nothing enters what it works with by the pages alone, and is told what is missing."""

import html
import re
from datetime import date

import pytest

from lapwright.app import gauges, people, room, shelf

GAUGE = {"gauge-gauge_id": "G1", "gauge-limit": "0,5 µm", "gauge-local": "0.2 µm", "gauge-contact": "free"}
CARRIERS = {
    "carriers-names": "C-01 to C-03\nD-7",
    "carriers-material": "borosilicate",
    "carriers-diameter": "60 mm",
    "carriers-thickness": "6 mm",
}
JIG = {
    "jig-jig_id": "J1",
    "jig-adjuster_radius": "45 mm",
    "jig-azimuths": "90, 210; 330",
    "jig-per_division": "2 µm",
    "jig-division_step": "0.25",
}
STATION = {"station-station_id": "L1", "station-kind": "lap", "station-plate": "glass", "station-abrasive": "al2o3-9"}


def text_of(answer):
    """A page as text."""
    return html.unescape(re.sub(r"\s+", " ", answer.content.decode()))


def enter(client, kind, **fields):
    """What a form of the page Room answers."""
    known = {"gauge": GAUGE, "carriers": CARRIERS, "jig": JIG, "station": STATION}[kind]
    return client.post(f"/room/{kind}", known | {f"{kind}-{name}": value for name, value in fields.items()})


def test_a_name_that_cannot_be_an_address_is_told_what_can(client):
    """Not a bare "invalid", and what was typed comes back harmless."""
    page = enter(client, "gauge", gauge_id="<b>G1</b>").content.decode()
    assert "Use letters, digits, dots, dashes and single blanks; it becomes part of an address." in page
    assert "<b>G1</b>" not in page


def test_from_nothing_to_the_first_order(client):
    """Hands names what is missing until only the order is; each form records, with lengths in SI."""
    assert "a gauge, a carrier, a jig, a station for lapping, an order" in text_of(client.get("/"))
    assert enter(client, "gauge").headers["Location"] == "/gauges/G1#calibrate-form"
    for kind in ("carriers", "jig", "station"):
        assert enter(client, kind).status_code == 302
    assert room.missing_first() == ("order",)
    assert "Enter the order" in text_of(client.get("/"))
    (gauge,) = gauges.list_gauges(on=date(2026, 1, 5))
    assert (gauge.gauge.limit, gauge.gauge.local, gauge.gauge.contact) == (
        pytest.approx(0.5e-6),
        pytest.approx(0.2e-6),
        False,
    )
    assert [one.carrier.carrier_id for one in shelf.list_carriers()] == ["C-01", "C-02", "C-03", "D-7"]
    assert shelf.list_jigs()[0].jig.advance_per_division == pytest.approx(2e-6)
    page = text_of(client.get("/room"))
    assert "Missing: G1" in page  # its calibration
    assert "Missing: L1" in page  # its gauge


def test_a_taken_name_changes_nothing(client):
    """A new gauge of a name that is taken is refused; the form filled from the record changes it, once."""
    enter(client, "gauge")
    assert enter(client, "gauge", limit="9 µm").status_code == 409
    page = client.get("/room?gauge=G1").content.decode()
    version = re.search(r'name="gauge-version" value="(\d+)"', page)[1]
    assert enter(client, "gauge", limit="0.4 µm", version=version).status_code == 302
    assert enter(client, "gauge", limit="0.3 µm", version=version).status_code == 409
    assert gauges.list_gauges(on=date(2026, 1, 5))[0].gauge.limit == pytest.approx(0.4e-6)


def test_all_carriers_or_none(client):
    """One name that is taken, no name at all, or a name twice: nothing is recorded, and the page says which."""
    enter(client, "carriers")
    answer = enter(client, "carriers", names="C-03\nC-04")
    assert answer.status_code == 409
    assert "Recorded already: C-03" in text_of(answer)
    answer = enter(client, "carriers", names="E-1, E-1\n<b>")
    assert answer.status_code == 422
    assert "E-1 stands there twice" in text_of(answer)
    assert len(shelf.list_carriers()) == 4


@pytest.mark.parametrize(
    ("kind", "wrong"),
    [("jig", {"azimuths": "90, 270"}), ("jig", {"per_division": "2"}), ("station", {"abrasive": ""})],
)
def test_what_cannot_be_is_told_beside_its_field(client, kind, wrong):
    """Two screws set no plane, a bare number has no unit, a lapping station has an abrasive."""
    answer = enter(client, kind, **wrong)
    assert answer.status_code == 422
    (field,) = wrong
    assert f'id="id_{kind}-{field}_error"' in answer.content.decode()
    assert (shelf.list_jigs(), shelf.list_stations()) == ((), ())


def test_another_plate_is_put_on_by_the_filled_form(client):
    """What is on a station is changed by its form; lot and piece go with what was taken off."""
    enter(client, "station")
    page = client.get("/room?station=L1").content.decode()
    assert re.search(r'<option value="glass" selected', page)
    version = re.search(r'name="station-version" value="(\d+)"', page)[1]
    answer = enter(client, "station", abrasive="al2o3-3", version=version)
    assert answer.headers["Location"] == "/stations/L1"
    assert shelf.show_station("L1").station.abrasive == "al2o3-3"


def test_whoever_says_who_is_here_comes_back_to_the_page_they_were_on(client):
    """Also from the list of what to enter; an address elsewhere is never gone to."""
    page = client.get("/room").content.decode()
    assert 'href="/who?next=%2Froom"' in page
    assert 'href="/who?next=%2Froom#new"' in page
    assert '<input type="hidden" name="next" value="/room">' in client.get("/who?next=/room").content.decode()
    assert client.post("/who", {"name": "local", "next": "/room"}).headers["Location"] == "/room"
    for elsewhere in ("//elsewhere.example/", "https://elsewhere.example/", "/\\elsewhere.example"):
        assert client.post("/who", {"name": "local", "next": elsewhere}).headers["Location"] == "/"


def test_somebody_new_signs_from_now_on(client):
    """Name and short name; then the records carry it. A short name that is taken is refused."""
    sent = {"new_name": "anna", "full_name": "Anna Berg"}
    assert client.post("/who", sent).headers["Location"] == "/"
    enter(client, "jig")
    assert shelf.list_jigs()[0].signature.by == "anna"
    assert client.post("/who", sent).status_code == 422
    assert [one.full_name for one in people.list_people() if one.name == "anna"] == ["Anna Berg"]
