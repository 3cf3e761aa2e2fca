"""Readings pasted or sent as a file on the page of a set; a site read once more."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from lapwright.app import orders, readings

ROWS = "zero\t0\nC\t500.1\nA1\t500.4\nA2\t500.6\nA3\t500.5\nA4\t500.2\nA5\t499.9\nA6\t499.7\nA7\t499.6\nA8\t499.8"


@pytest.fixture
def opened(lot):
    """The address of an open set of nine sites, and its number."""
    number = readings.open_set(lot.request("AP-1-01", "wafer", "incoming", repeats=1), **lot.why()).set_id
    return f"/orders/AP-1/readings/{number}", number


def recorded(number):
    """What stands in the set: site and text."""
    return [(one.reading.site, one.reading.text) for one in readings.show_set(number).readings]


def test_pasted_cells_are_recorded_and_the_set_goes_on(client, opened):
    """Ten rows at once; the page then asks for the last zero."""
    address, number = opened
    answer = client.post(f"{address}/many", {"seen": "0", "text": ROWS})
    assert answer.status_code == 302
    assert len(recorded(number)) == 10
    assert "Zero of the gauge, after" in client.get(address).content.decode()


def test_a_file_is_taken_like_pasted_cells(client, opened):
    """A CSV with semicolons and decimal commas, as a spreadsheet of Germany writes it."""
    address, number = opened
    text = "site;thickness\n" + ROWS.replace("\t", ";").replace(".", ",")
    sent = SimpleUploadedFile("set.csv", b"\xef\xbb\xbf" + text.encode(), "text/csv")
    assert client.post(f"{address}/many", {"seen": "0", "file": sent}).status_code == 302
    assert recorded(number)[1] == ("C", "500,1")


def test_a_picture_instead_of_a_text_is_refused_in_words(client, opened):
    """Bytes that are no text: one sentence, nothing recorded, no internals."""
    address, number = opened
    sent = SimpleUploadedFile("set.csv", b"\x89PNG\r\n\x1a\n\xff\xfe", "text/csv")
    answer = client.post(f"{address}/many", {"seen": "0", "file": sent})
    assert answer.status_code == 422
    assert "no plain text" in answer.content.decode()
    assert recorded(number) == []


def test_a_doubtful_row_is_kept_only_when_sent_once_more(client, opened):
    """The page shows the row with its reason and what was pasted; the same sent again is recorded."""
    address, number = opened
    text = ROWS.replace("499.6", "508.0")
    first = client.post(f"{address}/many", {"seen": "0", "text": text}).content.decode()
    assert "Keep them all the same" in first
    assert "Row 9, 508.0:" in first
    assert recorded(number) == []
    other = client.post(f"{address}/many", {"seen": "0", "text": text + "\n", "asked_about": text}).content.decode()
    assert "Keep them all the same" in other, "another text than was asked about is asked about anew"
    as_browsers_send = text.replace("\n", "\r\n")
    client.post(f"{address}/many", {"seen": "0", "text": as_browsers_send, "asked_about": as_browsers_send})
    assert len(recorded(number)) == 10


def test_a_stale_page_records_nothing(client, opened):
    """Sent twice, the second time nothing is recorded."""
    address, number = opened
    assert client.post(f"{address}/many", {"seen": "0", "text": ROWS}).status_code == 302
    again = client.post(f"{address}/many", {"seen": "0", "text": ROWS})
    assert again.status_code == 422
    assert len(recorded(number)) == 10


def test_what_is_pasted_into_a_set_that_was_closed_meanwhile_is_not_lost(client, lot, opened):
    """The sentence says so, and the rows stand in the box."""
    address, number = opened
    readings.void_set(number, **lot.why("another reads it"))
    page = client.post(f"{address}/many", {"seen": "0", "text": "C\t500.1"})
    assert page.status_code == 422
    assert "Nothing was recorded." in page.content.decode()
    assert "C\t500.1</textarea>" in page.content.decode()


def test_a_site_is_read_once_more_besides_what_is_asked_for(client, opened):
    """With the site in the address the page asks for it; the reading is its second."""
    address, number = opened
    client.post(f"{address}/many", {"seen": "0", "text": ROWS})
    assert "Once more: site A7" in client.get(f"{address}?site=A7").content.decode()
    client.post(f"{address}/take", {"seen": "10", "value": "499.7", "site": "A7"})
    last = readings.show_set(number).readings[-1].reading
    assert (last.site, last.repeat) == ("A7", 2)


def test_a_set_that_is_not_usable_is_read_again_as_it_was(client, opened, lot):
    """Sites and readings at each as before, not as the plan proposes; of a rejected wafer nothing more is read."""
    address, number = opened
    readings.void_set(number, **lot.why("dust"))
    three = readings.open_set(lot.request("AP-1-01", "wafer", "incoming", repeats=3), **lot.why()).set_id
    readings.void_set(three, **lot.why("dust again"))
    there = f"/orders/AP-1/readings?wafer=AP-1-01&amp;like={three}"
    assert f'href="{there}"' in client.get(f"/orders/AP-1/readings/{three}").content.decode()
    form = client.get(there.replace("&amp;", "&")).content.decode()
    assert 'name="repeats" value="3"' in form
    last = readings.open_set(lot.request("AP-1-01", "wafer", "incoming", repeats=1), **lot.why()).set_id
    assert f'href="/orders/AP-1/readings/{last}"' in client.get("/orders/AP-1/readings").content.decode()
    orders.reject_wafer("AP-1-01", **lot.why("it broke"))
    assert "Go on where it stopped" not in client.get("/orders/AP-1/readings").content.decode()
    page = client.get(f"/orders/AP-1/readings/{last}").content.decode()
    assert "nothing more is read of it" in page
    assert "Read it again" not in client.get(address).content.decode()
    assert 'name="value"' not in page
    events = client.get("/orders/AP-1/wafers/AP-1-01").content.decode()
    assert "it broke" in events
