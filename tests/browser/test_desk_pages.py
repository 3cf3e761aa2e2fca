"""Rates, Kinematics, Prices, the map of a plate and what is on a station in a real browser, on every screen and paper."""

import math

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from lapwright.testing.browsing import SIZES, complaints, page_of

pytestmark = [pytest.mark.browser]

PLATE = {
    "plate_id": "DESK-P", "name": "glass, 300 mm", "ring_outer_radius": "65 mm", "least_offset": "85 mm",
    "most_offset": "112 mm", "offset": "105 mm", "dome_limit": "8 µm",
}  # fmt: skip
ADDRESSES = ("/rates", "/kinematics", "/prices", "/plates/DESK-P/map", "/stations/L1")


def heights():
    """A cap of 6 µm at sixteen places, in three columns."""
    places = [(r * math.cos(n * math.pi / 4), r * math.sin(n * math.pi / 4)) for r in (50.0, 140.0) for n in range(8)]
    return "\n".join(f"{x:.2f} {y:.2f} {6.0 * (1.0 - (x * x + y * y) / 150.0**2):.2f}" for x, y in places)


@pytest.fixture(scope="module")
def desk(browser, address):
    """A plate with heights pasted on its map, by keyboard."""
    with page_of(browser) as page:
        page.goto(f"{address}/plates")
        page.click("#new > summary")
        for name, value in PLATE.items():
            page.fill(f"[name='{name}']", value)
        page.click("#new button[type=submit]")
        page.wait_for_url("**/plates/DESK-P*")
        page.goto(f"{address}/plates/DESK-P/map")
        page.click("#new > summary")
        box = page.locator("[name=points]")
        expect(box).to_be_visible()
        box.fill(heights())
        page.get_by_role("button", name="Record the check").click()
        expect(page.locator("[role=status]").first).to_contain_text("recorded")
    return address


def test_the_map_is_drawn_and_can_be_taken_away(browser, desk):
    """Section and map stand on the page; the drawing comes as a file."""
    with page_of(browser) as page:
        page.goto(f"{desk}/plates/DESK-P/map")
        expect(page.locator("figure svg.drawing")).to_have_count(2)
        with page.expect_download() as told:
            page.get_by_role("link", name="Map as SVG").click()
        assert told.value.suggested_filename.endswith(".svg")


def test_a_setting_is_worked_out_and_a_price_recorded_by_keyboard(browser, desk):
    """Enter in a box sends the form; the answer stands in the address; a price makes a version."""
    with page_of(browser) as page:
        page.goto(f"{desk}/kinematics")
        box = page.locator("[name=jig_speed_rpm]")
        box.fill("50")
        expect(box).to_be_focused()
        page.keyboard.press("Enter")
        page.wait_for_url("**jig_speed_rpm=50*")
        expect(page.locator("main")).to_contain_text("This ratio repeats every turn of the plate")
        expect(page.locator(".pair svg.drawing")).to_have_count(2)
        page.goto(f"{desk}/prices")
        page.fill("[name=labour]", "81,5")
        why = page.locator("[name=reason]")
        why.fill("a test")
        expect(why).to_be_focused()
        page.keyboard.press("Enter")
        expect(page.locator("[role=status]").first).to_contain_text("of the prices is recorded")
        expect(page.locator("main")).to_contain_text("81.5")


@pytest.mark.parametrize("path", ADDRESSES)
def test_nothing_sticks_out_and_nothing_is_complained_of(browser, desk, path):
    """As wide as the screen on every one, one heading, no blocked style, no missing file; printed without navigation."""
    with page_of(browser) as page, complaints(page) as heard:
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            page.goto(desk + path)
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            assert page.locator("h1").count() == 1
        page.emulate_media(media="print")
        expect(page.locator("nav").first).to_be_hidden()
        assert heard == []


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_accessibility_engine_finds_nothing(browser, desk, dark):
    """No finding of any weight, all folded parts open."""
    with page_of(browser, dark=dark) as page:
        for path in ADDRESSES:
            page.goto(desk + path)
            page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
            found = Axe().run(page)
            assert [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found.response["violations"]] == [], path
