"""The Fringes and Finish pages: a file is looked at, refused with its reason, or kept with its wafer."""

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from lapwright.app import orders, surface_records
from lapwright.testing import faces
from lapwright.testing.lot import Lot

WAFER = "AP-1-01"
LOOK = {
    "fringe_height": "0.5 um", "diameter": "50.8 mm", "method": "auto", "mask_kind": "auto", "moment": "final",
    "deed": "look",
}  # fmt: skip
PROFILE = {"filter_kind": "gaussian", "instrument_kind": "optical", "moment": "final", "deed": "look"}


@pytest.fixture
def shop(client):
    """An order on the bench, and a browser."""
    bench = Lot()
    bench.furnish()
    bench.receive()
    return client


def picture(content=None, name="face.png"):
    """An upload."""
    return SimpleUploadedFile(name, content or faces.fringe_file())


def kept_of(answer):
    """The mark and name by which the page keeps a file."""
    found = re.search(r'name="kept" value="([^"]*)"', answer.content.decode())
    return found[1]


def test_the_pages_open_empty(shop):
    """A form and nothing recorded."""
    for address in ("/surfaces", "/profiles"):
        answer = shop.get(address)
        assert answer.status_code == 200
        assert "None yet." in answer.content.decode()


def test_a_picture_is_shown_in_the_order_of_evidence(shop):
    """Picture, trust, form, numbers, map; what one fringe means is in the picture."""
    text = shop.post("/surfaces", {**LOOK, "files": picture()}).content.decode()
    places = [text.index(f"<h2>{number}. ") for number in (1, 2, 3, 4, 5)]
    assert places == sorted(places)
    assert "one fringe = 0.5000\u00a0µm" in text
    assert "Flatness, peak to valley" in text


def test_nothing_is_said_domed_or_dished_while_nobody_knows(shop):
    """Without a direction neither word stands on the page; with one the right word does."""
    blind = shop.post("/surfaces", {**LOOK, "files": picture()}).content.decode().lower()
    assert "cannot be known" in blind
    assert not [word for word in ("domed", "dished", "high in the middle", "low in the middle") if word in blind]
    told = shop.post("/surfaces", {**LOOK, "files": picture(), "tilt_opens_toward": "0°"}).content.decode()
    assert "Domed by 0.4" in told


def test_a_refusal_says_why_and_keeps_the_picture(shop):
    """A dark picture: the reason in full size, the picture shown, the file kept for the next try."""
    answer = shop.post("/surfaces", {**LOOK, "files": picture(faces.dark_file())})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "Cannot be told from this file." in text
    assert 'class="drawing panel masker"' in text
    again = shop.post("/surfaces", {**LOOK, "kept": kept_of(answer)})
    assert "Cannot be told from this file." in again.content.decode()


def test_a_face_is_recorded_from_the_kept_file_and_shown_on_the_traveller(shop):
    """Looked at, then recorded without a second upload; the wafer's page leads to it, and it compares with another."""
    looked = shop.post("/surfaces", {**LOOK, "files": picture()})
    sent = {**LOOK, "kept": kept_of(looked), "deed": "record", "wafer": WAFER, "instrument": "bench 2"}
    answer = shop.post("/surfaces", sent)
    face = surface_records.list_surfaces("fringes")[0]
    assert (answer.status_code, answer["Location"]) == (302, f"/surfaces/{face.surface_id}")
    shop.post("/surfaces", sent)
    assert f'href="/surfaces/{face.surface_id}"' in shop.get(f"/orders/AP-1/wafers/{WAFER}").content.decode()
    shown = shop.get(f"/surfaces/{face.surface_id}?beside={face.surface_id + 1}").content.decode()
    assert "The other" in shown
    assert "counts for the verdict" in shown
    assert "other numbers from the files" not in shown
    assert [one.quantity for one in orders.show_wafer(WAFER).findings] == ["flatness", "flatness"]


def test_a_record_without_a_wafer_is_refused(shop):
    """Beside the field of the wafer."""
    text = shop.post("/surfaces", {**LOOK, "files": picture(), "deed": "record"}).content.decode()
    assert "Choose the wafer that it belongs to." in text


