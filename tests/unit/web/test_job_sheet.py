"""The job sheet of a wafer, and where its code leads."""

import re

import pytest

from lapwright.app import orders, runs
from lapwright.app.wafer_course import measured_course
from lapwright.formats.piece_codes import piece_code
from lapwright.model.request import ZeroRequest
from lapwright.testing.lot import CARRIER_THICKNESS, flat

WAFER = "AP-1-01"


@pytest.fixture
def worked(lot):
    """The wafer through all stages, read on its carrier at 101.3 µm."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(501.2e-6), spread=0.0)
    lot.route()
    lot.bond(WAFER, flat(501.2e-6), spread=0.0)
    lot.work(WAFER, spread=0.0)
    lot.read(WAFER, "stack", "on_carrier", flat(CARRIER_THICKNESS + 4e-6 + 101.3e-6), spread=0.0)
    return lot


def test_the_stack_shows_what_was_measured(client, worked):  # noqa: ARG001
    """As it came 501.2 µm and at the end 101.3 µm, as read; the planned 500 and 100 µm are not shown as done."""
    story = orders.show_wafer(WAFER)
    course = measured_course(story)
    last = [one for one in story.stages if one.stage.removal > 0.0][-1]
    assert course.incoming == pytest.approx(501.2e-6, abs=1e-9)
    assert course.after[last.stage_id] == pytest.approx(101.3e-6, abs=1e-8)
    page = client.get(f"/orders/AP-1/wafers/{WAFER}").content.decode()
    assert "measured 501.2" in re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def test_the_sheet_carries_code_next_step_and_steps(client, lot):  # noqa: ARG001
    """A page by itself, in which nothing can act, with the code of this very wafer."""
    answer = client.get(f"/orders/AP-1/wafers/{WAFER}/sheet")
    assert answer.status_code == 200
    assert answer.headers["Content-Security-Policy"].startswith("sandbox")
    assert piece_code("wafer", WAFER) in answer.content.decode()


def test_a_scanned_code_leads_to_the_page_of_its_piece(client, lot):  # noqa: ARG001
    """Wafer, gauge, station and order; in capitals or not, with the stars of the bars or not."""
    for kind, name, page in (
        ("wafer", WAFER, f"/orders/AP-1/wafers/{WAFER}"), ("gauge", "G1", "/gauges/G1"),
        ("station", "L1", "/stations/L1"), ("order", "AP-1", "/orders/AP-1"),
    ):  # fmt: skip
        code = piece_code(kind, name)
        for scanned in (code, code.lower(), f"*{code}*"):
            assert client.get("/code", {"code": scanned}).headers["Location"] == page


def test_labels_carry_the_codes_of_what_stays_in_the_room(client, lot):
    """Each with its code; scanned, a jig or a carrier leads to the wafer on it, and to none while nothing is."""
    page = client.get("/labels").text
    for kind, name in (("carrier", "C1"), ("jig", "J1"), ("gauge", "G1"), ("station", "L1")):
        assert f">{piece_code(kind, name)}<" in page
    codes = [piece_code("carrier", "C1"), piece_code("jig", "J1")]
    assert [client.get("/code", {"code": code}).status_code for code in codes] == [404, 404]
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.route()
    lot.bond(WAFER, flat(500e-6))
    zero = ZeroRequest(wafer_id=WAFER, station_id="L1", jig_id="J1", texts=("0.0", "0.1", "0.2"))
    runs.take_zero(zero, **lot.why())
    places = {client.get("/code", {"code": code}).headers["Location"] for code in codes}
    assert places == {f"/orders/AP-1/wafers/{WAFER}"}


@pytest.mark.parametrize(("code", "status"), [("WZ/AP-1-01", 422), (piece_code("wafer", "AP-9"), 404), ("", 422)])
def test_a_wrong_code_is_refused_with_a_sentence(client, lot, code, status):  # noqa: ARG001
    """Misread, or of nothing on record: said so, and nothing guessed."""
    answer = client.get("/code", {"code": code})
    assert answer.status_code == status
    assert "Traceback" not in answer.content.decode()
