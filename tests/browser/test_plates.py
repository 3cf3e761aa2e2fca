"""Plates in a real browser: recorded by the form, read along the bar by keyboard, looked at on every screen."""

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from lapwright.testing.browsing import SIZES, complaints, page_of

pytestmark = [pytest.mark.browser]

PLATE = {
    "plate_id": "LOOK-P", "name": "glass, 300 mm", "ring_outer_radius": "65 mm", "least_offset": "85 mm",
    "most_offset": "112 mm", "offset": "105 mm", "dome_limit": "8 µm",
}  # fmt: skip
ADDRESSES = ("/plates", "/plates/LOOK-P")


def read(page, dome, minutes):
    """Type what a dial says of a cap from box to box with Tab, the running time, and Enter; place in mm in the label."""
    boxes = page.locator("#check .bar").first.locator("input")
    places = page.locator("#check .bar").first.locator("label").all_text_contents()
    if page.locator("#check").get_attribute("open") is None:
        page.click("#check > summary")
    expect(boxes.first).to_be_visible()
    boxes.first.focus()
    for number, label in enumerate(places):
        place = float(label.removeprefix("at ").removesuffix(" mm").replace("\u2212", "-"))
        expect(boxes.nth(number)).to_be_focused()
        page.keyboard.type(f"{-dome * (place / 150) ** 2:.2f}")
        page.keyboard.press("Tab")
    page.fill("[name='check-ran_min']", str(minutes))
    page.keyboard.press("Enter")
    expect(page.locator("[role=status]").first).to_contain_text("recorded")


@pytest.fixture(scope="module")
def read_plate(browser, address):
    """A plate recorded by its form, then read three times: 3 µm an hour."""
    with page_of(browser) as page:
        page.goto(f"{address}/plates")
        page.click("#new > summary")
        for name, value in PLATE.items():
            page.fill(f"[name='{name}']", value)
        page.click("#new button[type=submit]")
        page.wait_for_url("**/plates/LOOK-P*")
        for dome, minutes in ((0.0, 0), (6.0, 120), (12.0, 120)):
            page.goto(f"{address}/plates/LOOK-P")
            read(page, dome, minutes)
    return address


def test_the_page_says_where_to_set_the_ring(browser, read_plate):
    """Shape, growth, limit and advice after three checks."""
    with page_of(browser) as page:
        page.goto(f"{read_plate}/plates/LOOK-P")
        expect(page.locator(".lead")).to_contain_text("domed by 12.0")
        expect(page.locator("main")).to_contain_text("beyond its limit of 8.0 µm")
        expect(page.locator(".notice.doubt")).to_contain_text("inward")
        assert "domed" in page.locator("svg.drawing desc").first.text_content()


@pytest.mark.parametrize("path", ADDRESSES)
def test_nothing_sticks_out_and_nothing_is_complained_of(browser, read_plate, path):
    """As wide as the screen on every one, no blocked style, no missing file."""
    for size in SIZES:
        with page_of(browser, size=size) as page, complaints(page) as heard:
            page.goto(read_plate + path)
            assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
            assert page.locator("h1").count() == 1
            assert heard == []


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("path", ADDRESSES)
def test_the_accessibility_engine_finds_nothing(browser, read_plate, path, dark):
    """No finding of any weight, all folded parts open."""
    with page_of(browser, dark=dark) as page:
        page.goto(read_plate + path)
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        found = Axe().run(page)
        assert [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found.response["violations"]] == []


def test_a_drawing_is_saved_as_drawing_picture_and_numbers(page, read_plate):
    """Reached by keys, named and described; the three files are what they say, and the page complains of nothing."""
    with complaints(page) as heard:
        page.goto(f"{read_plate}/plates/LOOK-P")
        drawing = page.locator("main svg.drawing").first
        drawing.focus()
        expect(drawing).to_be_focused()
        assert drawing.locator("title").text_content()
        assert drawing.locator("desc").text_content()
        page.keyboard.press("Tab")
        box = page.locator("details.save").first
        expect(box.locator("summary")).to_be_focused()
        page.keyboard.press("Enter")
        files = {}
        for kind in ("SVG", "PNG", "CSV"):
            with page.expect_download() as saved:
                box.get_by_role("button", name=kind).click()
            assert saved.value.suggested_filename.endswith(f".{kind.lower()}")
            files[kind] = Path(saved.value.path()).read_bytes()
        assert files["SVG"].startswith(b"<svg")
        assert files["PNG"].startswith(b"\x89PNG")
        assert files["CSV"].startswith(b"check,dome_um,place_mm,height_um\n")
    assert heard == []