def test_phase_steps_and_a_drawn_circle_are_taken(shop):
    """Five pictures at once, and a circle by its numbers."""
    files = [picture(one, f"step{i}.png") for i, one in enumerate(faces.step_files())]
    steps = {**LOOK, "files": files, "method": "steps", "step": "90°", "steps_open_gap": "yes"}
    assert "phase steps" in shop.post("/surfaces", steps).content.decode()
    circle = {"mask_kind": "circle", "mask_x": "160", "mask_y": "160", "mask_radius": "100"}
    assert "<h2>5. " in shop.post("/surfaces", {**LOOK, **circle, "files": picture()}).content.decode()


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"fringe_height": "0.5"}, "has no unit"),
        ({"diameter": ""}, "choose the wafer"),
        ({"fringe_height": "", "wavelength": ""}, "Give the wavelength"),
        ({"mask_kind": "polygon", "mask_corners": "1,1 2,x"}, "3 to 60 corners"),
        ({"mask_kind": "circle"}, "middle and radius"),
        ({"diameter": "-5 mm"}, ""),
        ({"incidence": "95°", "fringe_height": "", "wavelength": "632.8 nm"}, "0 to less than 90 degrees"),
    ],
)
def test_every_fault_of_the_form_is_one_sentence(shop, changed, sentence):
    """422, with the sentence beside its field."""
    answer = shop.post("/surfaces", {**LOOK, "files": picture(), **changed})
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


@pytest.mark.parametrize("address", ["/surfaces", "/profiles"])
@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("<script>alert(1)</script>.png", b"<html><script>alert(1)</script>"),
        ("cut.png", b"\x89PNG\r\n\x1a\n\x00\x00"),
        ("bomb.x3p", b"PK\x03\x04garbage"),
        ("zero.csv", b"\x00\x00\x00"),
    ],
)
def test_hostile_files_end_in_one_sentence(shop, address, name, content):
    """422 and no name or content of the file as markup."""
    answer = shop.post(address, {**LOOK, **PROFILE, "files": SimpleUploadedFile(name, content)})
    assert answer.status_code == 422
    assert b"<script>alert" not in answer.content


@pytest.mark.parametrize("address", ["/surfaces", "/profiles"])
def test_a_file_above_50_mb_is_refused_by_its_size(shop, address):
    """One sentence with the limit."""
    answer = shop.post(address, {**LOOK, **PROFILE, "files": SimpleUploadedFile("a.png", bytes(51 * 1024 * 1024))})
    assert answer.status_code == 422
    assert "larger than the 50 MB taken" in answer.content.decode()


def test_an_upload_without_end_is_stopped(shop):
    """Above 200 MB the request is refused unread."""
    answer = shop.post(
        "/surfaces", data=b"x", content_type="multipart/form-data; boundary=b", CONTENT_LENGTH=str(2**31)
    )
    assert answer.status_code in (400, 413)


def test_no_file_at_all_is_said(shop):
    """Beside the field; an unknown mark is not found."""
    assert "Choose a file." in shop.post("/surfaces", LOOK).content.decode()
    assert "no longer kept" in shop.post("/surfaces", {**LOOK, "kept": "../../etc/passwd x"}).content.decode()


def test_a_profile_is_shown_in_its_parts_with_filter_and_length(shop):
    """Form, waviness and roughness, then the parameters with the settings named."""
    text = shop.post("/profiles", {**PROFILE, "files": picture(faces.profile_file(), "p.csv")}).content.decode()
    for words in (
        "Form, taken out first",
        "Waviness",
        "Roughness, shorter than the cutoff",
        ">evaluated<",
        "Gaussian filter, cutoff 0.08 mm",
    ):
        assert words in text
    assert "<dt>Ra</dt>" in text
    assert "Cannot be told from this." in text


def test_a_finish_is_recorded_with_its_wafer(shop):
    """The record names its filter; the finding is Ra."""
    sent = {**PROFILE, "files": picture(faces.profile_file(), "p.csv"), "wafer": WAFER, "deed": "record",
            "noise": "0.1 nm", "height_uncertainty": "2"}  # fmt: skip
    answer = shop.post("/profiles", sent)
    shown = shop.get(answer["Location"]).content.decode()
    assert "cutoff 0.08 mm" in shown
    assert "counts for the verdict" in shown
    assert [one.quantity for one in orders.show_wafer(WAFER).findings] == ["roughness_ra"]
    (table,) = re.findall(r'<table class="budget">.*?</table>', shown, re.DOTALL)
    assert '<span class="unit">nm</span>' in table
    bars = [float(width) for width in re.findall(r'class="bar" width="([\d.]+)"', table)]
    assert bars == sorted(bars, reverse=True)
    assert sum(bars) == pytest.approx(100.0, abs=0.3)


def test_a_profile_that_is_too_short_is_refused_with_what_it_needs(shop):
    """A cutoff of 8 mm on 1.5 mm."""
    sent = {**PROFILE, "cutoff": "8 mm", "files": picture(faces.profile_file(), "p.csv")}
    assert "5 sections of 8 mm need 40 mm" in shop.post("/profiles", sent).content.decode()


def test_a_record_of_the_other_kind_is_not_found(shop):
    """/surfaces/9 does not exist."""
    assert shop.get("/surfaces/9").status_code == 404
