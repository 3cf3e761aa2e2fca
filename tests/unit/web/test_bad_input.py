"""What should not be sent and is: each ends in a sentence, nothing is lost, nothing of the inside is shown."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from lapwright.app import orders, readings
from lapwright.web import surroundings

ORDER = {
    "order_id": "BAD-1", "customer": "<b>Fennbach</b> =1+1", "quantity": "1", "spares": "0", "shape": "round",
    "diameter": "50.8 mm", "mark": "flat", "flat_length": "16 mm", "start_thickness": "500 µm", "start_ttv": "3 µm",
    "target_thickness": "100 µm", "tolerance": "2 µm", "ttv_limit": "2 µm", "edge_exclusion": "2 mm",
    "material": "LiTaO3", "hold": "free", "rule": "guarded", "risk": "2",
}  # fmt: skip
SET = {
    "piece": "AP-1-01", "moment": "incoming", "gauge": "G1", "pattern": "five", "repeats": "1", "unit": "µm", "hold": "free"
}  # fmt: skip
GONE = (
    "/orders/GONE", "/orders/AP-1/wafers/GONE-01", "/orders/AP-1/readings/99999", "/orders/AP-1/documents/99999",
    "/surfaces/99999999999999999999", "/plates/GONE", "/stations/GONE", "/gauges/%3Cscript%3E", "/orders/%00",
    "/orders/AP-1/wafers/GONE-01/bond",
)  # fmt: skip


def told(answer, status, words):
    """The page says this with that status, and neither a trace nor markup that was sent."""
    page = answer.content.decode()
    text = " ".join(re.sub(r"<[^>]+>", " ", page.partition("<main")[2]).replace("&#x27;", "'").split())
    assert (answer.status_code, words in text) == (status, True), (answer.status_code, text[:1500])
    assert "Traceback" not in page
    assert "<b>Fennbach" not in page
    assert "<img src=x" not in page
    return page


def test_markup_and_formulas_in_names(client, lot):  # noqa: ARG001  the shop
    """A customer's name is shown as typed; what becomes part of an address is refused, and what was typed stays."""
    assert client.post("/orders/new", ORDER).status_code == 302
    told(client.get("/orders/BAD-1"), 200, "&lt;b&gt;Fennbach&lt;/b&gt; =1+1")
    told(client.post("/orders/new", ORDER), 422, "is recorded already")
    for name, value, words in (
        ("order_id", "=HYPERLINK(1)", "letters, digits, dots"),
        ("wafer_names", "<img src=x onerror=alert(1)>", "cannot stand in an address"),
        ("wafer_names", "a/b", "cannot stand in an address"),
        ("wafer_names", "=1+1", "cannot stand in an address"),
    ):
        page = told(client.post("/orders/new", ORDER | {"order_id": "BAD-2", name: value}), 422, words)
        assert "Fennbach&lt;/b&gt; =1+1" in page
    assert [line.order_id for line in orders.list_orders()].count("BAD-2") == 0


def test_an_order_due_in_a_year_that_is_past(client, lot):  # noqa: ARG001  the shop
    """It may be entered late, so it is recorded; a slip of the year is told at once."""
    page = client.post("/orders/new", ORDER | {"order_id": "BAD-3", "due": "2001-05-04"}, follow=True).content.decode()
    assert "It is due on 4 May 2001, which is past." in page
    assert "BAD-3" in [line.order_id for line in orders.list_orders()]


def test_notes_and_photographs_too_large(client, lot):  # noqa: ARG001  the shop
    """10 000 letters are kept whole, one more comes back whole; 50 MB and one byte is refused by its size."""
    assert client.post("/orders/AP-1/note", {"text": "x" * 10_000}).status_code == 302
    page = told(client.post("/orders/AP-1/note", {"text": "y" * 10_001}), 422, "at most 10000 are kept")
    assert "y" * 10_001 in page
    told(client.post("/orders/AP-1/note", {"text": " "}), 422, "The note is empty")
    assert [len(note.text) for note in orders.order_notes("AP-1")] == [10_000]
    large = SimpleUploadedFile("bond.jpg", b"\xff\xd8\xff" + bytes(50 * 1024 * 1024))
    told(client.post("/orders/AP-1/wafers/AP-1-01/photograph", {"photograph": large}), 422, "larger than the 50 MB")


