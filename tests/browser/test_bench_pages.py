"""Bond line, Tilt and Damage in a real browser: looked at on every screen, in the dark, on paper, by keyboard."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from lapwright.testing.browsing import SIZES, complaints, enter_order, page_of

pytestmark = [pytest.mark.browser]

ORDER = "W-BENCH"
AT = f"/orders/{ORDER}/wafers/{ORDER}-01"
PAGES = ("bond", "tilt", "damage")


@pytest.fixture(scope="module")
def bench(browser, address):
    """An order just received."""
    with page_of(browser) as page:
        enter_order(page, address, ORDER)
    return address


def test_a_test_turn_is_recorded_by_keyboard(browser, bench):
    """The page asks for one turn; the answer stays with the jig and can be turned round."""
    with page_of(browser) as page:
        page.goto(f"{bench}{AT}/tilt")
        expect(page.locator("main")).to_contain_text("Not known yet")
        nearer = page.get_by_role("button", name="It came nearer")
        nearer.focus()
        expect(nearer).to_be_focused()
        page.keyboard.press("Enter")
        expect(page.locator("[role=status]").first).to_contain_text("Recorded with jig")
        expect(page.locator("main")).to_contain_text("Clockwise brings the wafer nearer the plate")
        page.get_by_role("button", name="It went away").click()
        expect(page.locator("main")).to_contain_text("Clockwise takes the wafer away from the plate")


def test_the_wafer_leads_to_its_three_pages(browser, bench):
    """By links, and back."""
    with page_of(browser) as page:
        page.goto(f"{bench}{AT}")
        for name, heading in (("Bond line", "Bond line"), ("Tilt", "Tilt"), ("Damage", "Damage")):
            page.get_by_role("link", name=name, exact=True).click()
            expect(page.locator("h1")).to_contain_text(heading)
        page.get_by_role("link", name="Wafer", exact=True).click()
        expect(page.locator("h1")).to_contain_text(f"{ORDER}-01")


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("name", PAGES)
def test_nothing_sticks_out_and_nothing_is_complained_of(browser, bench, name, size):
    """As wide as the screen, no blocked style, no missing file, one heading."""
    with page_of(browser, size=size) as page, complaints(page) as heard:
        page.goto(f"{bench}{AT}/{name}")
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        assert page.locator("h1").count() == 1
        assert heard == []


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("name", PAGES)
def test_the_accessibility_engine_finds_nothing(browser, bench, name, dark):
    """No finding of any weight."""
    with page_of(browser, dark=dark) as page:
        page.goto(f"{bench}{AT}/{name}")
        found = Axe().run(page)
        assert [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found.response["violations"]] == []


@pytest.mark.parametrize("name", PAGES)
def test_paper_carries_no_buttons(browser, bench, name):
    """Printed without navigation and forms, to a page that is one."""
    with page_of(browser) as page:
        page.goto(f"{bench}{AT}/{name}")
        page.emulate_media(media="print")
        expect(page.locator("nav").first).to_be_hidden()
        assert page.pdf()[:5] == b"%PDF-"
