"""A photograph of a bond on Bond line: voids found, told and kept with it, or a sentence and nothing kept."""

import io
import re

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from lapwright.app import bond_voids, orders
from lapwright.sim.bond_photos import Camera, bond_photo
from lapwright.sim.bonding import Void
from lapwright.testing.lot import ORDER, flat

WAFER = f"{ORDER.order_id}-01"
AT = f"/orders/{ORDER.order_id}/wafers/{WAFER}/bond"
VOID = Void(x=-9e-3, y=5e-3, diameter=4e-3)
HOW = {"seen": "behind", "mark": "bottom", "look": "either", "place": ""}


def file_of(picture):
    """A picture as the bytes of a PNG."""
    held = io.BytesIO()
    Image.fromarray(picture).save(held, "PNG")
    return held.getvalue()


@pytest.fixture(scope="module")
def photographs():
    """A photograph with one void, and the same too small to judge."""
    outline, rng = ORDER.outline, np.random.default_rng(1)
    fine = bond_photo(outline.diameter, (VOID,), Camera(pixel=0.098e-3), rng=rng, flat_length=outline.flat_length)
    return file_of(fine), file_of(fine[::2, ::2])


def send(client, content, **how):
    """The answer to a photograph of the bond, and the page as one line without tags."""
    answer = client.post(f"{AT}/photo", {"photograph": SimpleUploadedFile("bond.png", content), **HOW, **how})
    return answer, " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).replace("\u00a0", " ").split())


def test_voids_are_found_told_and_kept_with_the_photograph(client, lot, photographs):
    """Its size, area and way to the edge in the table, its rim in the drawing; what cannot be judged is not kept."""
    fine, coarse = photographs
    lot.read("C1", "carrier", "carrier", flat(6000e-6))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.bond(WAFER, flat(500e-6))
    for content, how, words in (
        (b"no picture", {}, "no JPEG or PNG"),
        (coarse, {}, "ten pixels wide"),
        (fine, {"place": "much"}, "Three numbers"),
        (fine, {"place": "10 10 600"}, "beyond the photograph"),
        (file_of(np.full((300, 300), 90, np.uint8)), {}, "does not stand out"),
    ):
        answer, text = send(client, content, **how)
        assert (answer.status_code, words in text) == (422, True), (words, text[:3000])
    assert orders.show_wafer(WAFER).surfaces == ()

    assert send(client, fine)[0].status_code == 302
    (kept,) = orders.show_wafer(WAFER).surfaces
    assert kept.numbers["longest_m"] == pytest.approx(VOID.diameter, rel=0.05)
    assert (kept.settings.voids[0].x, kept.settings.voids[0].y) == pytest.approx((VOID.x, VOID.y), abs=0.1e-3)
    page = client.get(AT).content.decode()
    edge = (ORDER.outline.diameter / 2.0 - np.hypot(VOID.x, VOID.y) - VOID.diameter / 2.0) * 1e3
    assert f"{kept.numbers['longest_m'] * 1e3:.2f}" in page
    assert re.search(rf">{edge - 0.1:.1f}|>{edge:.1f}|>{edge + 0.1:.1f}", page)
    assert f"documents/{kept.document_ids[0]}" in page
    content = b"".join(client.get(f"/orders/{ORDER.order_id}/documents/{kept.document_ids[0]}").streaming_content)
    assert content == fine
    again = bond_voids.read_bond_photo(content, kept.settings, name="bond.png")[1]
    assert bond_voids.photo_numbers(again) == kept.numbers
    assert "photograph of the bond" in client.get(AT.removesuffix("/bond")).content.decode()


def test_without_a_bond_there_is_nothing_to_photograph(client, lot, photographs):  # noqa: ARG001
    """Refused with what to do; the page of a wafer that was never bonded stands."""
    answer = client.post(f"{AT}/photo", {"photograph": SimpleUploadedFile("b.png", photographs[0]), **HOW})
    assert answer.status_code == 409
