"""How do you know? From the number on a certificate to what was typed, in three steps, with and without an account."""

import re

import pytest
from django.utils import timezone

from lapwright.app import accounts
from lapwright.testing.lot import flat

WAFER = "AP-1-01"


@pytest.fixture
def judged(lot):
    """A wafer read, measured for roughness and judged."""
    from lapwright.app import surface_records, verdicts
    from lapwright.model.readings import Signature
    from lapwright.model.surface_record import ProfileSettings, SurfaceRequest
    from lapwright.records import writer
    from lapwright.testing.faces import profile_file

    signature = Signature(**lot.why())
    for state in ("debonded", "read_free"):
        writer.move_wafer(WAFER, state, signature)
    lot.read(WAFER, "wafer", "final", flat(100e-6), repeats=1)
    face = SurfaceRequest(wafer_id=WAFER, moment="final", files=(("a.csv", profile_file()),))
    surface_records.record_profile(face, ProfileSettings(), **lot.why())
    verdicts.judge_wafer(WAFER, **lot.why())
    return lot


@pytest.mark.usefixtures("judged")
def test_raw_readings_are_three_steps_from_the_order_on_a_certificate(client):
    """A certificate's number begins with the order's: its page, Answer, the number; there stands what was typed."""
    page = client.get("/orders/AP-1").content.decode()
    step = re.search(r'href="(/orders/AP-1/answers)"', page)[1]
    page = client.get(step).content.decode()
    numbers = re.findall(r'href="(/orders/AP-1/wafers/[^"]+/answers/\w+)"', page)
    assert len(numbers) == 3
    for number in numbers:
        page = client.get(number).content.decode()
        assert 'id="raw"' in page
    page = client.get(f"/orders/AP-1/wafers/{WAFER}/answers/thickness").content.decode()
    assert all(
        text in page for text in ("100.", "certificate K-1", "lapwright.metrology.thickness", "local, 25 Nov 2026")
    )


@pytest.mark.usefixtures("judged")
@pytest.mark.parametrize("quantity", ["thickness", "ttv", "roughness_ra"])
def test_computing_it_again_gives_the_same_number(client, quantity):
    """Bit for bit."""
    page = client.get(f"/orders/AP-1/wafers/{WAFER}/answers/{quantity}?again=1").content.decode()
    assert "The same number came out, bit for bit." in page


@pytest.mark.usefixtures("judged")
def test_times_name_the_clock_they_are_told_by(client):
    """In winter Berlin is an hour ahead of universal time, CET (common practice, no source): never called UTC."""
    address = f"/orders/AP-1/wafers/{WAFER}/answers/thickness"
    plain = client.get(address).content.decode()
    with timezone.override("Europe/Berlin"):
        berlin = client.get(address).content.decode()
    told = re.compile(r"opened by local, 25 Nov 2026 (\d\d):(\d\d) (\w+)")
    (there, minutes, zone), (universal, same, plain_zone) = told.search(berlin).groups(), told.search(plain).groups()
    assert (zone, plain_zone, minutes) == ("CET", "UTC", same)
    assert int(there) == (int(universal) + 1) % 24


@pytest.mark.usefixtures("judged")
def test_the_customer_needs_no_log_in_and_sees_this_number_alone(client, monkeypatch):
    """The address given opens this answer and nothing else; changed by a letter it opens nothing."""
    page = client.get(f"/orders/AP-1/wafers/{WAFER}/answers/ttv").content.decode()
    given = re.search(r'href="http://[^/"]+(/answers/[^"]+)"', page)[1]
    monkeypatch.setattr(accounts, "are_demanded", lambda _settings: True)
    seen = client.get(given, REMOTE_ADDR="192.0.2.7")
    assert seen.status_code == 200
    assert 'id="raw"' in seen.content.decode()
    assert client.get(given[:-1] + ("a" if given[-1] != "a" else "b"), REMOTE_ADDR="192.0.2.7").status_code == 404
    assert client.get(f"/orders/AP-1/wafers/{WAFER}/answers/ttv", REMOTE_ADDR="192.0.2.7").status_code == 302


@pytest.mark.usefixtures("judged")
def test_a_quantity_that_was_not_judged_has_no_answer(client):
    """404 with where to start."""
    assert client.get(f"/orders/AP-1/wafers/{WAFER}/answers/wedge").status_code == 404