def test_what_is_no_reading(client, lot):  # noqa: ARG001  the shop
    """No number, no thickness, too large for a number: refused, the text stays in the box, the set stays as it was.

    Opened twice, it is the same set.
    """
    told(client.get("/orders/AP-1/readings"), 200, "With G1 this gives the thickness to ±")
    address, again = (client.post("/orders/AP-1/readings", SET).headers["Location"] for _ in range(2))
    assert again == address
    for text, words in (
        ("=500.1", "not a number"), ("500.1 kg", "kg"), ("nan", "not a number"), ("1e999", "larger than any number"),
        ("-500", "no thickness"), ("0", "no thickness"),
    ):  # fmt: skip
        page = told(client.post(f"{address}/take", {"value": text, "seen": "0", "questioned": text}), 422, words)
        assert f'value="{text}"' in page
    assert client.post(f"{address}/take", {"value": "500.1", "seen": "0"}).status_code == 302
    told(client.post(f"{address}/take", {"value": "500.1", "seen": "0"}), 409, "moved on")
    (one,) = orders.show_wafer("AP-1-01").sets
    assert [reading.reading.text for reading in one.readings] == ["500.1"]


def test_characters_that_cannot_be_seen(client, lot):  # noqa: ARG001  the shop
    """As scanners and office programs send them: told with their number, nothing is kept, and the text stays to be mended."""
    for sign, name in (("\x1d", "U+001D"), ("\0", "U+0000")):
        page = told(client.post("/orders/AP-1/note", {"text": f"lot W{sign}7"}), 422, f"{name} after 'lot W'")
        assert f"lot W{sign}7</textarea>" in page
    assert orders.order_notes("AP-1") == ()
    address = client.post("/orders/AP-1/readings", SET).headers["Location"]
    page = told(client.post(f"{address}/void", {"reason": "fell \x0bdown"}), 422, "U+000B after 'fell '")
    assert 'value="fell \x0bdown"' in page
    assert orders.show_wafer("AP-1-01").sets[0].state == "open"
    told(client.get("/orders?find=%00"), 404, "No page has this address")


def test_a_set_declared_unusable_by_another_meanwhile(client, lot):
    """The second reason is not recorded and not lost."""
    opened = client.post("/orders/AP-1/readings", SET).headers["Location"]
    (one,) = orders.show_wafer("AP-1-01").sets
    readings.void_set(one.set_id, **lot.why("the zero had moved"))
    page = told(client.post(f"{opened}/void", {"reason": "=1+1 <img src=x>"}), 409, "is void already")
    assert "You had typed: “=1+1 &lt;img src=x&gt;”." in page


@pytest.mark.parametrize("address", GONE)
def test_links_to_what_is_gone(client, lot, address):  # noqa: ARG001  the shop
    """A sentence that names what was looked for, and the way back."""
    answer = client.get(address)
    page = answer.content.decode()
    assert answer.status_code == 404
    assert 'class="notice' in page
    assert "Traceback" not in page


def test_a_clock_that_runs_backwards(client, lot, monkeypatch):  # noqa: ARG001  the shop
    """A set opened, read, closed and looked at while the clock was set back an hour in between: nothing breaks or is lost."""
    at = datetime.now(tz=UTC)
    moments = iter(at - timedelta(minutes=10 * number) for number in range(1000))
    for module in ("readings", "traveller", "hands"):
        page = __import__(f"lapwright.web.pages.{module}", fromlist=["now"])
        if hasattr(page, "now"):
            monkeypatch.setattr(page, "now", lambda: next(moments))
    monkeypatch.setattr(surroundings, "now", lambda: next(moments))
    address = client.post("/orders/AP-1/readings", SET).headers["Location"]
    for number, text in enumerate(("500.1", "500.2", "500.3", "500.2", "500.1")):
        assert client.post(f"{address}/take", {"value": text, "seen": str(number)}).status_code == 302
    assert client.post(f"{address}/close").status_code == 302
    for page in (address, "/", "/orders/AP-1", "/orders/AP-1/wafers/AP-1-01"):
        assert client.get(page).status_code == 200
    (one,) = orders.show_wafer("AP-1-01").sets
    assert [reading.reading.text for reading in one.readings] == ["500.1", "500.2", "500.3", "500.2", "500.1"]
    assert orders.show_wafer("AP-1-01").wafer.state == "measured_in"
