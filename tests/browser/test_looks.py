"""How every page stands on its three sizes, light and dark, on paper, and to an accessibility engine."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from lapwright.testing.browsing import SIZES, complaints, enter_order, open_set, page_of, type_value

pytestmark = [pytest.mark.browser]

#: page -> address, and whether it is used with wet gloves
PAGES = {
    "hands": ("/", True),
    "orders": ("/orders", False),
    "new order": ("/orders/new", False),
    "traveller": ("/orders/LOOK", False),
    "wafer": ("/orders/LOOK/wafers/LOOK-01", False),
    "readings": ("/orders/LOOK/readings", True),
    "set": ("/orders/LOOK/readings?wafer=LOOK-01", True),
    "route": ("/orders/LOOK/route", False),
    "stations": ("/stations", False),
    "countdown": ("/stations/L1", True),
    "who": ("/who", True),
    "fault": ("/nowhere", False),
}
#: 15 mm in CSS pixels of 1/96 inch
TARGET = 15.0 / 25.4 * 96.0


@pytest.fixture(scope="module")
def looked_at(browser, address):
    """An order with a set half taken."""
    with page_of(browser) as page:
        enter_order(page, address, "LOOK")
        open_set(page, address, "LOOK", "LOOK-01")
        for text, then in (("0", "Site C"), ("500.1", "Site A1"), ("500.4", "Site A2"), ("500.9", "Site A3")):
            type_value(page, text, then)
    return address


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("name", PAGES)
def test_nothing_sticks_out_sideways(browser, looked_at, name, size):
    """A page is as wide as the screen; only drawings and tables scroll, inside their own frames."""
    with page_of(browser, size=size) as page, complaints(page) as heard:
        page.goto(looked_at + PAGES[name][0])
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        if size[0] < 640:  # the head leaves the screen of a phone to the page, and shows where one is
            assert page.locator(".head").bounding_box()["height"] <= 100
            assert all(
                one.bounding_box()["x"] + one.bounding_box()["width"] <= size[0]
                for one in page.locator(".head [aria-current]").all()
            )
        assert [text for text in heard if "404" not in text] == []


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("name", PAGES)
def test_the_accessibility_engine_finds_nothing(browser, looked_at, name, dark):
    """No finding of any weight by axe-core, in light and dark."""
    with page_of(browser, dark=dark) as page:
        page.goto(looked_at + PAGES[name][0])
        found = Axe().run(page)
        assert [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found.response["violations"]] == []


@pytest.mark.parametrize("name", PAGES)
def test_one_heading_a_language_and_a_way_past_the_navigation(browser, looked_at, name):
    """Each page has one h1, says its language and its own title, and its first key stop skips to the content."""
    with page_of(browser) as page:
        page.goto(looked_at + PAGES[name][0])
        assert page.locator("h1").count() == 1
        assert page.get_attribute("html", "lang") == "en"
        assert page.title().endswith(" · Lapwright")
        page.evaluate("document.activeElement.blur()")
        skip = page.locator(".skip")
        skip.focus()
        assert skip.bounding_box()["y"] >= 0.0
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.id") == "main"


@pytest.mark.parametrize("name", [name for name, (_address, wet) in PAGES.items() if wet])
def test_wet_pages_have_targets_for_a_gloved_finger(browser, looked_at, name):
    """On a page used with gloves everything to press is at least 15 mm high."""
    with page_of(browser) as page:
        page.goto(looked_at + PAGES[name][0])
        pressable = page.locator("main .button, main select, main input:not([type=hidden]):not([type=checkbox])")
        small = [
            box
            for box in (one.bounding_box() for one in pressable.all() if one.is_visible())
            if box["height"] < TARGET - 0.5
        ]
        assert pressable.count() > 0 or name == "hands"
        assert small == []


def test_the_number_to_dial_in_is_read_across_the_room(browser, looked_at):
    """Digits on the first line of Hands are about 30 mm tall on a bench screen (0.72 of the letter size)."""
    with page_of(browser) as page:
        page.goto(looked_at)
        size = page.evaluate(
            """() => {
              const dial = document.createElement("span");
              dial.className = "dial";
              document.querySelector(".hands li a").append(dial);
              return parseFloat(getComputedStyle(dial).fontSize);
            }"""
        )
        assert 0.72 * size >= 29.0 / 25.4 * 96.0


@pytest.mark.parametrize("name", ["traveller", "wafer", "route"])
def test_paper_has_no_navigation_and_no_buttons(browser, looked_at, name):
    """Printed, the navigation and everything to press are gone, and the sheet is a PDF of its own."""
    with page_of(browser) as page:
        page.goto(looked_at + PAGES[name][0])
        page.emulate_media(media="print")
        assert not page.locator(".head").is_visible()
        assert not any(one.is_visible() for one in page.locator(".button").all())
        if name == "route":  # what is folded on the screen is told on paper
            folded = page.locator("details:not([open]):not(.save):not(.deed) > ul").first
            expect(folded).to_be_visible()
        assert page.pdf(format="A4").startswith(b"%PDF-")
